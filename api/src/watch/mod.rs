//! What the service tells of itself to whoever keeps it running, and what it keeps to.
//!
//! * [`meters`], [`numbers`]: what is counted, and `GET /metrics`.
//! * [`answered`]: what is counted and logged of each request.
//! * [`health`]: whether it runs and is of use. [`waiting`]: who answers until it is there. [`stop`]: how it ends.
//! * [`cut`]: texts of faults as they may stand in the log.
//! * [`machine`]: the memory and disks it stands on. [`token`]: the file that lets others read the numbers.
//!
//! Nothing here names a person, a club or an item.

pub mod answered;
pub mod cut;
pub mod health;
pub mod machine;
pub mod meters;
pub mod numbers;
pub mod stop;
pub mod token;
pub mod waiting;

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::db::conn::Place;
use crate::edge::lines::Limits;
use crate::photos::place::PhotoPlace;

pub use meters::Meters;

/// Bytes of Fleets held in memory, if nothing is said.
pub const FLEET_BYTES: u64 = 1 << 30;

/// Bytes that are to be free on its disks, if nothing is said.
pub const MIN_FREE_BYTES: u64 = 256 << 20;

/// What the service keeps to, and who may see its numbers.
#[derive(Clone, Debug)]
pub struct Upkeep {
    /// Bytes that the Fleets in memory may take, by estimate.
    pub fleet_bytes: u64,
    /// Bytes on its disks below which it is not ready.
    pub min_free_bytes: u64,
    /// Whether SIGTERM and SIGINT are for it.
    pub takes_signals: bool,
    /// How long lines may do nothing, and how many there may be.
    pub lines: Limits,
    /// What lets others than this machine read `/metrics`.
    pub metrics_token: Option<String>,
    /// Changes that share one COMMIT at most; absent: as many as the database takes well.
    pub changes_a_commit: Option<usize>,
}

impl Default for Upkeep {
    fn default() -> Self {
        Self {
            fleet_bytes: FLEET_BYTES,
            min_free_bytes: MIN_FREE_BYTES,
            takes_signals: false,
            lines: Limits::default(),
            metrics_token: None,
            changes_a_commit: None,
        }
    }
}

/// What is watched of one running service.
pub struct Watch {
    /// What it keeps to.
    pub upkeep: Upkeep,
    /// What it counts.
    pub meters: Meters,
    /// `sqlite` or `postgresql`.
    pub database: &'static str,
    /// Folders on disks of this machine, by what is kept there.
    pub folders: Vec<(&'static str, PathBuf)>,
    /// What is being looked at just now.
    pub looks: health::Looks,
    is_stopping: AtomicBool,
}

impl Watch {
    /// Of a service with records and photos at these places.
    #[must_use]
    pub fn new(upkeep: Upkeep, records: &Place, photos: &PhotoPlace, started_s: i64) -> Self {
        let mut folders = Vec::new();
        let database = match records {
            Place::File(file) => {
                let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty());
                folders.push(("records", folder.map_or_else(|| PathBuf::from("."), ToOwned::to_owned)));
                "sqlite"
            }
            Place::Server(_) => "postgresql",
        };
        if let PhotoPlace::Folder(folder) = photos {
            folders.push(("photos", folder.clone()));
        }
        Self {
            upkeep,
            meters: Meters::new(started_s),
            database,
            folders,
            looks: health::Looks::default(),
            is_stopping: AtomicBool::new(false),
        }
    }

    /// It was told to stop.
    pub fn stop(&self) {
        self.is_stopping.store(true, Ordering::Release);
    }

    /// Whether it was told to stop.
    pub fn is_stopping(&self) -> bool {
        self.is_stopping.load(Ordering::Acquire)
    }
}
