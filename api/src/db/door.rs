//! The write door: the one way a change of the record is made, and the way to the Fleet for those who read.
//!
//! Every change is one transaction (or one savepoint of a shared one): the club's revision is raised by one,
//! which locks the club; the Fleet is brought up to date; the caller's rules decide; facts and their entries
//! in the trail are written. After COMMIT the new Fleet is published.

use std::sync::Arc;

use preen_domain::facts::{Fact, Recorded};
use preen_domain::fleet::Fleet;
use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use tokio::sync::oneshot;
use uuid::Uuid;

use super::club::raise_revision;
use super::conn::{Db, OpenError, Place, Pool, open_pool};
use super::fitted;
use super::fleet::{Held, Shelf};
use super::names::Names;
use super::writer::{Batch, Finish, Writers};
use crate::audit;
use crate::state::Clock;

pub use super::club::{Club, clubs, find_club};
pub use super::fault::DoorError;

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

/// What the door must know of the nouns' tables, given to it so that it need not know the nouns.
#[derive(Clone, Copy)]
pub struct Tables {
    /// Reads the facts of a span of revisions, oldest first.
    pub load: fn(&mut Db, &str, Span) -> Loaded,
    /// Writes the row of a fact.
    pub insert: fn(&mut Db, &str, &Recorded<Fact>) -> Result<(), DoorError>,
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
    conn: &'a mut Db,
    tables: Tables,
    club: Club,
    now: Instant,
    by: MemberId,
    held: Held,
    ordinal: i32,
}

impl Change<'_> {
    /// The connection, for looking things up inside the transaction.
    pub fn conn(&mut self) -> &mut Db {
        self.conn
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

    /// The moment at which this change is recorded.
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
        audit::revision_of(self.conn, &self.club.id, id)
    }

    /// The Fleet as it was known at an earlier revision, built anew.
    pub fn fleet_at(&mut self, revision: i64) -> Result<Arc<Fleet>, DoorError> {
        Ok(bring_up(self.conn, self.tables, &self.club.id, None, Some(revision))?.fleet)
    }

    /// The facts recorded at an earlier revision.
    pub fn facts_of(&mut self, revision: i64) -> Result<Vec<Fact>, DoorError> {
        let span = Span { after: revision - 1, up_to: Some(revision) };
        let facts = (self.tables.load)(self.conn, &self.club.id, span)?;
        Ok(facts.into_iter().map(|recorded| recorded.fact).collect())
    }

    /// Writes a fact with its entry in the trail and takes it into the Fleet. Rules were asked before.
    pub fn record(&mut self, act: &str, fact: Fact) -> Result<Recorded<Fact>, DoorError> {
        let recorded =
            Recorded { fact, recorded_at: self.now, recorded_by: self.by, revision: self.held.revision };
        (self.tables.insert)(self.conn, &self.club.id, &recorded)?;
        let payload = audit::payload_of(&recorded.fact)?;
        self.note(act, recorded.fact.noun().as_str(), recorded.fact.id(), payload)?;
        self.held.names.apply(&recorded.fact);
        Arc::make_mut(&mut self.held.fleet).apply(&recorded);
        fitted::keep(self.conn, &self.club.id, &self.held.fleet, &recorded.fact)?;
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
        self.held.head = audit::append(self.conn, &self.club.id, &self.held.head, &entry, payload)?;
        self.ordinal += 1;
        Arc::make_mut(&mut self.held.fleet).reach(self.held.revision);
        Ok(())
    }
}

/// The door to one database.
pub struct Door {
    pool: Pool,
    writers: Writers,
    shelf: Arc<Shelf>,
    tables: Tables,
    clock: Clock,
    is_shared: bool,
}

impl Door {
    /// Opens the door to a database whose migrations are up to date.
    pub fn open(place: &Place, tables: Tables, clock: Clock) -> Result<Self, OpenError> {
        let shelf = Arc::new(Shelf::default());
        Ok(Self {
            pool: open_pool(place, 8)?,
            writers: Writers::start(place, &shelf)?,
            shelf,
            tables,
            clock,
            is_shared: matches!(place, Place::Server(_)),
        })
    }

