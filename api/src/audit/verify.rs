//! Walking the trail: does the chain hold, are the stored facts still what it says was recorded, and does what is
//! kept for speed say the same?
//!
//! What is named is the first entry that does not hold, in the order of recording; then rows that no entry knows,
//! then marks and projections.

use std::collections::{HashMap, HashSet};

use preen_domain::facts::{Fact, Noun};
use serde::Serialize;
use utoipa::ToSchema;

use super::chained::{Chained, Place, key_of, key_of_corrected};
use super::{EntryRow, ORIGIN, PayloadRow, chain, kept, payload_of};
use crate::db::conn::Db;
use crate::db::door::{DoorError, Tables, find_club};
use crate::db::stored::{RowKey, StoredRow};

/// What a walk along the trail of a club found.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Verdict {
    /// The club.
    pub club: String,
    /// Entries that were walked.
    pub entries: usize,
    /// Entries whose payload was erased with a person's data; their chain was still checked.
    pub erased: usize,
    /// The newest revision.
    pub revision: i64,
    /// The hash of the last entry that holds.
    pub head: String,
    /// The first thing that does not hold, if any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub broken: Option<Break>,
}

/// The first thing that does not hold.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Break {
    /// The revision of the entry.
    pub revision: i64,
    /// Its number within the revision.
    pub ordinal: i32,
    /// The kind of thing.
    pub noun: String,
    /// Which one.
    pub fact_id: String,
    /// What does not hold.
    pub text: String,
}

impl Break {
    /// A row that does not hold.
    pub(super) fn of_row(key: &RowKey, text: impl Into<String>) -> Self {
        Self {
            revision: key.revision,
            ordinal: 0,
            noun: key.noun.to_string(),
            fact_id: key.id.clone(),
            text: text.into(),
        }
    }
}

/// Walks the whole trail of a club inside one steady read.
pub fn verify(conn: &mut Db, tables: Tables, club: &str) -> Result<Verdict, DoorError> {
    conn.read_steady(|conn| walk(conn, tables, club))
}

/// The same inside a transaction that is open already.
pub fn walk(conn: &mut Db, tables: Tables, club: &str) -> Result<Verdict, DoorError> {
    let revision = find_club(conn, club)?.revision;
    let chained = Chained::read(conn, club)?;
    let stored = (tables.stored)(conn, club, &chained.keys())?;
    let mut walk = Walk::new(&chained, stored.rows, stored.unread);
    let mut verdict = Verdict {
        club: club.to_owned(),
        entries: 0,
        erased: 0,
        revision,
        head: ORIGIN.to_owned(),
        broken: None,
    };
    verdict.broken = walk.along(&mut verdict);
    if verdict.broken.is_none() {
        verdict.broken = walk.beyond(&verdict);
    }
    let torn = chained.torn.as_ref().map(|text| ("trail".to_owned(), text));
    let torn = torn.or(stored.torn.first().map(|(noun, text)| (noun.to_string(), text)));
    if let (None, Some((noun, text))) = (&verdict.broken, torn) {
        let text = format!("the table cannot be read as a whole: {text}");
        verdict.broken = Some(Break { revision, ordinal: 0, noun, fact_id: String::new(), text });
    }
    if verdict.broken.is_none() {
        verdict.broken = kept::fault(conn, club, revision, &walk.claimed)?;
    }
    Ok(verdict)
}

/// A walk under way.
struct Walk<'a> {
    chained: &'a Chained,
    /// Rows that no entry has claimed so far.
    rows: HashMap<RowKey, StoredRow>,
    /// Rows that cannot be read.
    unread: HashMap<RowKey, String>,
    /// Rows that cannot be told apart from others.
    doubled: Vec<RowKey>,
    /// Rows that stand for entries, in their order.
    claimed: Vec<StoredRow>,
    /// Rows that no entry speaks of.
    strangers: Vec<RowKey>,
    /// The last revision at which each member's personal data was erased.
    erased_at: HashMap<&'a str, i64>,
}

