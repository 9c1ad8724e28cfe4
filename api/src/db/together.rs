//! Several changes of one club made together: each is decided in memory, one after the other, and what all of them
//! record is written at the end, table by table.
//!
//! Here nothing may go wrong. Whatever does (the database refuses a row, there is no room, a defect) takes all of them
//! back, and the door makes them again one by one, each in a savepoint of its own: then it is known which of them it was.

use std::collections::{BTreeMap, HashSet};

use preen_domain::facts::{Fact, Noun, Recorded};
use uuid::Uuid;

use super::club::{Club, find_club, reach_revision};
use super::conn::Db;
use super::door::{Change, Kept, Tables};
use super::fault::{DoorError, Failure as _};
use super::fleet::Held;
use super::names::{self, Names};
use super::turn::{Changes, Setting, guarded, guarded_as_first};
use super::writer::Batch;
use super::written::{NewRow, insert, unknown};
use crate::audit::Link;

/// What changes made together have recorded and not yet written.
pub(super) struct Gathered {
    /// Ids that were asked about and under which nothing is on record yet.
    fresh: HashSet<Uuid>,
    names: Vec<NewRow>,
    /// Tags among those names.
    tags: HashSet<(Noun, String)>,
    /// Rows of facts, by table. They point at names alone, so that the order of tables does not matter.
    facts: BTreeMap<&'static str, Vec<NewRow>>,
    entries: Vec<NewRow>,
    payloads: Vec<NewRow>,
    /// What went wrong with writing.
    failed: Option<DoorError>,
}

impl Gathered {
    fn new(fresh: HashSet<Uuid>) -> Self {
        Self {
            fresh,
            names: Vec::new(),
            tags: HashSet::new(),
            facts: BTreeMap::new(),
            entries: Vec::new(),
            payloads: Vec::new(),
            failed: None,
        }
    }

    /// Whether nothing is on record under an id, as far as that was asked beforehand.
    pub(super) fn is_fresh(&self, id: Uuid) -> bool {
        self.fresh.contains(&id)
    }

    /// Whether an item that is not written yet bears a tag.
    pub(super) fn bears(&self, noun: Noun, tag: &str) -> bool {
        !self.tags.is_empty() && self.tags.contains(&(noun, tag.to_owned()))
    }

    /// Takes in a fact.
    pub(super) fn take(
        &mut self,
        conn: &mut Db,
        tables: Tables,
        club: &str,
        recorded: &Recorded<Fact>,
        known: &Names,
    ) -> Result<(), DoorError> {
        let (noun, id) = (recorded.fact.noun(), recorded.fact.id());
        let is_fresh = self.fresh.remove(&id);
        if names::is_kept(&recorded.fact) {
            if is_fresh || (Names::holds(noun) && !known.knows(id)) {
                self.tags.extend(recorded.fact.tag().map(|tag| (noun, tag.as_str().to_owned())));
                self.names.push(names::row(club, &recorded.fact));
            } else {
                self.write(conn);
                names::keep(conn, club, &recorded.fact)?;
            }
        }
        let row = (tables.row)(club, recorded)?;
        self.facts.entry(row.insert).or_default().push(row);
        Ok(())
    }

    /// Takes in an entry of the trail.
    pub(super) fn chain(&mut self, link: Link) {
        self.entries.push(link.entry);
        self.payloads.push(link.payload);
    }

    /// Writes what was gathered. What goes wrong is told at the end.
    pub(super) fn write(&mut self, conn: &mut Db) {
        if self.failed.is_none() {
            self.failed = self.try_write(conn).err().map(DoorError::from);
        }
    }

    fn try_write(&mut self, conn: &mut Db) -> diesel::QueryResult<()> {
        self.tags.clear();
        insert(conn, &std::mem::take(&mut self.names))?;
        for rows in std::mem::take(&mut self.facts).into_values() {
            insert(conn, &rows)?;
        }
        insert(conn, &std::mem::take(&mut self.entries))?;
        insert(conn, &std::mem::take(&mut self.payloads))
    }
}

/// Makes changes together; `false` if they have to be made one by one, or if the transaction is lost.
pub(super) fn together(
    conn: &mut Db,
    batch: &mut Batch,
    setting: &Setting<'_>,
    senders: &mut [Box<dyn Changes>],
    is_first: bool,
) -> bool {
    let full = batch.full;
    let work = |conn: &mut Db, batch: &mut Batch| gather(conn, batch, setting, senders);
    let made = if is_first {
        guarded_as_first(conn, batch, setting.club, work)
    } else {
        guarded(conn, batch, Result::is_ok, work)
    };
    // What finds no room is counted where it is made again.
    batch.full = full;
    match made {
        Ok(held) => {
            if let Some(held) = held {
                batch.working.insert(setting.club.to_owned(), held);
            }
            true
        }
        Err(_) => {
            tracing::debug!("changes made together are made again one by one");
            false
        }
    }
}

/// The Fleet with all of them, if anything was recorded.
fn gather(
    conn: &mut Db,
    batch: &Batch,
    setting: &Setting<'_>,
    senders: &mut [Box<dyn Changes>],
) -> Result<Option<Held>, DoorError> {
    // The club is locked since the transaction began: its row says what stays true until the end.
    let club = find_club(conn, setting.club)?;
    let mut held = setting.held_at(conn, batch, &club, club.revision)?;
    let ids: Vec<Uuid> = senders.iter().flat_map(|changes| changes.ids()).copied().collect();
    let mut gathered = Gathered::new(unknown(conn, &club.id, &ids)?);
    for changes in senders {
        for number in 0..changes.count() {
            let before = held.revision;
            held.revision = before + 1;
            let mut change = Change {
                tables: setting.house.tables,
                now: setting.now_after(&held),
                by: changes.by(),
                club: Club { revision: held.revision, ..club.clone() },
                ordinal: 0,
                conn: &mut *conn,
                held,
                gathered: Some(&mut gathered),
            };
            let said = changes.make(number, &mut change);
            let ordinal = change.ordinal;
            held = change.held;
            match (said, ordinal) {
                (Ok(Kept::Recorded(())), 1..) | (Ok(Kept::Unchanged(())), 0) => {}
                (Err(why), 0) if !why.is_to_be_sent_again() => {}
                // Something of it may have been kept.
                (_, _) => return Err(DoorError::Broken("one of several changes failed".to_owned())),
            }
            if ordinal == 0 {
                held.revision = before;
            }
        }
    }
    gathered.write(conn);
    if let Some(error) = gathered.failed {
        return Err(error);
    }
    if held.revision == club.revision {
        return Ok(None);
    }
    reach_revision(conn, &club.id, held.revision)?;
    Ok(Some(held))
}
