//! The one loader: puts a club with its trail, word for word, into a database that does not have it yet, and makes
//! everything anew that is kept beside the facts. All of it or nothing is kept, and only if the trail holds afterwards.
//!
//! Facts are only ever added, so any revision up to the newest can be had: the rest is left out. What was erased later
//! than that stays erased, and so does the entry that says so: the erasure is repeated at the end.

use std::collections::{BTreeMap, HashMap};

use preen_domain::facts::{Fact, Noun, Recorded};
use preen_domain::fleet::Fleet;
use preen_domain::time::Instant;
use uuid::Uuid;

use super::lines::{TrailLine, put};
use super::verify::{Break, Verdict, trouble_of_entry, walk};
use super::{ERASURE, Entry, ORIGIN, append, payload_of};
use crate::db::club::{Club, begin_again, reach_revision};
use crate::db::conn::Db;
use crate::db::door::{DoorError, Tables, bring_up};
use crate::db::fitted;

/// Everything of one revision.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Its entries, in their order.
    pub entries: Vec<TrailLine>,
    /// Its facts, in any order.
    pub facts: Vec<Recorded<Fact>>,
}

/// How far to go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Until {
    /// To the newest.
    Newest,
    /// Up to and including a revision.
    Revision(i64),
    /// Up to and including what was recorded at a moment.
    Moment(Instant),
}

/// What was loaded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rebuilt {
    /// The newest revision.
    pub revision: i64,
    /// The hash of its last entry.
    pub head: String,
    /// Entries of the trail.
    pub entries: usize,
    /// Erasures that came later and were repeated at the end.
    pub erasures_repeated: usize,
}

/// Why nothing was loaded.
#[derive(Debug, thiserror::Error)]
pub enum RebuildError {
    /// The club is there already.
    #[error("there is a club `{0}` with a record of its own already: choose another database")]
    Exists(String),
    /// There is no such point.
    #[error("{0}")]
    NoSuchPoint(String),
    /// An entry or its fact does not fit.
    #[error("revision {} entry {} ({} {}): {}", .0.revision, .0.ordinal, .0.noun, .0.fact_id, .0.text)]
    Broken(Break),
    /// What comes in cannot be read.
    #[error("{0}")]
    Unreadable(String),
    /// The database does not take it.
    #[error(transparent)]
    Door(#[from] DoorError),
}

impl From<diesel::result::Error> for RebuildError {
    fn from(error: diesel::result::Error) -> Self {
        Self::Door(error.into())
    }
}

/// Loads a club in one transaction; `finish` runs at its end, when the trail was found to hold.
///
/// # Errors
/// Nothing of it was kept.
pub fn rebuild<T>(
    conn: &mut Db,
    tables: Tables,
    club: &Club,
    steps: &mut dyn Iterator<Item = Result<Step, RebuildError>>,
    until: Until,
    finish: impl FnOnce(&mut Db, &Fleet) -> Result<T, RebuildError>,
) -> Result<(Rebuilt, T), RebuildError> {
    conn.begin_write()?;
    let result = load(conn, tables, club, steps, until, finish);
    match &result {
        Ok(_) => conn.commit()?,
        // The first trouble is the one to tell.
        Err(_) => drop(conn.roll_back()),
    }
    result
}

fn load<T>(
    conn: &mut Db,
    tables: Tables,
    club: &Club,
    steps: &mut dyn Iterator<Item = Result<Step, RebuildError>>,
    until: Until,
    finish: impl FnOnce(&mut Db, &Fleet) -> Result<T, RebuildError>,
) -> Result<(Rebuilt, T), RebuildError> {
    if !begin_again(conn, club)? {
        return Err(RebuildError::Exists(club.id.clone()));
    }
    let mut loading = Loading::new(conn, tables, &club.id);
    let mut newest = 0;
    for step in steps {
        let step = step?;
        let Some(first) = step.entries.first() else { continue };
        newest = first.revision;
        let is_wanted = match until {
            Until::Newest => true,
            Until::Revision(revision) => first.revision <= revision,
            Until::Moment(at) => first.recorded_at_us <= at.micros(),
        };
        if is_wanted {
            loading.take(step)?;
        } else {
            loading.look_for_erasures(&step);
        }
    }
    match until {
        Until::Revision(revision) if !(1..=newest).contains(&revision) => {
            let text = format!("there is no revision {revision}: the newest is {newest}");
            return Err(RebuildError::NoSuchPoint(text));
        }
        _ if loading.revision == 0 => {
            let text = "nothing was on record then: choose a later point".to_owned();
            return Err(RebuildError::NoSuchPoint(text));
        }
        Until::Newest | Until::Revision(_) | Until::Moment(_) => {}
    }
    let erasures_repeated = loading.repeat_erasures()?;
    let (revision, head, entries) = (loading.revision, loading.head, loading.entries);
    reach_revision(conn, &club.id, revision)?;
    let held = bring_up(conn, tables, &club.id, None, None)?;
    fitted::make_anew(conn, &club.id, &held.fleet)?;
    let verdict: Verdict = walk(conn, tables, &club.id)?;
    if let Some(broken) = verdict.broken {
        return Err(RebuildError::Broken(broken));
    }
    let done = finish(conn, &held.fleet)?;
    Ok((Rebuilt { revision, head, entries, erasures_repeated }, done))
}

/// A club that is being loaded.
struct Loading<'a> {
    conn: &'a mut Db,
    tables: Tables,
    club: &'a str,
    revision: i64,
    head: String,
    entries: usize,
    /// The newest version of each member whose personal data is gone, without its erasure so far.
    bare: BTreeMap<String, Option<Recorded<Fact>>>,
    /// Later erasures of those, in their order.
    erasures: Vec<TrailLine>,
}

