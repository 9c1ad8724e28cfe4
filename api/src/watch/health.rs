//! Whether the service runs (`/health/live`), and whether it is of use just now (`/health/ready`).
//!
//! Live is said without looking at anything. Ready is looked at each time, within a time limit: the database answers, its
//! tables are the ones that this program knows, there is room on its disks, and it has not been told to stop.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use actix_web::rt::time::timeout;
use actix_web::{HttpResponse, get, web};
use serde::Serialize;
use utoipa::ToSchema;

use super::machine::room_at;
use crate::db::conn::OpenError;
use crate::db::door::DoorError;
use crate::db::migrate;
use crate::problem::Problem;
use crate::state::Shared;

/// How long database and disks have to answer.
const PATIENCE: Duration = Duration::from_secs(3);

/// Why the service is of no use just now. A balancer sends nobody here; a person reads what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unready {
    /// It is bringing tables up to date, or reading what it needs.
    Starting,
    /// It was told to stop.
    Stopping,
    /// Another process has brought the tables further than this program knows.
    TablesNewer,
    /// The tables are not up to date any more.
    TablesOlder,
    /// A disk is nearly full; what is kept there.
    DiskNearlyFull(&'static str),
    /// A disk or the database does not answer in time.
    Silent(&'static str),
}

impl Unready {
    /// Stable code for programs.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Starting => "starting",
            Self::Stopping => "stopping",
            Self::TablesNewer => "tables_newer",
            Self::TablesOlder => "tables_older",
            Self::DiskNearlyFull(_) => "disk_nearly_full",
            Self::Silent(_) => "silent",
        }
    }

    /// One sentence on it, and what to do.
    #[must_use]
    pub fn text(&self) -> String {
        match self {
            Self::Starting => "The service is starting and brings its tables up to date. Ask again soon.".to_owned(),
            Self::Stopping => "The service was told to stop. Ask again when it is back.".to_owned(),
            Self::TablesNewer => {
                "A newer version has brought the tables further than this one knows. Stop this one and start the newer."
                    .to_owned()
            }
            Self::TablesOlder => {
                "The tables are not up to date. Start the service anew, or run `preen-server migrate up`.".to_owned()
            }
            Self::DiskNearlyFull(place) => {
                format!("The disk that holds the {place} is nearly full. Make room, or move them to a larger one.")
            }
            Self::Silent(what) => format!("The {what} did not answer in time. See that it runs and can be reached."),
        }
    }
}

/// Whether the service runs, and at what.
#[derive(Serialize, ToSchema)]
pub struct Health {
    /// `live` or `ready`.
    pub status: String,
    /// Version of the service.
    pub version: String,
}

impl Health {
    /// Of this program.
    #[must_use]
    pub fn of(status: &str) -> Self {
        Self { status: status.to_owned(), version: env!("CARGO_PKG_VERSION").to_owned() }
    }
}

/// Says that the process runs. It looks at nothing else.
#[utoipa::path(
    tag = "health",
    operation_id = "check_live",
    security(()),
    responses((status = 200, description = "It runs.", body = Health))
)]
#[get("/health/live")]
pub async fn live() -> HttpResponse {
    HttpResponse::Ok().json(Health::of("live"))
}

/// Says whether the service is of use: its database answers, its tables are up to date, its disks have room, and it
/// was not told to stop. If not, `code` says why: `starting`, `stopping`, `tables_newer`, `tables_older`,
/// `disk_nearly_full` or `silent`.
#[utoipa::path(
    tag = "health",
    operation_id = "check_ready",
    security(()),
    responses((status = 200, description = "It is ready.", body = Health))
)]
#[get("/health/ready")]
pub async fn ready(state: Shared) -> Result<HttpResponse, Problem> {
    if state.watch.is_stopping() {
        return Err(Problem::NotReady(Unready::Stopping));
    }
    look_at_disks(&state).await?;
    look_at_tables(&state).await?;
    Ok(HttpResponse::Ok().json(Health::of("ready")))
}

/// One look at something at a time: one that hangs must not gather threads, one for each time it is asked.
struct Look(Arc<AtomicBool>);

impl Look {
    fn begin(at: &Arc<AtomicBool>) -> Option<Self> {
        let is_free = at.compare_exchange(false, true, Ordering::AcqRel, Ordering::Acquire).is_ok();
        is_free.then(|| Self(Arc::clone(at)))
    }
}

impl Drop for Look {
    fn drop(&mut self) {
        self.0.store(false, Ordering::Release);
    }
}

/// What is being looked at just now.
#[derive(Debug, Default)]
pub struct Looks {
    disks: Arc<AtomicBool>,
    database: Arc<AtomicBool>,
}

async fn look_at_disks(state: &Shared) -> Result<(), Problem> {
    let silent = || Problem::NotReady(Unready::Silent("disk"));
    let look = Look::begin(&state.watch.looks.disks).ok_or_else(silent)?;
    let (folders, least) = (state.watch.folders.clone(), state.watch.upkeep.min_free_bytes);
    let looked = web::block(move || {
        let _look = look;
        let short = |folder: &std::path::Path| room_at(folder).is_ok_and(|room| room.free < least);
        folders.into_iter().find_map(|(place, folder)| short(&folder).then_some(place))
    });
    match timeout(PATIENCE, looked).await {
        Err(_late) => Err(silent()),
        Ok(Err(error)) => Err(Problem::Internal(error.to_string())),
        Ok(Ok(Some(place))) => Err(Problem::NotReady(Unready::DiskNearlyFull(place))),
        Ok(Ok(None)) => Ok(()),
    }
}

async fn look_at_tables(state: &Shared) -> Result<(), Problem> {
    let silent = || Problem::NotReady(Unready::Silent("database"));
    let look = Look::begin(&state.watch.looks.database).ok_or_else(silent)?;
    let looked = state.door.read(move |_, conn| {
        let _look = look;
        Ok::<_, DoorError>(migrate::told(conn))
    });
    let told = timeout(PATIENCE, looked).await.map_err(|_late| silent())?;
    match told {
        Ok(Ok(standing)) if standing.pending.is_empty() => Ok(()),
        Ok(Ok(_)) => Err(Problem::NotReady(Unready::TablesOlder)),
        Ok(Err(OpenError::TooNew(_))) => Err(Problem::NotReady(Unready::TablesNewer)),
        Ok(Err(_)) | Err(_) => Err(silent()),
    }
}
