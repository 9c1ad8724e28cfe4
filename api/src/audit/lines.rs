//! The trail as it goes out into an archive and comes back: every entry word for word, with what its digest was made of.

use std::collections::HashMap;

use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::chained::Place;
use super::{EntryRow, PayloadRow, trail, trail_payloads};
use crate::db::conn::Db;
use crate::db::door::{DoorError, Span};
use crate::db::written::insert;

/// One entry of the trail.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrailLine {
    /// The club revision.
    pub revision: i64,
    /// Its number within the revision, from 0.
    pub ordinal: i32,
    /// When it was recorded, in microseconds UTC since 1970.
    pub recorded_at_us: i64,
    /// By whom.
    pub recorded_by: String,
    /// What was done.
    pub act: String,
    /// To what kind of thing.
    pub noun: String,
    /// To which one.
    pub fact_id: String,
    /// The salted digest of what was recorded.
    pub digest: String,
    /// The hash of the entry before.
    pub previous_hash: String,
    /// The hash of this one.
    pub hash: String,
    /// What the digest was made of, unless it was erased.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_of: Option<MadeOf>,
}

/// What a digest was made of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MadeOf {
    /// The salt.
    pub salt: String,
    /// The text.
    pub payload: String,
}

impl TrailLine {
    /// The row that it stands in.
    pub(super) fn row(&self, club: &str) -> EntryRow {
        EntryRow {
            club_id: club.to_owned(),
            revision: self.revision,
            ordinal: self.ordinal,
            recorded_at: self.recorded_at_us,
            recorded_by: self.recorded_by.clone(),
            act: self.act.clone(),
            noun: self.noun.clone(),
            fact_id: self.fact_id.clone(),
            digest: self.digest.clone(),
            previous_hash: self.previous_hash.clone(),
            hash: self.hash.clone(),
        }
    }
}

/// The entries of a span of revisions, in their order.
pub fn lines(conn: &mut Db, club: &str, span: Span) -> Result<Vec<TrailLine>, DoorError> {
    let up_to = span.up_to.unwrap_or(i64::MAX);
    let rows = trail::table
        .filter(trail::club_id.eq(club))
        .filter(trail::revision.gt(span.after))
        .filter(trail::revision.le(up_to))
        .order((trail::revision.asc(), trail::ordinal.asc()))
        .load::<EntryRow>(conn)?;
    let payloads = trail_payloads::table
        .filter(trail_payloads::club_id.eq(club))
        .filter(trail_payloads::revision.gt(span.after))
        .filter(trail_payloads::revision.le(up_to))
        .load::<PayloadRow>(conn)?;
    let mut made_of: HashMap<Place, MadeOf> = payloads
        .into_iter()
        .map(|row| ((row.revision, row.ordinal), MadeOf { salt: row.salt, payload: row.payload }))
        .collect();
    let line = |row: EntryRow| TrailLine {
        made_of: made_of.remove(&(row.revision, row.ordinal)),
        revision: row.revision,
        ordinal: row.ordinal,
        recorded_at_us: row.recorded_at,
        recorded_by: row.recorded_by,
        act: row.act,
        noun: row.noun,
        fact_id: row.fact_id,
        digest: row.digest,
        previous_hash: row.previous_hash,
        hash: row.hash,
    };
    Ok(rows.into_iter().map(line).collect())
}

/// Writes an entry down as it is.
pub(super) fn put(conn: &mut Db, club: &str, line: &TrailLine) -> Result<(), DoorError> {
    insert(conn, &[line.row(club).new_row()])?;
    if let Some(made_of) = &line.made_of {
        let row = PayloadRow {
            club_id: club.to_owned(),
            revision: line.revision,
            ordinal: line.ordinal,
            salt: made_of.salt.clone(),
            payload: made_of.payload.clone(),
        };
        insert(conn, &[row.new_row()])?;
    }
    Ok(())
}
