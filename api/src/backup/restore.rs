//! Having a backup again: digests first, then the lock, then the trails; and only what holds gets its name, where
//! nothing is. Up to a point by way of the archive and the one loader.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, BufReader, Read, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

use preen_domain::digest::Digest;
use preen_domain::time::Instant;
use zip::ZipArchive;

use super::BackupError;
use super::label::{CONTENTS, ClubLabel, Contents, DATABASE, FORMAT, Label, Summing, sha256_of};
use super::make::{checked, picture_name, picture_of};
use super::seal::Key;
use crate::audit::rebuild::Until;
use crate::db::conn::{Place, open};
use crate::photos::picture::{is_of, thumbnail_of};
use crate::photos::store::{StoreFault, Which};
use crate::resources::archive::pack::pack;

/// Bytes that a picture has at most.
const MOST_PICTURE: u64 = 10 << 20;
/// Bytes of what a backup says of itself at most.
const MOST_CONTENTS: u64 = 1 << 20;

/// Keeps a picture.
pub type Keep<'a> = dyn FnMut(&str, &Digest, Which, Vec<u8>) -> Result<(), StoreFault> + 'a;
/// Takes in the archive of a club, up to the point that is wanted, into a database.
pub type TakeIn<'a> = dyn FnMut(&Path, &Place) -> Result<(), String> + 'a;

/// What was had again.
#[derive(Clone, Debug)]
pub struct Restored {
    /// What the backup held.
    pub contents: Contents,
    /// Whether a label stood beside it, whose digest fits.
    pub has_label: bool,
}

/// Where a backup goes and how far.
pub struct Target<'a> {
    /// Where the records go.
    pub records: &'a Place,
    /// How far.
    pub until: Until,
    /// The time.
    pub now: Instant,
}

/// Restores a backup.
pub fn restore(
    backup: &Path,
    key: &Key,
    target: &Target<'_>,
    keep: &mut Keep<'_>,
    take_in: &mut TakeIn<'_>,
) -> Result<Restored, BackupError> {
    let folder = match target.records {
        Place::File(path) => {
            refuse_if_there(path)?;
            path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new(".")).to_owned()
        }
        Place::Server(_) => std::env::temp_dir(),
    };
    let has_label = check_label(backup)?;
    fs::create_dir_all(&folder).map_err(BackupError::of(&folder))?;
    let passing = folder.join(format!(".restoring-{}", std::process::id()));
    fs::create_dir(&passing).map_err(BackupError::of(&passing))?;
    let contents = restore_in(&passing, backup, key, target, keep, take_in);
    let _swept = fs::remove_dir_all(&passing);
    Ok(Restored { contents: contents?, has_label })
}

fn refuse_if_there(path: &Path) -> Result<(), BackupError> {
    for end in ["", "-wal", "-shm", "-journal"] {
        let mut name = path.as_os_str().to_owned();
        name.push(end);
        let path = PathBuf::from(name);
        if path.exists() {
            return Err(BackupError::Exists(path.display().to_string()));
        }
    }
    Ok(())
}

fn check_label(backup: &Path) -> Result<bool, BackupError> {
    let label = Label::read(backup).map_err(BackupError::of(backup))?;
    let found = sha256_of(backup).map_err(BackupError::of(backup))?;
    match label {
        Some(label) if (label.sha256.clone(), label.bytes) != found => Err(BackupError::Damaged(format!(
            "{} is not the file that was written: it has {} bytes of {}, and SHA-256 {} instead of {}",
            backup.display(),
            found.1,
            label.bytes,
            found.0,
            label.sha256
        ))),
        Some(_) => Ok(true),
        None => Ok(false),
    }
}

type Opened = ZipArchive<BufReader<File>>;

fn restore_in(
    passing: &Path,
    backup: &Path,
    key: &Key,
    target: &Target<'_>,
    keep: &mut Keep<'_>,
    take_in: &mut TakeIn<'_>,
) -> Result<Contents, BackupError> {
    let mut zip = unlocked(passing, backup, key)?;
    let contents = contents_of(&mut zip)?;
    let copy = passing.join(DATABASE);
    extract(&mut zip, &copy, &contents)?;
    let (clubs, _) = checked(&copy)?;
    if clubs != contents.clubs {
        return Err(BackupError::Damaged("the records in it are not those that it names".to_owned()));
    }
    match (target.until, target.records) {
        (Until::Newest, Place::File(path)) => {
            keep_pictures(&mut zip, keep)?;
            put(&copy, path)?;
        }
        (_, Place::File(path)) => {
            let fresh = passing.join("to-a-point.db");
            by_archives(passing, &copy, &clubs, &mut zip, target, &Place::File(fresh.clone()), take_in)?;
            put(&fresh, path)?;
        }
        (_, server @ Place::Server(_)) => {
            by_archives(passing, &copy, &clubs, &mut zip, target, server, take_in)?;
        }
    }
    Ok(contents)
}

