//! Backups made inside the service, again and again. What became of each stands in the log.

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use preen_domain::time::Instant;

use super::make::{Made, make};
use super::rotate::list;
use super::seal::Seal;
use super::{BackupError, FOR_SERVERS};
use crate::db::conn::Place;
use crate::photos::place::{PhotoPlace, PlaceError};
use crate::photos::store::{Store, Which};
use crate::state::Clock;
use crate::watch::cut::cut;
use crate::watch::meters::BackupMeters;

/// A backup that is to be made, and where to.
pub struct Job {
    /// The records.
    pub records: Place,
    /// The pictures.
    pub photos: PhotoPlace,
    /// Where backups go.
    pub folder: PathBuf,
    /// How they are locked.
    pub seal: Seal,
    /// How many are kept; all if nothing is said.
    pub keep: Option<usize>,
    /// What time it is.
    pub clock: Clock,
}

/// What is made, and how often.
pub struct Schedule {
    /// What.
    pub job: Job,
    /// How often.
    pub every: Duration,
    /// Where it is counted what became of them.
    pub meters: BackupMeters,
}

/// A schedule that runs; it ends with this.
pub struct Running {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Running {
    /// Leaves it to itself, at the end of the process: nobody waits for a backup under way.
    pub fn leave(mut self) {
        drop(self.stop.take());
        drop(self.thread.take());
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            // It logs by itself what went wrong.
            let _ended = thread.join();
        }
    }
}

/// Makes one backup.
pub fn make_one(job: &Job) -> Result<Made, BackupError> {
    let unusable = |error: PlaceError| BackupError::records(error);
    let store = Store::open(&job.photos).map_err(unusable)?;
    let runtime = actix_web::rt::Runtime::new().map_err(BackupError::of(&job.folder))?;
    let mut fetch = |club: &str, digest: &_| runtime.block_on(store.get(club, digest, Which::Whole));
    make(&job.records, &job.folder, &job.seal, job.keep, job.clock.now(), &mut fetch)
}

/// Starts a schedule. The first backup is made when the newest in the folder is old enough, at once if there is none.
pub fn start(schedule: Schedule) -> Result<Running, BackupError> {
    if matches!(schedule.job.records, Place::Server(_)) {
        return Err(BackupError::Records(FOR_SERVERS.to_owned()));
    }
    let (stop, stopped) = channel();
    let thread = std::thread::Builder::new()
        .name("preen-backup".to_owned())
        .spawn(move || run(&schedule, &stopped))
        .map_err(|error| BackupError::File("a thread for backups".to_owned(), error))?;
    Ok(Running { stop: Some(stop), thread: Some(thread) })
}

fn run(schedule: &Schedule, stopped: &Receiver<()>) {
    let mut wait = until_due(schedule);
    loop {
        match stopped.recv_timeout(wait) {
            Err(RecvTimeoutError::Timeout) => {}
            Ok(()) | Err(RecvTimeoutError::Disconnected) => return,
        }
        match make_one(&schedule.job) {
            Ok(made) => {
                schedule.meters.made(seconds(schedule.job.clock.now()));
                tracing::info!(
                    file = %made.file.display(),
                    bytes = made.label.bytes,
                    removed = made.rotated.removed.len(),
                    damaged = made.rotated.damaged.len(),
                    "a backup was made"
                );
            }
            Err(error) => {
                schedule.meters.failed();
                let error = cut(&error.to_string());
                tracing::error!(error, folder = %schedule.job.folder.display(), "no backup was made");
            }
        }
        wait = schedule.every;
    }
}

fn seconds(at: Instant) -> i64 {
    at.micros().div_euclid(1_000_000)
}

fn until_due(schedule: &Schedule) -> Duration {
    let newest = list(&schedule.job.folder).ok().and_then(|(good, _)| good.last().map(|(_, at)| *at));
    let Some(newest) = newest else { return Duration::ZERO };
    schedule.meters.found(seconds(newest));
    let age = schedule.job.clock.now().seconds_since(newest);
    schedule.every.saturating_sub(Duration::from_secs(u64::try_from(age).unwrap_or(0)))
}
