//! The threads that write.
//!
//! What waits in the lanes is taken in groups: one transaction, a savepoint for what is made together, one COMMIT. Embedded
//! SQLite has one writer, whose group may hold changes of many clubs. PostgreSQL has several; each takes one
//! club at a time, whose row is the lock between processes. Each change learns of its own success only after
//! COMMIT, and whatever goes wrong with a transaction, the next one begins on a connection known to be clean.

use std::collections::{BTreeSet, HashMap};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::checkpoint::Checkpoints;
use super::conn::{Db, OpenError, Place, open_to_write};
use super::fault::DoorError;
use super::fleet::Held;
use super::lanes::{Lane, Lanes, Reach, Waiting};
use super::meters::DoorMeters;
use super::turn::{Changes, House, Setting, make};
use crate::watch::cut::cut;

/// What a job does once it is known whether COMMIT succeeded.
pub type Finish = Box<dyn FnOnce(Result<(), DoorError>) + Send>;

/// What a writer does at the turn of a job. Called without a connection it does nothing, and the senders only learn why.
pub(super) type Run = Box<dyn FnOnce(Option<Turn<'_>>) -> Finish + Send>;

/// The connection, what the transaction has left so far, and in what a change is made.
pub(super) type Turn<'a> = (&'a mut Db, &'a mut Batch, &'a Setting<'a>);

/// What waits for a writer.
pub(super) enum Work {
    /// What is done once, in a savepoint of its own.
    Once(Run),
    /// Changes that may be made again before anything is kept, and so together with others.
    Again(Box<dyn Changes>),
}

impl Work {
    fn is_again(&self) -> bool {
        matches!(self, Self::Again(_))
    }

    fn again(self) -> Option<Box<dyn Changes>> {
        match self {
            Self::Again(changes) => Some(changes),
            Self::Once(_) => None,
        }
    }

    /// Tells the sender that it was not begun.
    fn give_up(self, error: &DoorError) {
        match self {
            Self::Once(run) => run(None)(Err(DoorError::again(error))),
            Self::Again(changes) => changes.tell(Err(DoorError::again(error))),
        }
    }
}

/// One or more changes waiting for a writer.
pub struct Job {
    changes: usize,
    work: Work,
}

/// Changes of one job that count against what may wait and what a transaction takes: more of them are made together,
/// which takes no longer than so many one by one.
const COUNTED: usize = 60;

/// A running transaction: what its changes have left so far.
#[derive(Default)]
pub struct Batch {
    /// The Fleets, by club.
    pub working: HashMap<String, Held>,
    /// Set when the transaction can no longer be steered; then nothing of it is kept.
    pub lost: Option<DoorError>,
    /// Changes for which there was no room.
    pub full: usize,
}

/// What one transaction takes on SQLite.
const FILE_REACH: Reach = Reach { changes: 128, is_across: true };
/// What one transaction takes on PostgreSQL, which keeps 64 savepoints of a transaction at hand.
const SERVER_REACH: Reach = Reach { changes: 60, is_across: false };
/// Writers on PostgreSQL.
const SERVER_WRITERS: usize = 4;

/// The writers and their queue.
pub struct Writers {
    lanes: Arc<Lanes<Job>>,
    meters: DoorMeters,
    threads: Mutex<Vec<JoinHandle<()>>>,
}

impl Writers {
    /// Starts the writers of a database; one transaction takes so many changes at most.
    pub(super) fn start(
        place: &Place,
        house: &House,
        changes_a_commit: Option<usize>,
    ) -> Result<Self, OpenError> {
        let lanes = Arc::new(Lanes::default());
        let (writers, reach) = match place {
            Place::File(_) => (1, FILE_REACH),
            Place::Server(_) => (SERVER_WRITERS, SERVER_REACH),
        };
        let reach = Reach { changes: changes_a_commit.unwrap_or(reach.changes), ..reach };
        let mut threads = Vec::with_capacity(writers);
        for number in 0..writers {
            let writer = Writer {
                place: place.clone(),
                conn: Some(open_to_write(place)?),
                house: house.clone(),
                checkpoints: matches!(place, Place::File(_))
                    .then(|| Checkpoints::start(place))
                    .transpose()?,
                reach,
            };
            let lanes = Arc::clone(&lanes);
            let thread = std::thread::Builder::new()
                .name(format!("writer-{number}"))
                .spawn(move || writer.run(&lanes))
                .map_err(|error| OpenError::Other(error.to_string()))?;
            threads.push(thread);
        }
        Ok(Self { lanes, meters: house.shelf.meters.clone(), threads: Mutex::new(threads) })
    }

    /// Queues a job of some changes, or says at once that too many wait.
    pub(super) fn submit(&self, lane: Lane, changes: usize, work: Work) -> Result<(), DoorError> {
        let job = Job { changes, work };
        self.lanes
            .submit(lane, changes.min(COUNTED), job)
            .inspect_err(|error| self.meters.refused(changes, error))
    }

    /// How many changes wait, and how long the oldest of them has.
    pub fn standing(&self) -> (usize, Duration) {
        self.lanes.standing()
    }

    /// Takes no more changes, finishes those that wait, and ends the threads.
    pub fn stop(&self) {
        self.lanes.close();
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
    house: House,
    reach: Reach,
    checkpoints: Option<Checkpoints>,
}

impl Writer {
    fn run(mut self, lanes: &Lanes<Job>) {
        while let Some(jobs) = lanes.take(self.reach) {
            let of: BTreeSet<Lane> = jobs.iter().map(|job| job.lane.clone()).collect();
            let left = self.run_group(jobs);
            lanes.give_back(of, left);
        }
    }

    /// Begins a transaction on a connection that works: the one held, or a new one where that one fails.
    fn begin(&mut self, lane: Option<&Lane>) -> Result<(), DoorError> {
        if let Some(conn) = self.conn.as_mut() {
            match begin_on(conn, lane) {
                Ok(()) => return Ok(()),
                Err(DoorError::Locked(text)) => return Err(DoorError::Locked(text)),
                Err(error) => {
                    tracing::warn!(error = cut(&error.to_string()), "a connection failed and is opened anew");
                }
            }
            self.let_go();
        }
        let mut conn = open_to_write(&self.place)?;
        begin_on(&mut conn, lane)?;
        self.conn = Some(conn);
        Ok(())
    }

    /// Makes a group of changes and tells their senders. Returns what is to be tried again.
    fn run_group(&mut self, mut jobs: Vec<Waiting<Job>>) -> Vec<Waiting<Job>> {
        let mut batch = Batch::default();
        let begun = self.begin(jobs.first().map(|job| &job.lane));
        let shelf = &self.house.shelf;
        let conn = match (begun, self.conn.as_mut()) {
            (Ok(()), Some(conn)) => conn,
            (Ok(()), None) => {
                let error = DoorError::Busy("there is no connection".to_owned());
                return not_begun(jobs, &error, &shelf.meters);
            }
            (Err(error), _) => return not_begun(jobs, &error, &shelf.meters),
        };
        // Clubs know nothing of each other: what is of one comes together, in its order.
        jobs.sort_by(|one, other| one.lane.cmp(&other.lane));
        let mut jobs = jobs.into_iter().peekable();
        let mut finishes: Vec<Finish> = Vec::with_capacity(jobs.len());
        let mut changes = 0;
        while let Some(waiting) = jobs.next() {
            changes += waiting.job.changes;
            let setting = Setting { house: &self.house, club: waiting.lane.club() };
            match waiting.job.work {
                // A defect in one change must not end the writer.
                Work::Once(run) => match catch_unwind(AssertUnwindSafe(|| {
                    run(Some((&mut *conn, &mut batch, &setting)))
                })) {
                    Ok(finish) => finishes.push(finish),
                    Err(_panic) => batch.lost = Some(DoorError::Busy("a change ended by a panic".to_owned())),
                },
                Work::Again(first) => {
                    let mut senders = vec![first];
                    while let Some(next) =
                        jobs.next_if(|next| next.lane == waiting.lane && next.job.work.is_again())
                    {
                        changes += next.job.changes;
                        senders.extend(next.job.work.again());
                    }
                    make(conn, &mut batch, &setting, &mut senders, finishes.is_empty());
                    finishes.extend(
                        senders
                            .into_iter()
                            .map(|sender| -> Finish { Box::new(move |committed| sender.tell(committed)) }),
                    );
                }
            }
            if batch.lost.is_some() {
                break;
            }
        }
        let begun = Instant::now();
        let outcome = match batch.lost.take() {
            Some(error) => Err(DoorError::lost(error)),
            None => conn.commit().map_err(DoorError::from),
        };
        let meters = &shelf.meters;
        match &outcome {
            Ok(()) => {
                meters.committed(changes, begun.elapsed());
                if let Some(checkpoints) = &self.checkpoints {
                    checkpoints.committed(changes);
                }
                meters.refused(batch.full, &DoorError::Full(String::new()));
                for (club, held) in batch.working {
                    shelf.publish(&club, held);
                }
            }
            Err(error) => {
                meters.refused(changes, error);
                let error = cut(&error.to_string());
                tracing::error!(error, changes, "a transaction was not kept; its changes can be sent again");
                for club in batch.working.keys() {
                    shelf.forget(club);
                }
                self.let_go();
            }
        }
        for finish in finishes {
            finish(outcome.as_ref().copied().map_err(DoorError::again));
        }
        jobs.collect()
    }

    /// Closes the connection, which may be in the midst of anything; the next group opens a new one. Closing is
    /// what takes back an open transaction, whatever the connection itself believes to be in.
    fn let_go(&mut self) {
        let conn = self.conn.take();
        if catch_unwind(AssertUnwindSafe(|| drop(conn))).is_err() {
            tracing::error!("a failed connection could not be closed");
        }
    }
}

fn begin_on(conn: &mut Db, lane: Option<&Lane>) -> Result<(), DoorError> {
    match lane {
        Some(Lane::Club(club)) => conn.begin_write_of(club),
        Some(Lane::Beside(_)) | None => Ok(conn.begin_write()?),
    }
}

/// Nothing was begun. Where somebody else holds the lock the jobs wait for another turn, unless they have waited
/// long enough.
fn not_begun(jobs: Vec<Waiting<Job>>, error: &DoorError, meters: &DoorMeters) -> Vec<Waiting<Job>> {
    let is_held_elsewhere = matches!(error, DoorError::Locked(_));
    let (left, given_up): (Vec<_>, Vec<_>) =
        jobs.into_iter().partition(|job| is_held_elsewhere && !job.is_out_of_patience());
    if !given_up.is_empty() {
        let changes: usize = given_up.iter().map(|waiting| waiting.job.changes).sum();
        meters.refused(changes, error);
        tracing::error!(error = cut(&error.to_string()), changes, "no transaction could be begun");
    }
    for waiting in given_up {
        waiting.job.work.give_up(error);
    }
    left
}