impl<'a> Walk<'a> {
    fn new(chained: &'a Chained, stored: Vec<StoredRow>, unread: Vec<(RowKey, String)>) -> Self {
        let mut rows = HashMap::new();
        let mut doubled = Vec::new();
        for row in stored {
            let key = row.key();
            if let Some(row) = rows.insert(key.clone(), row) {
                doubled.push(row.key());
            }
        }
        let known: HashSet<RowKey> = chained.keys().into_iter().collect();
        let mut strangers: Vec<RowKey> = rows.keys().filter(|key| !known.contains(key)).cloned().collect();
        strangers.sort_by_key(|key| (key.revision, key.noun, key.id.clone()));
        let mut erased_at = HashMap::new();
        for entry in chained.entries.values().flatten() {
            if entry.act == super::ERASURE {
                erased_at.insert(entry.fact_id.as_str(), entry.revision);
            }
        }
        let unread = unread.into_iter().collect();
        Self { chained, rows, unread, doubled, claimed: Vec::new(), strangers, erased_at }
    }

    /// Goes from entry to entry, and stops at the first that does not hold.
    fn along(&mut self, verdict: &mut Verdict) -> Option<Break> {
        let chained = self.chained;
        let mut last_revision = 0;
        for (place, entry) in &chained.entries {
            let entry = match entry {
                Ok(entry) => entry,
                Err(text) => {
                    let text = format!("its entry cannot be read: {text}");
                    return Some(self.nameless(*place, last_revision, text));
                }
            };
            if let Some(text) = trouble_of_entry(entry, &verdict.head, last_revision) {
                return Some(self.unchained(*place, entry, last_revision, text));
            }
            let payload = match chained.payloads.get(place) {
                Some(Ok(payload)) => Some(payload),
                Some(Err(text)) => return Some(named(entry, format!("its payload cannot be read: {text}"))),
                None => None,
            };
            if let Some(text) = self.trouble_of_content(entry, payload) {
                return Some(named(entry, text));
            }
            verdict.entries += 1;
            verdict.erased += usize::from(payload.is_none());
            verdict.head.clone_from(&entry.hash);
            last_revision = entry.revision;
        }
        if last_revision == verdict.revision {
            return None;
        }
        let text =
            format!("the club is at revision {}, but the trail ends at {last_revision}", verdict.revision);
        let lost = self.strangers.iter().find(|key| key.revision > last_revision);
        Some(lost.map_or_else(
            || Break {
                revision: verdict.revision,
                ordinal: 0,
                noun: "clubs".to_owned(),
                fact_id: verdict.club.clone(),
                text: text.clone(),
            },
            |key| Break::of_row(key, &text),
        ))
    }

    /// What no entry speaks of, and the marks of rows that others took the place of.
    fn beyond(&self, verdict: &Verdict) -> Option<Break> {
        let mut unknown: Vec<&RowKey> = self.rows.keys().chain(&self.doubled).collect();
        unknown.sort_by_key(|key| (key.revision, key.noun, &key.id));
        if let Some(key) = unknown.first() {
            return Some(Break::of_row(key, "a fact is stored that the trail does not know"));
        }
        let mut places: Vec<&Place> =
            self.chained.payloads.keys().filter(|place| !self.chained.entries.contains_key(place)).collect();
        places.sort();
        if let Some((revision, ordinal)) = places.first() {
            let (noun, fact_id) = ("trail".to_owned(), verdict.club.clone());
            let text = "a payload is stored that belongs to no entry".to_owned();
            return Some(Break { revision: *revision, ordinal: *ordinal, noun, fact_id, text });
        }
        kept::wrong_mark(&self.claimed)
    }

    /// Names an entry that is not chained: if it hides a row whose own entry is gone, that one.
    fn unchained(&self, place: Place, entry: &EntryRow, last_revision: i64, text: String) -> Break {
        let has_row = key_of(entry).is_some_and(|key| self.rows.contains_key(&key));
        let lost = self.strangers.iter().find(|key| key.revision >= last_revision);
        match lost {
            Some(key) if key.revision < place.0 || !has_row => Break::of_row(key, text),
            Some(_) | None => named(entry, text),
        }
    }

    /// Names an entry that cannot be read by the row it must have been about.
    fn nameless(&self, (revision, ordinal): Place, last_revision: i64, text: String) -> Break {
        match self.strangers.iter().find(|key| key.revision >= last_revision) {
            Some(key) => Break::of_row(key, text),
            None => Break { revision, ordinal, noun: "trail".to_owned(), fact_id: String::new(), text },
        }
    }

