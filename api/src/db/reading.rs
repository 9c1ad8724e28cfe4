//! How the record is read: the Fleet of a club, facts, lists. What must be newest asks the primary; what a request may
//! learn from a replica ([`Leave`]) asks that, unless it lacks what this process has shown or acknowledged already.

use std::sync::{Arc, PoisonError};
use std::time::Duration;

use diesel::r2d2::PooledConnection;
use preen_domain::fleet::Fleet;

use super::club::Club;
use super::conn::{Db, Opener};
use super::door::{Door, DoorError, Loaded, Span, Tables, find_club};
use super::fleet::{Held, Shelf};
use super::names::Names;
use super::replica::Leave;
use super::stretches::Source;
use crate::audit;

/// How new what is read must be.
enum Need {
    /// As new as can be.
    Newest,
    /// At least at this revision of this club, where the request may be answered by a replica.
    Reached(String, i64),
}

/// How long a read waits for the primary where a replica can be asked instead.
const PATIENCE: Duration = Duration::from_secs(2);

impl Door {
    /// The newest Fleet of a club; where the request may be answered by a replica, the newest that one has, but never
    /// one before what this process has shown or acknowledged.
    pub async fn fleet(self: &Arc<Self>, club: &str) -> Result<Held, DoorError> {
        if let (false, Some(held)) = (self.shelf.is_shared(), self.shelf.get(club)) {
            return Ok(held);
        }
        let of = club.to_owned();
        let told = self
            .read_as(self.floor_of(club), move |door, conn, is_behind| door.fleet_on(conn, &of, is_behind))
            .await;
        // What waits for a primary that is away is answered by what is in memory, which is newer than the replica.
        match (told, self.shelf.get(club), &self.replica, Leave::of_this_task()) {
            (Err(DoorError::Busy(_)), Some(held), Some(replica), Some(leave)) if replica.is_alone() => {
                leave.note(replica.behind().unwrap_or(Duration::MAX));
                Ok(held)
            }
            (told, ..) => told,
        }
    }

    fn fleet_on(&self, conn: &mut Db, club: &str, is_behind: bool) -> Result<Held, DoorError> {
        // The hash of the newest entry covers all before it, so that a Fleet which ends with it is the record's.
        let newest = audit::head(conn, club, i64::MAX)?;
        let turn = self.shelf.get(club).is_none().then(|| self.shelf.reading(club));
        let _one_reads = turn.as_ref().map(|turn| turn.lock().unwrap_or_else(PoisonError::into_inner));
        let held = match self.shelf.get(club) {
            Some(held) if held.head == newest.hash => return Ok(held),
            // Published since the replica was asked how far it is.
            Some(held) if is_behind && held.revision > newest.revision => return Ok(held),
            held => held,
        };
        let held = conn.read_steady(|conn| {
            let held = still_on_record(conn, &self.shelf, club, held)?;
            self.source(conn).bring_up(club, held, None)
        })?;
        self.shelf.publish(club, held.clone());
        if let Some(replica) = self.replica.as_ref().filter(|_| !is_behind) {
            replica.raise(club, held.revision);
        }
        Ok(held)
    }

    fn source<'a>(&'a self, conn: &'a mut Db) -> Source<'a> {
        Source { conn, others: Some(&self.pool), tables: self.tables }
    }

    /// What a read of a club must have reached so that nobody is shown less than before.
    fn floor_of(&self, club: &str) -> Need {
        let held = self.shelf.get(club).map_or(0, |held| held.revision);
        let floor = self.replica.as_ref().map_or(0, |replica| replica.floor(club));
        Need::Reached(club.to_owned(), held.max(floor))
    }

    /// The Fleet that is in memory just now, if any is.
    pub fn in_memory(&self, club: &str) -> Option<Held> {
        self.shelf.get(club)
    }

    /// The Fleet as it was known at a revision, built anew.
    pub async fn fleet_at(self: &Arc<Self>, club: &str, revision: i64) -> Result<Held, DoorError> {
        let of = club.to_owned();
        self.read_at(club, revision, move |door, conn| {
            conn.read_steady(|conn| door.source(conn).bring_up(&of, None, Some(revision)))
        })
        .await
    }

    /// The facts recorded in a span of revisions, oldest first.
    pub async fn facts(self: &Arc<Self>, club: &str, span: Span) -> Loaded {
        let of = club.to_owned();
        let load =
            move |door: &Self, conn: &mut Db| conn.read_steady(|conn| (door.tables.load)(conn, &of, span));
        match span.up_to {
            Some(up_to) => self.read_at(club, up_to, load).await,
            None => self.read(load).await,
        }
    }

    /// A connection of the pool, for work that runs off the request threads already.
    pub fn connection(&self) -> Result<PooledConnection<Opener>, DoorError> {
        match &self.replica {
            Some(replica) if replica.is_alone() => {
                Err(DoorError::Busy("the primary cannot be reached".to_owned()))
            }
            Some(_) => Ok(self.pool.get_timeout(PATIENCE)?),
            None => Ok(self.pool.get()?),
        }
    }

