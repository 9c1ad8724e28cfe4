//! Walking the trail: does the chain hold, and are the stored facts still what it says was recorded?

use std::collections::HashMap;

use diesel::prelude::*;
use preen_domain::facts::{Fact, Noun, Recorded};
use serde::Serialize;
use utoipa::ToSchema;

use super::{EntryRow, ORIGIN, PayloadRow, chain, payload_of, trail, trail_payloads};
use crate::db::conn::Db;
use crate::db::door::{DoorError, Span, Tables, find_club};

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

/// Walks the whole trail of a club inside one steady read.
pub fn verify(conn: &mut Db, tables: Tables, club: &str) -> Result<Verdict, DoorError> {
    conn.read_steady(|conn| walk(conn, tables, club))
}

fn walk(conn: &mut Db, tables: Tables, club: &str) -> Result<Verdict, DoorError> {
    let revision = find_club(conn, club)?.revision;
    let entries: Vec<EntryRow> = trail::table
        .filter(trail::club_id.eq(club))
        .order((trail::revision.asc(), trail::ordinal.asc()))
        .load(conn)?;
    let payloads: Vec<PayloadRow> =
        trail_payloads::table.filter(trail_payloads::club_id.eq(club)).load(conn)?;
    let payloads: HashMap<(i64, i32), PayloadRow> =
        payloads.into_iter().map(|row| ((row.revision, row.ordinal), row)).collect();
    let mut verdict = Verdict {
        club: club.to_owned(),
        entries: 0,
        erased: 0,
        revision,
        head: ORIGIN.to_owned(),
        broken: None,
    };
    let stored = match (tables.load)(conn, club, Span { after: 0, up_to: None }) {
        Ok(stored) => stored,
        Err(DoorError::Broken(text)) => {
            let (noun, fact_id) = ("facts".to_owned(), String::new());
            verdict.broken = Some(Break { revision, ordinal: 0, noun, fact_id, text });
            return Ok(verdict);
        }
        Err(error) => return Err(error),
    };
    let mut stored: HashMap<(i64, Noun, String), Recorded<Fact>> = stored
        .into_iter()
        .map(|fact| ((fact.revision, fact.fact.noun(), fact.fact.id().to_string()), fact))
        .collect();

    let mut last_revision = 0;
    for entry in &entries {
        let payload = payloads.get(&(entry.revision, entry.ordinal));
        let trouble = trouble_of(entry, &verdict.head, last_revision, payload, &mut stored);
        if let Some(text) = trouble {
            verdict.broken = Some(Break {
                revision: entry.revision,
                ordinal: entry.ordinal,
                noun: entry.noun.clone(),
                fact_id: entry.fact_id.clone(),
                text,
            });
            return Ok(verdict);
        }
        verdict.entries += 1;
        verdict.erased += usize::from(payload.is_none());
        verdict.head.clone_from(&entry.hash);
        last_revision = entry.revision;
    }
    verdict.broken = if last_revision == revision {
        stored.into_values().min_by_key(|fact| fact.revision).map(|fact| Break {
            revision: fact.revision,
            ordinal: 0,
            noun: fact.fact.noun().to_string(),
            fact_id: fact.fact.id().to_string(),
            text: "a fact is stored that the trail does not know".to_owned(),
        })
    } else {
        Some(Break {
            revision,
            ordinal: 0,
            noun: "clubs".to_owned(),
            fact_id: club.to_owned(),
            text: format!("the club is at revision {revision}, but the trail ends at {last_revision}"),
        })
    };
    Ok(verdict)
}

/// What does not hold of one entry. Its fact is taken out of `stored`.
fn trouble_of(
    entry: &EntryRow,
    head: &str,
    last_revision: i64,
    payload: Option<&PayloadRow>,
    stored: &mut HashMap<(i64, Noun, String), Recorded<Fact>>,
) -> Option<String> {
    if entry.previous_hash != head {
        return Some("it is not chained to the entry before it: an entry was taken out or changed".into());
    }
    if chain::hash(entry) != entry.hash {
        return Some("its hash does not fit its content: the entry was changed".into());
    }
    if entry.revision > last_revision + 1 {
        return Some(format!("revisions are missing: {} follows {last_revision}", entry.revision));
    }
    if let Some(payload) = payload
        && chain::digest(&payload.salt, &payload.payload) != entry.digest
    {
        return Some("the kept payload is not what was recorded".into());
    }
    // Tokens and the like are no facts: their entry has a payload and nothing more.
    let noun = entry.noun.parse::<Noun>().ok()?;
    let Some(fact) = stored.remove(&(entry.revision, noun, entry.fact_id.clone())) else {
        return Some("its fact is no longer stored".into());
    };
    if fact.recorded_at.micros() != entry.recorded_at || fact.recorded_by.to_string() != entry.recorded_by {
        return Some("the stored fact says another time or member than was recorded".into());
    }
    let payload = payload?;
    let recorded =
        serde_json::from_str(&payload.payload).ok().and_then(|json| Fact::from_json(noun, json).ok());
    // Compared as facts, so that a later version of a shape that writes more fields still agrees.
    if recorded.as_ref() == Some(&fact.fact) {
        return None;
    }
    match payload_of(&fact.fact) {
        Ok(text) if text == payload.payload => None,
        Ok(_) | Err(_) => Some("the stored fact is not what was recorded".into()),
    }
}
