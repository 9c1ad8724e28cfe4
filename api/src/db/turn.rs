//! How a writer makes changes at their turn: as many of one club as it can together, and one by one where that fails.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use tokio::sync::oneshot;
use uuid::Uuid;

use super::club::{Club, raise_revision};
use super::conn::Db;
use super::door::{Change, Kept, Tables};
use super::fault::{DoorError, Failure};
use super::fleet::{Held, Shelf};
use super::reading::still_on_record;
use super::stretches::Source;
use super::together::together;
use super::writer::Batch;
use crate::steady::SteadyClock;

/// What the writers of one door have at hand for every change.
#[derive(Clone)]
pub(super) struct House {
    /// The Fleets.
    pub(super) shelf: Arc<Shelf>,
    /// The tables of the nouns.
    pub(super) tables: Tables,
    /// What stamps the changes.
    pub(super) clock: SteadyClock,
}

/// In what a change is made: whose record, and what is at hand.
pub(super) struct Setting<'a> {
    pub(super) house: &'a House,
    /// Empty for what is written beside the record.
    pub(super) club: &'a str,
}

impl Setting<'_> {
    /// The moment of a change that comes after what is held. Another process may have a clock that is ahead of this
    /// one's: the record of a club never goes back in time.
    pub(super) fn now_after(&self, held: &Held) -> Instant {
        let now = self.house.clock.now();
        held.head_at.map_or(now, |last| last.max(now))
    }

    /// The Fleet at a revision that this transaction has reached: as its changes left it, or of the record.
    pub(super) fn held_at(
        &self,
        conn: &mut Db,
        batch: &Batch,
        club: &Club,
        revision: i64,
    ) -> Result<Held, DoorError> {
        let House { shelf, tables, .. } = self.house;
        let held = match batch.working.get(&club.id) {
            Some(working) => Some(working.clone()),
            None => still_on_record(conn, shelf, &club.id, shelf.get(&club.id))?,
        };
        Source { conn, others: None, tables: *tables }.bring_up_to(club, held, revision)
    }
}

/// Changes of one sender, each for itself. They look at the record through their change and record through it, and write
/// nothing else, so that each may be made again before anything of it is kept.
pub(super) trait Changes: Send {
    /// Who makes them.
    fn by(&self) -> MemberId;
    /// The ids under which they may record something.
    fn ids(&self) -> &[Uuid];
    /// How many there are.
    fn count(&self) -> usize;
    /// Makes one of them and keeps what came of it for its sender.
    fn make(&mut self, number: usize, change: &mut Change<'_>) -> Result<Kept<()>, Why>;
    /// Keeps for the sender of one why the door did not make it.
    fn fail(&mut self, number: usize, error: DoorError);
    /// Tells the sender what came of them, once it is known whether COMMIT succeeded.
    fn tell(self: Box<Self>, committed: Result<(), DoorError>);
}

/// Why a change was not made, as far as the door must know.
pub(super) enum Why {
    /// It says so itself; what its sender is told lies with it.
    Own {
        /// Whether there is no room.
        is_full: bool,
        /// Whether it is to be sent again.
        is_to_be_sent_again: bool,
    },
    /// The door says so.
    Door(DoorError),
}

impl From<DoorError> for Why {
    fn from(error: DoorError) -> Self {
        Self::Door(error)
    }
}

impl Failure for Why {
    fn is_full(&self) -> bool {
        match self {
            Self::Own { is_full, .. } => *is_full,
            Self::Door(error) => error.is_full(),
        }
    }

    fn is_to_be_sent_again(&self) -> bool {
        match self {
            Self::Own { is_to_be_sent_again, .. } => *is_to_be_sent_again,
            Self::Door(error) => error.is_to_be_sent_again(),
        }
    }
}

/// What came of changes: one result for each, and the revision reached by the last that recorded something.
pub(super) type Made<T, E> = (Vec<Result<T, E>>, Option<i64>);

/// Changes of which each is a function.
pub(super) struct Each<T, E, W> {
    by: MemberId,
    ids: Vec<Uuid>,
    works: Vec<W>,
    results: Vec<Option<Result<T, E>>>,
    reached: Option<i64>,
    answer: oneshot::Sender<Result<Made<T, E>, DoorError>>,
}

impl<T, E, W> Each<T, E, W> {
    pub(super) fn new(
        by: MemberId,
        ids: Vec<Uuid>,
        works: Vec<W>,
        answer: oneshot::Sender<Result<Made<T, E>, DoorError>>,
    ) -> Self {
        let results = works.iter().map(|_| None).collect();
        Self { by, ids, works, results, reached: None, answer }
    }

