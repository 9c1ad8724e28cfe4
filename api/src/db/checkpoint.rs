//! Puts what the write-ahead log of an embedded database holds into its file, beside the writer and not in its time: at
//! thousands of changes a second the writer spent a third of it so, and those who waited then waited ten times as long.
//!
//! The writer still does it itself where the log has become very long ([`super::conn::open_to_write`]): only it can begin
//! the log anew, and by then little is left to be put into the file.

use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use super::conn::{Db, OpenError, Place, open};
use super::fault::DoorError;
use crate::watch::cut::cut;

/// So many changes are put into the file at once, or what there is after this time.
const CHANGES: usize = 400;
const WAITS: Duration = Duration::from_secs(10);

#[derive(Default)]
struct Standing {
    changes: usize,
    is_closed: bool,
}

#[derive(Default)]
struct Bell {
    standing: Mutex<Standing>,
    rung: Condvar,
}

/// The thread that does it.
pub(super) struct Checkpoints {
    bell: Arc<Bell>,
    thread: Option<JoinHandle<()>>,
}

impl Checkpoints {
    /// Starts it on a connection of its own.
    pub(super) fn start(place: &Place) -> Result<Self, OpenError> {
        let bell = Arc::new(Bell::default());
        let (place, heard) = (place.clone(), Arc::clone(&bell));
        let thread = std::thread::Builder::new()
            .name("checkpoints".to_owned())
            .spawn(move || run(&place, &heard))
            .map_err(|error| OpenError::Other(error.to_string()))?;
        Ok(Self { bell, thread: Some(thread) })
    }

    /// Says that changes were committed.
    pub(super) fn committed(&self, changes: usize) {
        let mut standing = self.bell.standing.lock().unwrap_or_else(PoisonError::into_inner);
        let before = standing.changes;
        standing.changes += changes;
        if before == 0 || (before < CHANGES && standing.changes >= CHANGES) {
            self.bell.rung.notify_one();
        }
    }
}

impl Drop for Checkpoints {
    fn drop(&mut self) {
        self.bell.standing.lock().unwrap_or_else(PoisonError::into_inner).is_closed = true;
        self.bell.rung.notify_one();
        if self.thread.take().is_some_and(|thread| thread.join().is_err()) {
            tracing::error!("the thread of checkpoints had ended by a panic");
        }
    }
}

impl Bell {
    /// Waits until there is enough to do; `false` once nothing more will come.
    fn wait(&self) -> bool {
        let standing = self.standing.lock().unwrap_or_else(PoisonError::into_inner);
        let is_idle = |standing: &mut Standing| standing.changes == 0 && !standing.is_closed;
        let standing = self.rung.wait_while(standing, is_idle).unwrap_or_else(PoisonError::into_inner);
        let is_little = |standing: &mut Standing| standing.changes < CHANGES && !standing.is_closed;
        let waited = self.rung.wait_timeout_while(standing, WAITS, is_little);
        let (mut standing, _) = waited.unwrap_or_else(PoisonError::into_inner);
        standing.changes = 0;
        !standing.is_closed
    }
}

fn run(place: &Place, bell: &Bell) {
    let mut conn: Option<Db> = None;
    while bell.wait() {
        if let Err(error) = put_into_file(place, &mut conn) {
            // Nothing is lost: it stays in the log, and the next turn or the writer tries again.
            tracing::warn!(error = cut(&error.to_string()), "the log was not put into the file");
            conn = None;
        }
    }
}

fn put_into_file(place: &Place, conn: &mut Option<Db>) -> Result<(), DoorError> {
    let open = match conn.take() {
        Some(conn) => conn,
        None => open(place)?,
    };
    conn.insert(open).put_log_into_file().map_err(DoorError::from)
}