    /// Makes one change. `work` looks, asks the rules and records; what it returns comes back after COMMIT.
    pub async fn write<T, E, W>(&self, club: &str, by: MemberId, work: W) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<DoorError> + Send + 'static,
        W: FnOnce(&mut Change<'_>) -> Result<Kept<T>, E> + Send + 'static,
    {
        let (answer, wait) = oneshot::channel();
        let club = club.to_owned();
        let (shelf, tables, clock) = (Arc::clone(&self.shelf), self.tables, self.clock.clone());
        let job = Box::new(move |conn: &mut Db, batch: &mut Batch| -> Finish {
            let result = change_in_savepoint(conn, batch, &shelf, tables, clock.now(), &club, by, work);
            Box::new(move |committed| {
                let result = match (result, committed) {
                    (Ok(value), Ok(())) => Ok(value),
                    (Ok(_), Err(error)) => Err(error.into()),
                    (Err(error), _) => Err(error),
                };
                // Nobody waits any more when the client has gone; the change stands all the same.
                drop(answer.send(result));
            })
        });
        self.writers.submit(job)?;
        wait.await.map_err(|_dropped| DoorError::Broken("a change was dropped by its writer".into()))?
    }

    /// Writes what is no part of the record, such as sessions and counts of sign-in attempts: no revision is
    /// raised and the trail learns nothing. It waits in the same queue, so that SQLite has one writer.
    pub async fn write_beside<T, E, W>(&self, work: W) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<DoorError> + Send + 'static,
        W: FnOnce(&mut Db) -> Result<T, E> + Send + 'static,
    {
        let (answer, wait) = oneshot::channel();
        let job = Box::new(move |conn: &mut Db, _: &mut Batch| -> Finish {
            let result = in_savepoint(conn, work);
            Box::new(move |committed| {
                let result = match (result, committed) {
                    (Ok(_), Err(error)) => Err(error.into()),
                    (result, _) => result,
                };
                drop(answer.send(result));
            })
        });
        self.writers.submit(job)?;
        wait.await.map_err(|_dropped| DoorError::Broken("a write was dropped by its writer".into()))?
    }

    /// The newest Fleet of a club.
    pub async fn fleet(self: &Arc<Self>, club: &str) -> Result<Held, DoorError> {
        if let (false, Some(held)) = (self.is_shared, self.shelf.get(club)) {
            return Ok(held);
        }
        let club = club.to_owned();
        self.read(move |door, conn| {
            let newest = find_club(conn, &club)?.revision;
            match door.shelf.get(&club) {
                Some(held) if held.revision >= newest => Ok(held),
                held => {
                    let held = conn.read_steady(|conn| bring_up(conn, door.tables, &club, held, None))?;
                    door.shelf.publish(&club, held.clone());
                    Ok(held)
                }
            }
        })
        .await
    }

    /// The Fleet that is in memory just now, if any is.
    pub fn in_memory(&self, club: &str) -> Option<Held> {
        self.shelf.get(club)
    }

    /// The Fleet as it was known at a revision, built anew.
    pub async fn fleet_at(self: &Arc<Self>, club: &str, revision: i64) -> Result<Held, DoorError> {
        let club = club.to_owned();
        self.read(move |door, conn| {
            conn.read_steady(|conn| bring_up(conn, door.tables, &club, None, Some(revision)))
        })
        .await
    }

    /// The facts recorded in a span of revisions, oldest first.
    pub async fn facts(self: &Arc<Self>, club: &str, span: Span) -> Loaded {
        let club = club.to_owned();
        self.read(move |door, conn| conn.read_steady(|conn| (door.tables.load)(conn, &club, span))).await
    }

    /// Whether changes are made in the order in which they were handed in: one writer makes them all.
    pub const fn is_in_order(&self) -> bool {
        !self.is_shared
    }

    /// Runs queries on a pooled connection, off the request's own thread.
    pub async fn read<T, E>(
        self: &Arc<Self>,
        work: impl FnOnce(&Self, &mut Db) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<DoorError> + Send + 'static,
    {
        let door = Arc::clone(self);
        tokio::task::spawn_blocking(move || {
            let mut conn = door.pool.get().map_err(DoorError::from)?;
            work(&door, &mut conn)
        })
        .await
        .map_err(|error| DoorError::Broken(error.to_string()))?
    }

    /// The clock that stamps what is recorded.
    pub fn clock(&self) -> &Clock {
        &self.clock
    }

    /// Takes no more changes and finishes those that wait.
    pub fn stop(&self) {
        self.writers.stop();
    }
}

fn in_savepoint<T, E: From<DoorError>>(
    conn: &mut Db,
    work: impl FnOnce(&mut Db) -> Result<T, E>,
) -> Result<T, E> {
    conn.begin_savepoint().map_err(DoorError::from)?;
    let result = work(conn);
    let ended = if result.is_ok() { conn.commit() } else { conn.roll_back() };
    ended.map_err(DoorError::from)?;
    result
}

#[expect(clippy::too_many_arguments, reason = "one caller; the parts come from four owners")]
fn change_in_savepoint<T, E: From<DoorError>>(
    conn: &mut Db,
    batch: &mut Batch,
    shelf: &Shelf,
    tables: Tables,
    now: Instant,
    club: &str,
    by: MemberId,
    work: impl FnOnce(&mut Change<'_>) -> Result<Kept<T>, E>,
) -> Result<T, E> {
    conn.begin_savepoint().map_err(DoorError::from)?;
    let result = change(conn, batch, shelf, tables, now, club, by, work);
    match result {
        Ok((Kept::Recorded(value), held)) => {
            conn.commit().map_err(DoorError::from)?;
            batch.working.insert(club.to_owned(), held);
            Ok(value)
        }
        Ok((Kept::Unchanged(value), _)) => {
            conn.roll_back().map_err(DoorError::from)?;
            Ok(value)
        }
        Err(error) => {
            conn.roll_back().map_err(DoorError::from)?;
            Err(error)
        }
    }
}

#[expect(clippy::too_many_arguments, reason = "one caller; the parts come from four owners")]
fn change<T, E: From<DoorError>>(
    conn: &mut Db,
    batch: &Batch,
    shelf: &Shelf,
    tables: Tables,
    now: Instant,
    club: &str,
    by: MemberId,
    work: impl FnOnce(&mut Change<'_>) -> Result<Kept<T>, E>,
) -> Result<(Kept<T>, Held), E> {
    let club = raise_revision(conn, club)?;
    let held = batch.working.get(&club.id).cloned().or_else(|| shelf.get(&club.id));
    let mut held = bring_up(conn, tables, &club.id, held, Some(club.revision - 1))?;
    held.revision = club.revision;
    let mut change = Change { conn, tables, club, now, by, held, ordinal: 0 };
    let kept = work(&mut change)?;
    if change.ordinal == 0 && matches!(kept, Kept::Recorded(_)) {
        return Err(DoorError::Broken("a change recorded nothing".into()).into());
    }
    Ok((kept, change.held))
}

/// Brings a Fleet (or an empty one) up to a revision, or to the newest.
pub fn bring_up(
    conn: &mut Db,
    tables: Tables,
    club: &str,
    held: Option<Held>,
    up_to: Option<i64>,
) -> Result<Held, DoorError> {
    let row = find_club(conn, club)?;
    let target = up_to.unwrap_or(row.revision);
    if let Some(held) = &held
        && held.revision == target
    {
        return Ok(held.clone());
    }
    let mut held = match held {
        Some(held) if held.revision <= target => held,
        Some(_) | None => {
            let fleet = Arc::new(Fleet::new(row.for_fleet()?));
            Held { revision: 0, fleet, names: Names::default(), head: audit::ORIGIN.to_owned() }
        }
    };
    let span = Span { after: held.revision, up_to: Some(target) };
    let fleet = Arc::make_mut(&mut held.fleet);
    for recorded in (tables.load)(conn, club, span)? {
        held.names.apply(&recorded.fact);
        fleet.apply(&recorded);
    }
    held.head = audit::head(conn, club, target)?;
    Arc::make_mut(&mut held.fleet).reach(target);
    held.revision = target;
    Ok(held)
}