    fn keep(&mut self, number: usize, result: Result<T, E>) {
        if let Some(place) = self.results.get_mut(number) {
            *place = Some(result);
        }
    }
}

impl<T, E, W> Changes for Each<T, E, W>
where
    T: Send,
    E: Failure + Send,
    W: Fn(&mut Change<'_>) -> Result<Kept<T>, E> + Send,
{
    fn by(&self) -> MemberId {
        self.by
    }

    fn ids(&self) -> &[Uuid] {
        &self.ids
    }

    fn count(&self) -> usize {
        self.works.len()
    }

    fn make(&mut self, number: usize, change: &mut Change<'_>) -> Result<Kept<()>, Why> {
        let Some(work) = self.works.get(number) else {
            return Err(DoorError::Broken("there is no such change".to_owned()).into());
        };
        let (result, said) = match work(change) {
            Ok(Kept::Recorded(value)) => {
                self.reached = Some(change.revision());
                (Ok(value), Ok(Kept::Recorded(())))
            }
            Ok(Kept::Unchanged(value)) => (Ok(value), Ok(Kept::Unchanged(()))),
            Err(error) => {
                let (is_full, is_to_be_sent_again) = (error.is_full(), error.is_to_be_sent_again());
                (Err(error), Err(Why::Own { is_full, is_to_be_sent_again }))
            }
        };
        self.keep(number, result);
        said
    }

    fn fail(&mut self, number: usize, error: DoorError) {
        self.keep(number, Err(error.into()));
    }

    fn tell(self: Box<Self>, committed: Result<(), DoorError>) {
        // What a rule refused may have been refused because of a change that was not kept either: then nobody knows, and
        // all are to be sent again.
        let Self { results, reached, answer, .. } = *self;
        let told = committed.and_then(|()| {
            let results: Option<Vec<Result<T, E>>> = results.into_iter().collect();
            let results = results.ok_or_else(|| DoorError::Broken("a change was never begun".to_owned()))?;
            Ok((results, reached))
        });
        // Nobody waits any more when the client has gone; the changes stand all the same.
        drop(answer.send(told));
    }
}

/// Makes changes of one club, in order: together, or else one by one. `is_first`: nothing was made in this transaction.
pub(super) fn make(
    conn: &mut Db,
    batch: &mut Batch,
    setting: &Setting<'_>,
    senders: &mut [Box<dyn Changes>],
    is_first: bool,
) {
    if together(conn, batch, setting, senders, is_first) {
        return;
    }
    for changes in senders {
        one_by_one(conn, batch, setting, changes.as_mut());
    }
}

/// Makes changes one by one, each in a savepoint of its own.
fn one_by_one(conn: &mut Db, batch: &mut Batch, setting: &Setting<'_>, changes: &mut dyn Changes) {
    let by = changes.by();
    let mut before: Option<Why> = None;
    for number in 0..changes.count() {
        if batch.lost.is_some() {
            break;
        }
        if let Some(why) = before.as_ref().filter(|why| why.is_to_be_sent_again()) {
            let text = "one before it is to be sent again".to_owned();
            let held_up = if why.is_full() { DoorError::Full(text) } else { DoorError::Busy(text) };
            changes.fail(number, held_up);
            continue;
        }
        let made = change_in_savepoint(conn, batch, setting, by, |change| changes.make(number, change));
        before = made.err().inspect(|why| {
            if let Why::Door(error) = why {
                changes.fail(number, DoorError::again(error));
            }
        });
    }
}

/// Runs `work` in a savepoint, which is kept if `is_kept` says so of the result. If the savepoint cannot be begun or
/// ended, the transaction is lost: the database took it back by itself, or it can no longer be steered.
pub(super) fn guarded<T, E: Failure>(
    conn: &mut Db,
    batch: &mut Batch,
    is_kept: impl FnOnce(&Result<T, E>) -> bool,
    work: impl FnOnce(&mut Db, &mut Batch) -> Result<T, E>,
) -> Result<T, E> {
    if let Err(error) = conn.begin_savepoint() {
        let never = Err(DoorError::Broken("a change was never begun".to_owned()).into());
        return after(batch, never, Err(error.into()));
    }
    let result = caught(conn, batch, work);
    let ended = if is_kept(&result) { conn.commit() } else { conn.roll_back() };
    after(batch, result, ended.map_err(DoorError::from))
}

/// Runs the first work of a transaction for one club. Where it fails the transaction is taken back and begun anew, so
/// that nobody has to keep a journal of how to take it back.
pub(super) fn guarded_as_first<T, E: Failure>(
    conn: &mut Db,
    batch: &mut Batch,
    club: &str,
    work: impl FnOnce(&mut Db, &mut Batch) -> Result<T, E>,
) -> Result<T, E> {
    let result = caught(conn, batch, work);
    if result.is_ok() {
        return result;
    }
    let begun = conn.roll_back().map_err(DoorError::from).and_then(|()| conn.begin_write_of(club));
    after(batch, result, begun)
}

fn caught<T, E: Failure>(
    conn: &mut Db,
    batch: &mut Batch,
    work: impl FnOnce(&mut Db, &mut Batch) -> Result<T, E>,
) -> Result<T, E> {
    // A defect in one change costs that change alone.
    let result = catch_unwind(AssertUnwindSafe(|| work(conn, batch)))
        .unwrap_or_else(|_panic| Err(DoorError::Broken("a change ended by a panic".to_owned()).into()));
    batch.full += usize::from(result.as_ref().is_err_and(Failure::is_full));
    result
}

/// The result, unless the transaction cannot go on after it.
fn after<T, E: Failure>(
    batch: &mut Batch,
    result: Result<T, E>,
    ended: Result<(), DoorError>,
) -> Result<T, E> {
    let Err(error) = ended else { return result };
    // Out of room, SQLite takes back the whole transaction, and then there is nothing to go back to.
    let error = if result.as_ref().is_err_and(Failure::is_full) {
        DoorError::Full(format!("the database took the whole transaction back ({error})"))
    } else {
        error
    };
    batch.lost = Some(DoorError::again(&error));
    Err(error.into())
}

/// Makes one change in a savepoint.
pub(super) fn change_in_savepoint<T, E: Failure>(
    conn: &mut Db,
    batch: &mut Batch,
    setting: &Setting<'_>,
    by: MemberId,
    work: impl FnOnce(&mut Change<'_>) -> Result<Kept<T>, E>,
) -> Result<T, E> {
    let is_kept = |result: &Result<(Kept<T>, Held), E>| matches!(result, Ok((Kept::Recorded(_), _)));
    let made = guarded(conn, batch, is_kept, |conn, batch| change(conn, batch, setting, by, work))?;
    match made {
        (Kept::Recorded(value), held) => {
            batch.working.insert(setting.club.to_owned(), held);
            Ok(value)
        }
        (Kept::Unchanged(value), _) => Ok(value),
    }
}

fn change<T, E: Failure>(
    conn: &mut Db,
    batch: &Batch,
    setting: &Setting<'_>,
    by: MemberId,
    work: impl FnOnce(&mut Change<'_>) -> Result<Kept<T>, E>,
) -> Result<(Kept<T>, Held), E> {
    let club = raise_revision(conn, setting.club)?;
    let mut held = setting.held_at(conn, batch, &club, club.revision - 1)?;
    held.revision = club.revision;
    let now = setting.now_after(&held);
    let mut change =
        Change { conn, tables: setting.house.tables, club, now, by, held, ordinal: 0, gathered: None };
    let kept = work(&mut change)?;
    if change.ordinal == 0 && matches!(kept, Kept::Recorded(_)) {
        return Err(DoorError::Broken("a change recorded nothing".into()).into());
    }
    Ok((kept, change.held))
}