    /// What does not hold of what an entry stands for. Its rows are claimed.
    fn trouble_of_content(&mut self, entry: &EntryRow, payload: Option<&PayloadRow>) -> Option<String> {
        if let Some(payload) = payload
            && chain::digest(&payload.salt, &payload.payload) != entry.digest
        {
            return Some("the kept payload is not what was recorded".into());
        }
        let key = key_of(entry);
        let is_erased = payload.is_none();
        let erasure = self.erased_at.get(entry.fact_id.as_str());
        if is_erased
            && !erasure.is_some_and(|at| entry.noun == Noun::Members.as_str() && *at > entry.revision)
        {
            return Some("its payload was taken out, and no erasure is on record".into());
        }
        let key = key?;
        if let Some(text) = self.unread.get(&key) {
            return Some(format!("its fact cannot be read: {text}"));
        }
        let Some(row) = self.rows.remove(&key) else { return Some("its fact is no longer stored".into()) };
        if let Some(text) = trouble_of_row(&row, entry, false) {
            return Some(text);
        }
        let fact = match &row.fact {
            Ok(fact) => fact,
            Err(text) => return Some(format!("its fact cannot be read: {text}")),
        };
        let trouble = match payload {
            Some(payload) => differs(fact, key.noun, payload),
            None => matches!(fact, Fact::Member(member) if member.name.is_some())
                .then(|| "its personal data were erased, and a name is stored again".to_owned()),
        };
        let trouble = trouble.or_else(|| match fact {
            Fact::Correction(correction) if !correction.is_void => {
                let corrected = key_of_corrected(correction, entry.revision);
                let fact = correction.fact.clone();
                self.trouble_of_corrected(entry, &corrected, fact.unwrap_or_default())
            }
            _ => None,
        });
        self.claimed.push(row);
        trouble
    }

    /// What does not hold of the row that shows what a correction says.
    fn trouble_of_corrected(
        &mut self,
        entry: &EntryRow,
        key: &RowKey,
        json: serde_json::Value,
    ) -> Option<String> {
        let Some(row) = self.rows.remove(key) else {
            return Some(format!("the corrected content of {} {} is no longer stored", key.noun, key.id));
        };
        if let Some(text) = trouble_of_row(&row, entry, true) {
            return Some(text);
        }
        let wanted = Fact::from_json(key.noun, json);
        let trouble = match (&row.fact, wanted) {
            (Err(text), _) => Some(format!("the corrected content cannot be read: {text}")),
            (Ok(fact), Ok(wanted)) if *fact == wanted => None,
            (Ok(_), _) => {
                Some(format!("the corrected content of {} {} is not what was recorded", key.noun, key.id))
            }
        };
        self.claimed.push(row);
        trouble
    }
}

fn named(entry: &EntryRow, text: String) -> Break {
    Break {
        revision: entry.revision,
        ordinal: entry.ordinal,
        noun: entry.noun.clone(),
        fact_id: entry.fact_id.clone(),
        text,
    }
}

/// What does not hold of an entry itself.
pub(super) fn trouble_of_entry(entry: &EntryRow, head: &str, last_revision: i64) -> Option<String> {
    if entry.previous_hash != head {
        return Some("it is not chained to the entry before it: an entry was taken out or changed".into());
    }
    if chain::hash(entry) != entry.hash {
        return Some("its hash does not fit its content: the entry was changed".into());
    }
    if entry.revision > last_revision + 1 {
        return Some(format!("revisions are missing: {} follows {last_revision}", entry.revision));
    }
    None
}

/// What does not hold of the stamp of a row.
fn trouble_of_row(row: &StoredRow, entry: &EntryRow, is_correction: bool) -> Option<String> {
    if row.is_correction != is_correction {
        return Some("its row says wrongly whether it shows a corrected content".into());
    }
    if row.recorded_at != entry.recorded_at || row.recorded_by != entry.recorded_by {
        return Some("the stored fact says another time or member than was recorded".into());
    }
    None
}

/// Whether a stored fact is something else than its payload says.
fn differs(fact: &Fact, noun: Noun, payload: &PayloadRow) -> Option<String> {
    let recorded =
        serde_json::from_str(&payload.payload).ok().and_then(|json| Fact::from_json(noun, json).ok());
    // Compared as facts, so that a later version of a shape that writes more fields still agrees.
    if recorded.as_ref() == Some(fact) {
        return None;
    }
    match payload_of(fact) {
        Ok(text) if text == payload.payload => None,
        Ok(_) | Err(_) => Some("the stored fact is not what was recorded".into()),
    }
}
