//! The write door: the one way a change of the record is made. How it is read through the same door is in `reading`.
//!
//! Every change is one transaction (or one savepoint of a shared one): the club's revision is raised by one,
//! which locks the club; the Fleet is brought up to date; the caller's rules decide; facts and their entries
//! in the trail are written. After COMMIT the new Fleet is published. What a writer does with them at their turn is in
//! `turn`; many that come together share one savepoint while all goes well (`together`).

use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};

use preen_domain::facts::{Fact, Noun, Recorded};
use preen_domain::fleet::Fleet;
use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use tokio::sync::oneshot;
use uuid::Uuid;

use super::conn::{Db, OpenError, Place, Pool, open_pool};
use super::fitted;
use super::fleet::{Held, Shelf};
use super::lanes::Lane;
use super::meters::{DoorMeters, Standing};
use super::names::{self, Names};
use super::replica::Replica;
use super::stored::{RowKey, Stored};
use super::together::Gathered;
use super::turn::{Each, House, change_in_savepoint, guarded};
use super::writer::{Batch, Run, Turn, Work, Writers};
use super::written::NewRow;
use crate::audit;
use crate::steady::SteadyClock;

pub use super::club::{Club, clubs, find_club};
pub use super::fault::{DoorError, Failure};
pub use super::reading::bring_up;

/// A span of revisions: after the first, up to and including the second (all newer if `None`).
#[derive(Clone, Copy, Debug)]
pub struct Span {
    /// Not this one and none before it.
    pub after: i64,
    /// This one and none behind it.
    pub up_to: Option<i64>,
}

/// Facts read back, or why they cannot be.
pub type Loaded = Result<Vec<Recorded<Fact>>, DoorError>;
/// Takes facts one by one.
pub type TakeEach<'a> = &'a mut dyn FnMut(Recorded<Fact>);

/// What the door must know of the nouns' tables, given to it so that it need not know the nouns.
#[derive(Clone, Copy)]
pub struct Tables {
    /// Reads the facts of a span of revisions, oldest first.
    pub load: fn(&mut Db, &str, Span) -> Loaded,
    /// Hands them over one by one as they are read, noun by noun, of each noun the oldest first, corrections last.
    pub each: fn(&mut Db, &str, Span, TakeEach<'_>) -> Result<(), DoorError>,
    /// The row of a fact.
    pub row: fn(&str, &Recorded<Fact>) -> Result<NewRow, DoorError>,
    /// Writes the row of a fact, and its name.
    pub insert: fn(&mut Db, &str, &Recorded<Fact>) -> Result<(), DoorError>,
    /// Writes the row that shows a corrected content.
    pub insert_corrected: fn(&mut Db, &str, &Recorded<Fact>) -> Result<(), DoorError>,
    /// Marks the current row of an id as replaced at a revision.
    pub replace: fn(&mut Db, &str, Noun, Uuid, i64) -> Result<(), DoorError>,
    /// Reads all rows as they lie there, readable or not; those of the keys one by one where that alone can be done.
    pub stored: fn(&mut Db, &str, &[RowKey]) -> Result<Stored, DoorError>,
}

/// What became of a change.
pub enum Kept<T> {
    /// Something was recorded.
    Recorded(T),
    /// Nothing needed recording; the revision stays as it was.
    Unchanged(T),
}

/// A change under way, inside the door.
pub struct Change<'a> {
    pub(super) conn: &'a mut Db,
    pub(super) tables: Tables,
    pub(super) club: Club,
    pub(super) now: Instant,
    pub(super) by: MemberId,
    pub(super) held: Held,
    pub(super) ordinal: i32,
    /// Where several changes are made together: what they have recorded and not yet written.
    pub(super) gathered: Option<&'a mut Gathered>,
}

