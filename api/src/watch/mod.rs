//! What the service tells of itself to whoever keeps it running, and what it keeps to.
//!
//! * [`meters`], [`numbers`]: what is counted, and `GET /metrics`.
//! * [`answered`]: what is counted and logged of each request.
//! * [`cut`]: texts of faults as they may stand in the log.
//! * [`machine`]: the memory and disks it stands on. [`token`]: the file that lets others read the numbers.
//!
//! Nothing here names a person, a club or an item.

pub mod answered;
pub mod cut;
pub mod machine;
pub mod meters;
pub mod numbers;
pub mod token;

use std::path::PathBuf;

use crate::db::conn::Place;
use crate::edge::lines::Limits;
use crate::photos::place::PhotoPlace;

pub use meters::Meters;

/// Bytes of Fleets held in memory, if nothing is said.
pub const FLEET_BYTES: u64 = 1 << 30;

/// What the service keeps to, and who may see its numbers.
#[derive(Clone, Debug)]
pub struct Upkeep {
    /// Bytes that the Fleets in memory may take, by estimate.
    pub fleet_bytes: u64,
    /// How long lines may do nothing, and how many there may be.
    pub lines: Limits,
    /// What lets others than this machine read `/metrics`.
    pub metrics_token: Option<String>,
}

impl Default for Upkeep {
    fn default() -> Self {
        Self { fleet_bytes: FLEET_BYTES, lines: Limits::default(), metrics_token: None }
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
        Self { upkeep, meters: Meters::new(started_s), database, folders }
    }
}
