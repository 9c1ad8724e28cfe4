//! `preen-server backup`, `restore` and `backup-key`, and the backups that `serve` makes.

use std::io::Write as _;
use std::process::ExitCode;

use actix_web::rt::Runtime;

use super::settings::{PHOTOS, Wrong};
use super::taken_in::{photo_place, take_in, tell, until};
use super::{Outcome, say};
use crate::backup::FOR_SERVERS;
use crate::backup::restore::{Target, restore as restore_backup};
use crate::backup::schedule::{Job, Running, Schedule, make_one, start};
use crate::backup::seal::{Key, Seal, new_keys};
use crate::config::{BackupArgs, BackupKeyArgs, RestoreArgs, SealArgs, ServeArgs};
use crate::db::conn::Place;
use crate::photos::store::Store;
use crate::state::Clock;
use crate::watch::meters::BackupMeters;

fn seal(args: &SealArgs) -> Result<Seal, crate::backup::BackupError> {
    Seal::from_files(args.recipient_file.as_deref(), args.passphrase_file.as_deref())
}

/// Makes one backup.
pub fn backup(args: &BackupArgs) -> Outcome {
    let records = Place::from_url(&args.database.database);
    if matches!(records, Place::Server(_)) {
        return Err(FOR_SERVERS.into());
    }
    let keep = args.keep.map(usize::from);
    let job = Job {
        seal: seal(&args.seal)?,
        photos: photo_place(args.photos.as_deref(), &records)?,
        records,
        folder: args.to.clone(),
        keep,
        clock: Clock::System,
    };
    let made = make_one(&job)?;
    let contents = &made.label.contents;
    say(&format!(
        "Made {} ({} bytes, SHA-256 {}).",
        made.file.display(),
        made.label.bytes,
        made.label.sha256
    ))?;
    for club in &contents.clubs {
        say(&format!(
            "{}: revision {}, head {}; its trail holds in the copy.",
            club.club, club.revision, club.head
        ))?;
    }
    if contents.pictures + contents.pictures_lost > 0 {
        say(&format!("{} pictures, {} were lost before.", contents.pictures, contents.pictures_lost))?;
    }
    if !made.label.is_sealed {
        say("It is not locked: --recipient-file or --passphrase-file lock it.")?;
    }
    for path in &made.rotated.removed {
        say(&format!("Removed {}, beyond the newest {}.", path.display(), keep.unwrap_or_default()))?;
    }
    for path in &made.rotated.damaged {
        say(&format!("{} is damaged or has no label; it was neither counted nor removed.", path.display()))?;
    }
    Ok(ExitCode::SUCCESS)
}

/// Has one again.
pub fn restore(args: &RestoreArgs) -> Outcome {
    let records = Place::from_url(&args.database.database);
    let key = Key::from_files(args.identity_file.as_deref(), args.passphrase_file.as_deref())?;
    let photos = photo_place(args.photos.as_deref(), &records)?;
    let (runtime, now, until) = (Runtime::new()?, Clock::System.now(), until(args.point));
    // Opened when something is to be kept: what is refused leaves no folder behind.
    let mut store: Option<Store> = None;
    let mut keep = |club: &str, digest: &_, which, bytes| {
        let place = match store.take() {
            Some(store) => store,
            None => Store::open(&photos)
                .map_err(|error| crate::photos::store::StoreFault::Unreachable(error.to_string()))?,
        };
        let kept = runtime.block_on(place.put(club, digest, which, bytes));
        store = Some(place);
        kept
    };
    let mut taken = Vec::new();
    let mut take = |archive: &std::path::Path, place: &Place| {
        let one = take_in(archive, place, &photos, until, now).map_err(|error| error.to_string())?;
        taken.push(one);
        Ok(())
    };
    let target = Target { records: &records, until, now };
    let restored = restore_backup(&args.from, &key, &target, &mut keep, &mut take)?;
    say(&format!("Restored {} into {}.", args.from.display(), Place::from_url(&args.database.database)))?;
    if !restored.has_label {
        say("No label stood beside it; what it says of itself inside fits.")?;
    }
    if taken.is_empty() {
        for club in &restored.contents.clubs {
            say(&format!("{}: revision {}, head {}; its trail holds.", club.club, club.revision, club.head))?;
        }
    }
    for (one, way_in) in &taken {
        tell(one, way_in)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// Makes a pair of keys.
pub fn new_key(args: &BackupKeyArgs) -> Outcome {
    let (secret, public) = new_keys();
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        options.mode(0o600);
    }
    let file = options.open(&args.file);
    let written = file.and_then(|mut file| file.write_all(secret.as_bytes()).and_then(|()| file.sync_all()));
    written.map_err(|error| format!("{}: {error}", args.file.display()))?;
    say(&format!(
        "The private key is in {}: whoever loses it loses every backup locked to it.",
        args.file.display()
    ))?;
    say(&public)?;
    Ok(ExitCode::SUCCESS)
}

/// The backups that the settings of the service ask for. Looked at before anything starts.
pub fn job(args: &ServeArgs, records: &Place) -> Result<Option<Job>, Wrong> {
    let Some(folder) = &args.backup_to else { return Ok(None) };
    let of_seal = "--recipient-file, --passphrase-file (PREEN_BACKUP_RECIPIENTS, PREEN_BACKUP_PASSPHRASE)";
    let photos = photo_place(args.photos.as_deref(), records);
    Ok(Some(Job {
        photos: photos.map_err(|error| Wrong::new(PHOTOS, error))?,
        records: records.clone(),
        folder: folder.clone(),
        seal: seal(&args.seal).map_err(|error| Wrong::new(of_seal, error))?,
        keep: Some(usize::from(args.backup_keep)),
        clock: Clock::System,
    }))
}

/// Starts them.
pub fn schedule(
    args: &ServeArgs,
    job: Option<Job>,
    meters: BackupMeters,
) -> Result<Option<Running>, Box<dyn std::error::Error>> {
    let Some(job) = job else { return Ok(None) };
    let schedule = Schedule { job, every: args.backup_every, meters };
    Ok(Some(start(schedule)?))
}
