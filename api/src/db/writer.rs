//! The threads that write, and the queue before them.
//!
//! Embedded SQLite has one writer; it takes whatever waits into one transaction, a savepoint for each change,
//! so that many small changes share one COMMIT. PostgreSQL has several writers with one transaction a change;
//! the club's row is the lock between them. Each change learns of its own success only after COMMIT.

use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

use super::conn::{Db, OpenError, Place, open};
use super::door::DoorError;
use super::fleet::{Held, Shelf};

/// What a change does once it is known whether COMMIT succeeded.
pub type Finish = Box<dyn FnOnce(Result<(), DoorError>) + Send>;

/// A change waiting for a writer.
pub type Job = Box<dyn FnOnce(&mut Db, &mut Batch) -> Finish + Send>;

/// The Fleets as the changes of the running transaction have left them.
#[derive(Default)]
pub struct Batch {
    /// By club.
    pub working: HashMap<String, Held>,
}

/// Changes waiting at most; one more is turned away with "busy".
const QUEUE: usize = 1024;
/// Changes in one transaction at most.
const GROUP: usize = 128;
/// Writers on PostgreSQL.
const SERVER_WRITERS: usize = 4;

/// The writers and their queue.
pub struct Writers {
    queue: Mutex<Option<SyncSender<Job>>>,
    threads: Mutex<Vec<JoinHandle<()>>>,
}

impl Writers {
    /// Starts the writers of a database.
    pub fn start(place: &Place, shelf: &Arc<Shelf>) -> Result<Self, OpenError> {
        let (sender, receiver) = sync_channel(QUEUE);
        let receiver = Arc::new(Mutex::new(receiver));
        let (writers, group) = match place {
            Place::File(_) => (1, GROUP),
            Place::Server(_) => (SERVER_WRITERS, 1),
        };
        let mut threads = Vec::with_capacity(writers);
        for number in 0..writers {
            let writer = Writer {
                place: place.clone(),
                conn: Some(open(place)?),
                shelf: Arc::clone(shelf),
                waiting: Arc::clone(&receiver),
                group,
            };
            let thread = std::thread::Builder::new()
                .name(format!("writer-{number}"))
                .spawn(move || writer.run())
                .map_err(|error| OpenError::Other(error.to_string()))?;
            threads.push(thread);
        }
        Ok(Self { queue: Mutex::new(Some(sender)), threads: Mutex::new(threads) })
    }

    /// Queues a change, or says at once that too many wait.
    pub fn submit(&self, job: Job) -> Result<(), DoorError> {
        let queue = self.queue.lock().unwrap_or_else(PoisonError::into_inner);
        match queue.as_ref().map(|sender| sender.try_send(job)) {
            Some(Ok(())) => Ok(()),
            Some(Err(TrySendError::Full(_) | TrySendError::Disconnected(_))) | None => Err(DoorError::Busy),
        }
    }

    /// Takes no more changes, finishes those that wait, and ends the threads.
    pub fn stop(&self) {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner).take();
        let threads = std::mem::take(&mut *self.threads.lock().unwrap_or_else(PoisonError::into_inner));
        for thread in threads {
            if thread.join().is_err() {
                tracing::error!("a writer had ended by a panic");
            }
        }
    }
}

impl Drop for Writers {
    fn drop(&mut self) {
        self.stop();
    }
}

struct Writer {
    place: Place,
    conn: Option<Db>,
    shelf: Arc<Shelf>,
    waiting: Arc<Mutex<Receiver<Job>>>,
    group: usize,
}

impl Writer {
    fn run(mut self) {
        loop {
            let jobs = {
                let waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
                let Ok(first) = waiting.recv() else { return };
                let mut jobs = vec![first];
                while jobs.len() < self.group {
                    let Ok(next) = waiting.try_recv() else { break };
                    jobs.push(next);
                }
                jobs
            };
            self.run_group(jobs);
        }
    }

    /// A connection that works: the one held, or a new one after the old one broke.
    fn conn(&mut self) -> Result<&mut Db, DoorError> {
        if self.conn.is_none() {
            self.conn = Some(open(&self.place)?);
        }
        self.conn.as_mut().ok_or(DoorError::Busy)
    }

    fn run_group(&mut self, jobs: Vec<Job>) {
        let mut batch = Batch::default();
        let mut finishes: Vec<Finish> = Vec::with_capacity(jobs.len());
        let outcome = self.try_group(jobs, &mut batch, &mut finishes);
        match &outcome {
            Ok(()) => {
                for (club, held) in batch.working {
                    self.shelf.publish(&club, held);
                }
            }
            Err(error) => {
                tracing::error!(%error, "a transaction was not kept");
                for club in batch.working.keys() {
                    self.shelf.forget(club);
                }
                // The connection may be the trouble; the next group opens a new one.
                self.conn = None;
            }
        }
        for finish in finishes {
            finish(outcome.as_ref().copied().map_err(DoorError::again));
        }
    }

    fn try_group(
        &mut self,
        jobs: Vec<Job>,
        batch: &mut Batch,
        finishes: &mut Vec<Finish>,
    ) -> Result<(), DoorError> {
        let conn = self.conn()?;
        conn.begin_write()?;
        for job in jobs {
            // A defect in one change must not end the only writer.
            match catch_unwind(AssertUnwindSafe(|| job(conn, batch))) {
                Ok(finish) => finishes.push(finish),
                Err(_panic) => return Err(DoorError::Broken("a change ended by a panic".into())),
            }
        }
        conn.commit()?;
        Ok(())
    }
}