    /// Runs queries on a pooled connection, off the request's own thread, on what is newest.
    pub async fn read<T, E>(
        self: &Arc<Self>,
        work: impl FnOnce(&Self, &mut Db) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<DoorError> + Send + 'static,
    {
        self.read_as(Need::Newest, move |door, conn, _| work(door, conn)).await
    }

    /// The same on a record that is at a revision at least: a replica's, if the request may be answered by one.
    pub async fn read_at<T, E>(
        self: &Arc<Self>,
        club: &str,
        revision: i64,
        work: impl FnOnce(&Self, &mut Db) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<DoorError> + Send + 'static,
    {
        self.read_as(Need::Reached(club.to_owned(), revision), move |door, conn, _| work(door, conn)).await
    }

    async fn read_as<T, E>(
        self: &Arc<Self>,
        need: Need,
        work: impl FnOnce(&Self, &mut Db, bool) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<DoorError> + Send + 'static,
    {
        let (door, leave) = (Arc::clone(self), Leave::of_this_task());
        tokio::task::spawn_blocking(move || {
            let (mut conn, is_behind) = door.connect(need, leave.as_ref())?;
            work(&door, &mut conn, is_behind)
        })
        .await
        .map_err(|error| DoorError::Broken(error.to_string()))?
    }

    /// A connection to what has what is needed, and whether that is a replica.
    fn connect(
        &self,
        need: Need,
        leave: Option<&Leave>,
    ) -> Result<(PooledConnection<Opener>, bool), DoorError> {
        let Some((replica, leave)) = self.replica.as_ref().zip(leave) else {
            return Ok((self.connection()?, false));
        };
        match need {
            Need::Newest => match self.connection() {
                Ok(conn) => Ok((conn, false)),
                Err(away) => {
                    let (conn, behind) = replica.connection().ok_or(away)?;
                    leave.note(behind);
                    Ok((conn, true))
                }
            },
            Need::Reached(club, revision) => {
                if let Some((mut conn, behind)) = replica.connection()
                    && find_club(&mut conn, &club).is_ok_and(|row| row.revision >= revision)
                {
                    leave.note(behind);
                    return Ok((conn, true));
                }
                Ok((self.connection()?, false))
            }
        }
    }
}

/// A held Fleet, if the record still has the entry with which it ends. After a fail-over to a server that lacked the
/// newest commits, or after a restore, the same numbers may stand for something else; then it is forgotten. An embedded
/// database has no other server, and is not asked.
pub(super) fn still_on_record(
    conn: &mut Db,
    shelf: &Shelf,
    club: &str,
    held: Option<Held>,
) -> Result<Option<Held>, DoorError> {
    let Some(held) = held else { return Ok(None) };
    if matches!(conn, Db::Sqlite(_)) || audit::head(conn, club, held.revision)?.hash == held.head {
        return Ok(Some(held));
    }
    tracing::warn!(club, revision = held.revision, "the record lost what was held of it; it is read anew");
    shelf.forget_void(club, &held.head);
    Ok(None)
}

/// Brings a Fleet (or an empty one) up to a revision, or to the newest.
pub fn bring_up(
    conn: &mut Db,
    tables: Tables,
    club: &str,
    held: Option<Held>,
    up_to: Option<i64>,
) -> Result<Held, DoorError> {
    Source { conn, others: None, tables }.bring_up(club, held, up_to)
}

impl Source<'_> {
    fn bring_up(&mut self, club: &str, held: Option<Held>, up_to: Option<i64>) -> Result<Held, DoorError> {
        let row = find_club(self.conn, club)?;
        let target = up_to.unwrap_or(row.revision);
        self.bring_up_to(&row, held, target)
    }

    /// Brings a Fleet (or an empty one) up to a revision of a club whose row was read already.
    pub(super) fn bring_up_to(
        &mut self,
        row: &Club,
        held: Option<Held>,
        target: i64,
    ) -> Result<Held, DoorError> {
        let club = row.id.as_str();
        let mut held = match held {
            Some(held) if held.revision == target => return Ok(held),
            Some(held) if held.revision <= target => held,
            Some(_) | None => {
                let fleet = Arc::new(Fleet::new(row.for_fleet()?));
                Held {
                    revision: 0,
                    fleet,
                    names: Names::default(),
                    head: audit::ORIGIN.to_owned(),
                    head_at: None,
                }
            }
        };
        let (fleet, names) = (Arc::make_mut(&mut held.fleet), &mut held.names);
        self.each(club, (held.revision, target), &mut |recorded| {
            names.apply(&recorded.fact);
            fleet.apply(&recorded);
        })?;
        let head = audit::head(self.conn, club, target)?;
        (held.head, held.head_at) = (head.hash, head.recorded_at);
        Arc::make_mut(&mut held.fleet).reach(target);
        held.revision = target;
        Ok(held)
    }
}