impl<'a> Loading<'a> {
    fn new(conn: &'a mut Db, tables: Tables, club: &'a str) -> Self {
        Self {
            conn,
            tables,
            club,
            revision: 0,
            head: ORIGIN.to_owned(),
            entries: 0,
            bare: BTreeMap::new(),
            erasures: Vec::new(),
        }
    }

    fn take(&mut self, step: Step) -> Result<(), RebuildError> {
        let mut facts: HashMap<(Noun, String), Recorded<Fact>> = step
            .facts
            .into_iter()
            .map(|fact| ((fact.fact.noun(), fact.fact.id().to_string()), fact))
            .collect();
        for entry in &step.entries {
            let named = |text: String| RebuildError::Broken(broken(entry, text));
            if let Some(text) = trouble_of_entry(&entry.row(self.club), &self.head, self.revision) {
                return Err(named(text));
            }
            put(self.conn, self.club, entry).map_err(|error| told(error, entry))?;
            (self.head, self.revision) = (entry.hash.clone(), entry.revision);
            self.entries += 1;
            let Ok(noun) = entry.noun.parse::<Noun>() else { continue };
            let Some(fact) = facts.remove(&(noun, entry.fact_id.clone())) else {
                return Err(named("its fact is missing".to_owned()));
            };
            if noun == Noun::Members {
                self.note_member(entry, &fact);
            }
            self.put_fact(&fact).map_err(|error| told(error, entry))?;
        }
        match (facts.keys().min(), step.entries.last()) {
            (Some((noun, id)), Some(entry)) => {
                let text = format!("{noun} {id} belongs to this revision, and the trail does not know it");
                Err(RebuildError::Broken(broken(entry, text)))
            }
            _ => Ok(()),
        }
    }

    /// Writes a fact with the marks that it leaves on those before it.
    fn put_fact(&mut self, fact: &Recorded<Fact>) -> Result<(), DoorError> {
        let (conn, tables, club, revision) = (&mut *self.conn, self.tables, self.club, fact.revision);
        if fact.fact.noun().is_master_data() {
            (tables.replace)(conn, club, fact.fact.noun(), fact.fact.id(), revision)?;
        }
        let Fact::Correction(correction) = &fact.fact else { return (tables.insert)(conn, club, fact) };
        (tables.replace)(conn, club, correction.noun, correction.original, revision)?;
        (tables.insert)(conn, club, fact)?;
        let Some(json) = &correction.fact else { return Ok(()) };
        let corrected = Fact::from_json(correction.noun, json.clone())
            .map_err(|error| DoorError::Broken(format!("the corrected content cannot be read: {error}")))?;
        (tables.insert_corrected)(conn, club, &fact.with(corrected))
    }

    /// Keeps in mind whose personal data is gone though nothing so far says why.
    fn note_member(&mut self, entry: &TrailLine, fact: &Recorded<Fact>) {
        if entry.act == ERASURE {
            self.bare.remove(&entry.fact_id);
        }
        if entry.made_of.is_none() {
            self.bare.insert(entry.fact_id.clone(), None);
        }
        if let Some(newest) = self.bare.get_mut(&entry.fact_id) {
            *newest = Some(fact.clone());
        }
    }

    fn look_for_erasures(&mut self, step: &Step) {
        let of_bare = step.entries.iter().filter(|entry| {
            entry.act == ERASURE
                && self.bare.contains_key(&entry.fact_id)
                && !self.erasures.iter().any(|known| known.fact_id == entry.fact_id)
        });
        let of_bare: Vec<TrailLine> = of_bare.cloned().collect();
        self.erasures.extend(of_bare);
    }

    /// Says again, after the last revision that was wanted, what was erased later.
    fn repeat_erasures(&mut self) -> Result<usize, RebuildError> {
        let erasures = std::mem::take(&mut self.erasures);
        for line in &erasures {
            let Some(Some(newest)) = self.bare.get(&line.fact_id).cloned() else { continue };
            let Fact::Member(mut member) = newest.fact else { continue };
            member.name = None;
            self.revision += 1;
            let unreadable = |text: String| RebuildError::Broken(broken(line, text));
            let recorded = Recorded {
                fact: Fact::Member(member),
                recorded_at: Instant::from_micros(line.recorded_at_us),
                recorded_by: line.recorded_by.parse().map_err(|error| unreadable(format!("{error}")))?,
                revision: self.revision,
            };
            let fact_id: Uuid = recorded.fact.id();
            let entry = Entry {
                revision: self.revision,
                ordinal: 0,
                recorded_at: recorded.recorded_at,
                recorded_by: recorded.recorded_by,
                act: ERASURE.to_owned(),
                noun: Noun::Members.to_string(),
                fact_id,
            };
            self.put_fact(&recorded)?;
            self.head = append(self.conn, self.club, &self.head, &entry, payload_of(&recorded.fact)?)?;
            self.entries += 1;
        }
        Ok(erasures.len())
    }
}

fn broken(entry: &TrailLine, text: String) -> Break {
    Break {
        revision: entry.revision,
        ordinal: entry.ordinal,
        noun: entry.noun.clone(),
        fact_id: entry.fact_id.clone(),
        text,
    }
}

/// What the database refuses of an entry is the entry's fault; that there is no room is not.
fn told(error: DoorError, entry: &TrailLine) -> RebuildError {
    match error {
        DoorError::Database(_) | DoorError::PlaceTaken(_) | DoorError::Broken(_) => {
            RebuildError::Broken(broken(entry, format!("the database does not take it: {error}")))
        }
        other => RebuildError::Door(other),
    }
}