impl Change<'_> {
    /// The connection, for looking things up inside the transaction. Whatever was recorded is written before.
    pub fn conn(&mut self) -> &mut Db {
        if let Some(gathered) = self.gathered.as_deref_mut() {
            gathered.write(self.conn);
        }
        self.conn
    }

    /// Whether it is known without asking the database that nothing was ever recorded under an id.
    pub fn is_fresh(&self, id: Uuid) -> bool {
        self.gathered.as_ref().is_some_and(|gathered| gathered.is_fresh(id))
    }

    /// The item of a noun that a tag means.
    pub fn find_by_tag(&mut self, noun: Noun, tag: &str) -> Result<Option<Uuid>, DoorError> {
        if let Some(gathered) = self.gathered.as_deref_mut().filter(|gathered| gathered.bears(noun, tag)) {
            gathered.write(self.conn);
        }
        names::find_by_tag(self.conn, &self.club.id, noun, tag)
    }

    /// The club.
    pub fn club(&self) -> &Club {
        &self.club
    }

    /// Everything recorded so far, this change's own facts included.
    pub fn fleet(&self) -> &Fleet {
        &self.held.fleet
    }

    /// The ids and tags of everything recorded so far.
    pub fn names(&self) -> &Names {
        &self.held.names
    }

    /// The moment at which this change is recorded, never before the one before it.
    pub fn now(&self) -> Instant {
        self.now
    }

    /// The member who makes the change.
    pub fn by(&self) -> MemberId {
        self.by
    }

    /// The revision this change will have.
    pub fn revision(&self) -> i64 {
        self.held.revision
    }

    /// The revision at which something was first recorded under an id.
    pub fn revision_of(&mut self, id: Uuid) -> Result<Option<i64>, DoorError> {
        let club = self.club.id.clone();
        audit::revision_of(self.conn(), &club, id)
    }

    /// The Fleet as it was known at an earlier revision, built anew.
    pub fn fleet_at(&mut self, revision: i64) -> Result<Arc<Fleet>, DoorError> {
        let (club, tables) = (self.club.id.clone(), self.tables);
        Ok(bring_up(self.conn(), tables, &club, None, Some(revision))?.fleet)
    }

    /// The facts recorded at an earlier revision.
    pub fn facts_of(&mut self, revision: i64) -> Result<Vec<Fact>, DoorError> {
        let span = Span { after: revision - 1, up_to: Some(revision) };
        let (club, load) = (self.club.id.clone(), self.tables.load);
        let facts = load(self.conn(), &club, span)?;
        Ok(facts.into_iter().map(|recorded| recorded.fact).collect())
    }

    /// Writes a fact with its entry in the trail and takes it into the Fleet. Rules were asked before.
    pub fn record(&mut self, act: &str, fact: Fact) -> Result<Recorded<Fact>, DoorError> {
        let payload = audit::payload_of(&fact)?;
        self.record_as(act, fact, payload)
    }

    /// The same where the text of its payload was made before ([`audit::payload_of`]), while nobody waited for it.
    pub fn record_as(&mut self, act: &str, fact: Fact, payload: String) -> Result<Recorded<Fact>, DoorError> {
        let recorded =
            Recorded { fact, recorded_at: self.now, recorded_by: self.by, revision: self.held.revision };
        match self.gathered.as_deref_mut() {
            None => (self.tables.insert)(self.conn, &self.club.id, &recorded)?,
            Some(gathered) => {
                gathered.take(self.conn, self.tables, &self.club.id, &recorded, &self.held.names)?;
            }
        }
        self.note(act, recorded.fact.noun().as_str(), recorded.fact.id(), payload)?;
        self.held.names.apply(&recorded.fact);
        Arc::make_mut(&mut self.held.fleet).apply(&recorded);
        if fitted::may_change_by(&recorded.fact) {
            // The fleet is shared for a moment, as writing what was gathered takes the whole change.
            let fleet = Arc::clone(&self.held.fleet);
            let club = self.club.id.clone();
            fitted::keep(self.conn(), &club, &fleet, &recorded.fact)?;
        }
        Ok(recorded)
    }

    /// Writes an entry in the trail for something that is no fact of the Fleet, such as a token.
    pub fn note(&mut self, act: &str, noun: &str, id: Uuid, payload: String) -> Result<(), DoorError> {
        let entry = audit::Entry {
            revision: self.held.revision,
            ordinal: self.ordinal,
            recorded_at: self.now,
            recorded_by: self.by,
            act: act.to_owned(),
            noun: noun.to_owned(),
            fact_id: id,
        };
        self.held.head = match self.gathered.as_deref_mut() {
            None => audit::append(self.conn, &self.club.id, &self.held.head, &entry, payload)?,
            Some(gathered) => {
                let link = audit::chain_to(&self.club.id, &self.held.head, &entry, payload)?;
                let head = link.head.clone();
                gathered.chain(link);
                head
            }
        };
        self.held.head_at = Some(self.now);
        self.ordinal += 1;
        Arc::make_mut(&mut self.held.fleet).reach(self.held.revision);
        Ok(())
    }
}

