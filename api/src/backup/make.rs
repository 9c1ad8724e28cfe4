//! Making a backup: a copy of one moment under a passing name, walked by its trail, packed with its pictures, and only
//! then given its own name. Whatever interrupts it leaves the backups that were there, and nothing that looks like one.

use std::fs::{self, File};
use std::io::{Read as _, Write};
use std::path::{Path, PathBuf};

use preen_domain::digest::Digest;
use preen_domain::time::Instant;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::label::{CONTENTS, ClubLabel, Contents, DATABASE, FORMAT, Label, Summing, beside, sha256_of};
use super::rotate::{Rotated, rotate};
use super::seal::Seal;
use super::{BackupError, FOR_SERVERS};
use crate::audit::verify::verify;
use crate::db::conn::{Db, OpenError, Place, open};
use crate::db::upgrade::upgrade;
use crate::photos::store::StoreFault;
use crate::resources::nouns::TABLES;
use crate::resources::photos::pictures;
use crate::resources::setup::store::list_clubs;

/// What folders of backups under way are called.
const PASSING: &str = ".making-";

/// A backup that was made.
#[derive(Clone, Debug)]
pub struct Made {
    /// Its file.
    pub file: PathBuf,
    /// What stands beside it.
    pub label: Label,
    /// What was thrown away after it.
    pub rotated: Rotated,
}

/// Reads a picture of a club.
pub type FetchOf<'a> = dyn FnMut(&str, &Digest) -> Result<Vec<u8>, StoreFault> + 'a;

/// Makes a backup in a folder, and throws away the oldest beyond so many.
pub fn make(
    records: &Place,
    folder: &Path,
    seal: &Seal,
    keep: Option<usize>,
    now: Instant,
    fetch: &mut FetchOf<'_>,
) -> Result<Made, BackupError> {
    let Place::File(database) = records else { return Err(BackupError::Records(FOR_SERVERS.to_owned())) };
    if !database.exists() {
        return Err(BackupError::records(OpenError::Missing(database.display().to_string())));
    }
    fs::create_dir_all(folder).map_err(BackupError::of(folder))?;
    let _lock = lock(folder)?;
    sweep(folder)?;
    let passing = folder.join(format!("{PASSING}{}", std::process::id()));
    fs::create_dir(&passing).map_err(BackupError::of(&passing))?;
    let made = make_in(&passing, records, folder, seal, now, fetch);
    // What went wrong before counts, not whether its rest could be swept.
    let _swept = fs::remove_dir_all(&passing);
    let (file, label) = made?;
    let rotated = match keep {
        Some(keep) => rotate(folder, keep, &file)?,
        None => Rotated::default(),
    };
    Ok(Made { file, label, rotated })
}

/// One at a time in a folder; the lock ends with the process, however that ends.
fn lock(folder: &Path) -> Result<File, BackupError> {
    let path = folder.join(".lock");
    let file = File::create(&path).map_err(BackupError::of(&path))?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(fs::TryLockError::WouldBlock) => Err(BackupError::Underway(folder.display().to_string())),
        Err(fs::TryLockError::Error(error)) => Err(BackupError::File(path.display().to_string(), error)),
    }
}

/// Takes away what was left by those that were interrupted; nobody else is at work here.
fn sweep(folder: &Path) -> Result<(), BackupError> {
    for entry in fs::read_dir(folder).map_err(BackupError::of(folder))?.flatten() {
        if entry.file_name().to_string_lossy().starts_with(PASSING) {
            fs::remove_dir_all(entry.path()).map_err(BackupError::of(&entry.path()))?;
        }
    }
    Ok(())
}

fn make_in(
    passing: &Path,
    records: &Place,
    folder: &Path,
    seal: &Seal,
    now: Instant,
    fetch: &mut FetchOf<'_>,
) -> Result<(PathBuf, Label), BackupError> {
    let copy = passing.join(DATABASE);
    open(records)
        .map_err(BackupError::records)?
        .copy_into(&copy)
        .map_err(|error| BackupError::Records(format!("the database could not be copied: {error}")))?;
    let (clubs, listed) = checked(&copy)?;
    let (database_sha256, database_bytes) = sha256_of(&copy).map_err(BackupError::of(&copy))?;
    let contents = Contents {
        format_number: FORMAT,
        made_at: now,
        clubs,
        database_sha256,
        database_bytes,
        pictures: 0,
        pictures_lost: 0,
    };
    let draft = passing.join("backup");
    let label = pack(&draft, &copy, contents, &listed, seal, fetch)?;
    // Read again from where it lies: what the disk gives back is what counts.
    let again = sha256_of(&draft).map_err(BackupError::of(&draft))?;
    if again != (label.sha256.clone(), label.bytes) {
        return Err(BackupError::Damaged("the disk gives back something else than was written".to_owned()));
    }
    let file = free_name(folder, &label);
    let text = serde_json::to_string_pretty(&label).map_err(BackupError::records)?;
    let beside = beside(&file);
    let beside_draft = passing.join("label");
    let mut out = File::create(&beside_draft).map_err(BackupError::of(&beside_draft))?;
    out.write_all(text.as_bytes()).and_then(|()| out.sync_all()).map_err(BackupError::of(&beside_draft))?;
    // The label first: a backup is never without one.
    fs::rename(&beside_draft, &beside).map_err(BackupError::of(&beside))?;
    fs::rename(&draft, &file).map_err(BackupError::of(&file))?;
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(BackupError::of(folder))?;
    Ok((file, label))
}