/// The backup as a file that can be read from anywhere.
fn unlocked(passing: &Path, backup: &Path, key: &Key) -> Result<Opened, BackupError> {
    let mut file = File::open(backup).map_err(BackupError::of(backup))?;
    let mut begin = [0_u8; 3];
    let is_closed = file.read_exact(&mut begin).is_ok() && &begin == b"age";
    file.seek(SeekFrom::Start(0)).map_err(BackupError::of(backup))?;
    if is_closed {
        let path = passing.join("unlocked");
        let mut out = File::create(&path).map_err(BackupError::of(&path))?;
        let mut from = key.open(BufReader::new(file))?;
        io::copy(&mut from, &mut out)
            .map_err(|error| BackupError::Damaged(format!("the backup does not open to its end: {error}")))?;
        file = File::open(&path).map_err(BackupError::of(&path))?;
    }
    ZipArchive::new(BufReader::new(file)).map_err(damaged)
}

fn damaged(error: impl std::fmt::Display) -> BackupError {
    BackupError::Damaged(format!("the backup is damaged: {error}"))
}

fn contents_of(zip: &mut Opened) -> Result<Contents, BackupError> {
    let mut text = Vec::new();
    zip.by_name(CONTENTS).map_err(damaged)?.take(MOST_CONTENTS).read_to_end(&mut text).map_err(damaged)?;
    let contents: Contents = serde_json::from_slice(&text).map_err(damaged)?;
    if contents.format_number > FORMAT {
        let text = format!("the backup has format {}: use a newer preen-server", contents.format_number);
        return Err(BackupError::Damaged(text));
    }
    Ok(contents)
}

fn extract(zip: &mut Opened, copy: &Path, contents: &Contents) -> Result<(), BackupError> {
    let mut out = Summing::new(File::create(copy).map_err(BackupError::of(copy))?);
    let mut from = zip.by_name(DATABASE).map_err(damaged)?.take(contents.database_bytes + 1);
    let mut piece = vec![0_u8; 1 << 16];
    loop {
        let length = from.read(&mut piece).map_err(damaged)?;
        if length == 0 {
            break;
        }
        out.write_all(piece.get(..length).unwrap_or_default()).map_err(BackupError::of(copy))?;
    }
    let (file, sha256, bytes) = out.end();
    file.sync_all().map_err(BackupError::of(copy))?;
    if (&sha256, bytes) != (&contents.database_sha256, contents.database_bytes) {
        return Err(BackupError::Damaged(
            "the database in the backup is not the one that was packed".to_owned(),
        ));
    }
    Ok(())
}

fn picture(zip: &mut Opened, name: &str, digest: &Digest) -> Result<Option<Vec<u8>>, BackupError> {
    let file = match zip.by_name(name) {
        Err(zip::result::ZipError::FileNotFound) => return Ok(None),
        file => file.map_err(damaged)?,
    };
    let mut bytes = Vec::new();
    file.take(MOST_PICTURE + 1).read_to_end(&mut bytes).map_err(damaged)?;
    if !is_of(&bytes, digest) {
        return Err(BackupError::Damaged(format!("{name} is another picture than it should be")));
    }
    Ok(Some(bytes))
}

/// Pictures are named by their content, so that putting one where it is already changes nothing.
fn keep_pictures(zip: &mut Opened, keep: &mut Keep<'_>) -> Result<(), BackupError> {
    let names: Result<Vec<String>, _> =
        zip.file_names().map(|name| name.map(std::borrow::Cow::into_owned)).collect();
    for name in names.map_err(damaged)? {
        let Some((club, digest)) = picture_of(&name) else { continue };
        let Some(whole) = picture(zip, &name, &digest)? else { continue };
        let small = thumbnail_of(&whole).map_err(damaged)?;
        keep(&club, &digest, Which::Thumbnail, small).map_err(BackupError::records)?;
        keep(&club, &digest, Which::Whole, whole).map_err(BackupError::records)?;
    }
    Ok(())
}

/// Gives a database its name, where nothing may have come meanwhile.
fn put(copy: &Path, path: &Path) -> Result<(), BackupError> {
    // Unlike renaming, this never writes over anything.
    fs::hard_link(copy, path).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => BackupError::Exists(path.display().to_string()),
        _ => BackupError::of(path)(error),
    })?;
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(BackupError::of(folder))
}

/// Packs each club anew and takes it in up to the point.
fn by_archives(
    passing: &Path,
    copy: &Path,
    clubs: &[ClubLabel],
    zip: &mut Opened,
    target: &Target<'_>,
    into: &Place,
    take_in: &mut TakeIn<'_>,
) -> Result<(), BackupError> {
    let mut conn = open(&Place::File(copy.to_owned())).map_err(BackupError::records)?;
    let mut archives: BTreeMap<String, PathBuf> = BTreeMap::new();
    for ClubLabel { club, .. } in clubs {
        let path = passing.join(format!("{club}.zip"));
        let out = File::create(&path).map_err(BackupError::of(&path))?;
        let mut fetch = |digest: &Digest| {
            let found = picture(zip, &picture_name(club, digest), digest);
            let lost = || StoreFault::Lost(digest.to_string());
            found.map_err(|error| StoreFault::Unreachable(error.to_string()))?.ok_or_else(lost)
        };
        pack(&mut conn, club, out, target.now, &mut fetch).map_err(BackupError::records)?;
        archives.insert(club.clone(), path);
    }
    for (club, path) in &archives {
        take_in(path, into).map_err(|error| BackupError::Records(format!("{club}: {error}")))?;
    }
    Ok(())
}