/// The door to one database.
pub struct Door {
    /// Changes that one call of [`Door::write_each`] makes at most, for others not to wait too long.
    pub at_once: usize,
    pub(super) pool: Pool,
    writers: Writers,
    pub(super) shelf: Arc<Shelf>,
    pub(super) tables: Tables,
    clock: SteadyClock,
    beside: AtomicU8,
    pub(super) replica: Option<Replica>,
}

/// Changes made together at most in a file: its writer is busy with them for some hundredths of a second.
const AT_ONCE_IN_A_FILE: usize = 1_000;
/// On a server: made one by one, each takes one of the 64 savepoints that PostgreSQL keeps at hand for a transaction.
const AT_ONCE_ON_A_SERVER: usize = 60;

/// Lanes of writes beside the record: as many as PostgreSQL has writers.
const BESIDE_LANES: u8 = 4;

impl Door {
    /// Opens the door to a database whose migrations are up to date. So many changes share one COMMIT at most; absent: as
    /// many as the database takes well.
    pub fn open(
        place: &Place,
        replica: Option<Replica>,
        tables: Tables,
        clock: SteadyClock,
        changes_a_commit: Option<usize>,
    ) -> Result<Self, OpenError> {
        let shelf = Arc::new(Shelf::new(matches!(place, Place::Server(_))));
        let at_once = match place {
            Place::File(_) => AT_ONCE_IN_A_FILE,
            Place::Server(_) => AT_ONCE_ON_A_SERVER,
        };
        Ok(Self {
            at_once,
            pool: open_pool(place, 8)?,
            writers: Writers::start(
                place,
                &House { shelf: Arc::clone(&shelf), tables, clock: clock.clone() },
                changes_a_commit,
            )?,
            shelf,
            tables,
            clock,
            beside: AtomicU8::new(0),
            replica,
        })
    }

    /// Whether some reads may be answered by a replica.
    pub fn has_replica(&self) -> bool {
        self.replica.is_some()
    }