/// `preen-20260521T080000Z-r41.zip`; a second one of the same second and revision is `…-r41-2.zip`. Nobody else makes
/// names here meanwhile, as the folder is held.
fn free_name(folder: &Path, label: &Label) -> PathBuf {
    let at: String = label.contents.made_at.to_string().chars().filter(char::is_ascii_alphanumeric).collect();
    let second: String = at.chars().take(15).collect();
    let revision = label.contents.clubs.iter().map(|club| club.revision).max().unwrap_or(0);
    let end = if label.is_sealed { "zip.age" } else { "zip" };
    let mut file = folder.join(format!("preen-{second}Z-r{revision}.{end}"));
    let mut number = 1;
    while file.exists() {
        number += 1;
        file = folder.join(format!("preen-{second}Z-r{revision}-{number}.{end}"));
    }
    file
}

/// Pictures on the lists of the clubs.
type Listed = Vec<(String, Digest)>;

/// Opens a copy and walks its trails: the heads of its clubs, and the pictures on their lists.
pub fn checked(copy: &Path) -> Result<(Vec<ClubLabel>, Listed), BackupError> {
    let mut conn: Db = open(&Place::File(copy.to_owned())).map_err(BackupError::records)?;
    upgrade(&mut conn, TABLES).map_err(BackupError::records)?;
    let (mut clubs, mut listed) = (Vec::new(), Vec::new());
    for club in list_clubs(&mut conn).map_err(BackupError::records)? {
        let verdict = verify(&mut conn, TABLES, &club).map_err(BackupError::records)?;
        if let Some(found) = verdict.broken {
            return Err(BackupError::Records(format!(
                "the record of {club} does not hold at revision {} ({} {}): {}. Look with `preen-server verify`; \
                 earlier backups are untouched",
                found.revision, found.noun, found.fact_id, found.text
            )));
        }
        let digests = pictures::list_digests(&mut conn, &club).map_err(BackupError::records)?;
        listed.extend(digests.into_iter().map(|digest| (club.clone(), digest)));
        clubs.push(ClubLabel { club, revision: verdict.revision, head: verdict.head });
    }
    Ok((clubs, listed))
}

fn pack(
    draft: &Path,
    copy: &Path,
    mut contents: Contents,
    listed: &[(String, Digest)],
    seal: &Seal,
    fetch: &mut FetchOf<'_>,
) -> Result<Label, BackupError> {
    let unwritten = BackupError::of(draft);
    let zipped = |error: zip::result::ZipError| BackupError::of(draft)(std::io::Error::from(error));
    let out = Summing::new(File::create(draft).map_err(&unwritten)?);
    let mut zip = ZipWriter::new_stream(seal.over(out).map_err(&unwritten)?);
    let packed =
        SimpleFileOptions::default().compression_method(CompressionMethod::Deflated).large_file(true);
    zip.start_file(DATABASE, packed).map_err(zipped)?;
    let mut database = File::open(copy).map_err(BackupError::of(copy))?;
    let mut piece = vec![0_u8; 1 << 16];
    loop {
        let length = database.read(&mut piece).map_err(BackupError::of(copy))?;
        if length == 0 {
            break;
        }
        zip.write_all(piece.get(..length).unwrap_or_default()).map_err(&unwritten)?;
    }
    let as_it_is = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for (club, digest) in listed {
        match fetch(club, digest) {
            Ok(bytes) => {
                zip.start_file(picture_name(club, digest), as_it_is).map_err(zipped)?;
                zip.write_all(&bytes).map_err(&unwritten)?;
                contents.pictures += 1;
            }
            Err(StoreFault::Lost(_)) => contents.pictures_lost += 1,
            Err(other) => return Err(BackupError::records(other)),
        }
    }
    zip.start_file(CONTENTS, packed).map_err(zipped)?;
    serde_json::to_writer_pretty(&mut zip, &contents).map_err(BackupError::records)?;
    let sealed = zip.finish().map_err(zipped)?.into_inner();
    let (file, sha256, bytes) = sealed.end().map_err(&unwritten)?.end();
    file.sync_all().map_err(&unwritten)?;
    Ok(Label { sha256, bytes, is_sealed: seal.is_closed(), contents })
}

/// The name of a picture inside a backup.
#[must_use]
pub fn picture_name(club: &str, digest: &Digest) -> String {
    format!("photos/{club}/{digest}.jpg")
}

/// The digest that [`picture_name`] was made of.
#[must_use]
pub fn picture_of(name: &str) -> Option<(String, Digest)> {
    let (club, digest) = name.strip_prefix("photos/")?.strip_suffix(".jpg")?.split_once('/')?;
    crate::access::tokens::is_club_name(club).then_some(())?;
    Some((club.to_owned(), digest.parse().ok()?))
}