    /// Makes one change. `work` looks, asks the rules and records; what it returns comes back after COMMIT.
    pub async fn write<T, E, W>(&self, club: &str, by: MemberId, work: W) -> Result<T, E>
    where
        T: Send + 'static,
        E: Failure + Send + 'static,
        W: FnOnce(&mut Change<'_>) -> Result<Kept<T>, E> + Send + 'static,
    {
        let (result, reached) = self
            .submit(Lane::Club(club.to_owned()), move |(conn, batch, setting)| {
                let result = change_in_savepoint(conn, batch, setting, by, work);
                (result, batch.working.get(setting.club).map(|held| held.revision))
            })
            .await
            .map_err(E::from)?;
        self.have_reached(club, reached);
        result
    }

    /// Makes some changes one after the other in one transaction, each for itself: what is wrong with one leaves
    /// the others, but none is made after one that is to be sent again, as it may rest on that. One result each, in
    /// order; an error for all where the transaction was not kept.
    ///
    /// Works look at the record through their change and record through it, and write nothing else. One may be made twice
    /// before anything is kept. `ids` are those under which they may record something, so that it is known
    /// beforehand which of them the database has. What waits for the same club is made together with them.
    pub async fn write_each<T, E, W>(
        &self,
        club: &str,
        by: MemberId,
        ids: Vec<Uuid>,
        works: Vec<W>,
    ) -> Result<Vec<Result<T, E>>, E>
    where
        T: Send + 'static,
        E: Failure + Send + 'static,
        W: Fn(&mut Change<'_>) -> Result<Kept<T>, E> + Send + 'static,
    {
        let (answer, wait) = oneshot::channel();
        let count = works.len();
        let changes = Box::new(Each::new(by, ids, works, answer));
        self.writers.submit(Lane::Club(club.to_owned()), count, Work::Again(changes))?;
        let (results, reached) = wait.await.map_err(|_dropped| dropped())??;
        self.have_reached(club, reached);
        Ok(results)
    }

    /// Makes one change of that kind; `id` is that under which it may record something.
    pub async fn write_one<T, E, W>(&self, club: &str, by: MemberId, id: Uuid, work: W) -> Result<T, E>
    where
        T: Send + 'static,
        E: Failure + Send + 'static,
        W: Fn(&mut Change<'_>) -> Result<Kept<T>, E> + Send + 'static,
    {
        let mut results = self.write_each(club, by, vec![id], vec![work]).await?;
        results.pop().unwrap_or_else(|| Err(dropped().into()))
    }

    /// Whoever has written asks for no less of a replica from now on.
    fn have_reached(&self, club: &str, revision: Option<i64>) {
        if let (Some(replica), Some(revision)) = (&self.replica, revision) {
            replica.raise(club, revision);
        }
    }

    /// Writes what is no part of the record, such as sessions and counts of sign-in attempts: no revision is
    /// raised and the trail learns nothing. It waits in the same queue, so that SQLite has one writer.
    pub async fn write_beside<T, E, W>(&self, work: W) -> Result<T, E>
    where
        T: Send + 'static,
        E: Failure + Send + 'static,
        W: FnOnce(&mut Db) -> Result<T, E> + Send + 'static,
    {
        let lane = Lane::Beside(self.beside.fetch_add(1, Ordering::Relaxed) % BESIDE_LANES);
        self.submit(lane, move |(conn, batch, _)| in_savepoint(conn, batch, work)).await.map_err(E::from)?
    }

    /// Hands work to a writer and waits until it is known what became of its transaction.
    async fn submit<T: Send + 'static>(
        &self,
        lane: Lane,
        work: impl FnOnce(Turn<'_>) -> T + Send + 'static,
    ) -> Result<T, DoorError> {
        let (answer, wait) = oneshot::channel();
        let run: Run = Box::new(move |turn| {
            let result = turn.map(work);
            Box::new(move |committed| {
                // What a rule refused may have been refused because of a change that was not kept either: then
                // nobody knows, and all are to be sent again.
                let nothing = || DoorError::Broken("a change was never begun".to_owned());
                let result = committed.and_then(|()| result.ok_or_else(nothing));
                // Nobody waits any more when the client has gone; the change stands all the same.
                drop(answer.send(result));
            })
        });
        self.writers.submit(lane, 1, Work::Once(run))?;
        wait.await.map_err(|_dropped| dropped())?
    }

    /// Holds Fleets of no more bytes than these in memory, by estimate.
    pub fn hold_at_most(&self, bytes: u64) {
        self.shelf.limit(bytes);
    }

    /// How things stand, for whoever watches.
    pub fn standing(&self) -> Standing {
        Standing::of(&self.pool, &self.writers, &self.shelf)
    }

    /// What was counted so far.
    pub fn meters(&self) -> &DoorMeters {
        &self.shelf.meters
    }

    /// The clock that stamps what is recorded.
    pub fn clock(&self) -> &SteadyClock {
        &self.clock
    }

    /// Takes no more changes and finishes those that wait.
    pub fn stop(&self) {
        self.writers.stop();
    }
}

fn dropped() -> DoorError {
    DoorError::Broken("a change was dropped by its writer".to_owned())
}

fn in_savepoint<T, E: Failure>(
    conn: &mut Db,
    batch: &mut Batch,
    work: impl FnOnce(&mut Db) -> Result<T, E>,
) -> Result<T, E> {
    guarded(conn, batch, Result::is_ok, |conn, _| work(conn))
}
