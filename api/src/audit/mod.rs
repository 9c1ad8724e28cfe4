//! The chained trail: one entry for everything that was ever recorded, written by the door alone.
//!
//! An entry's hash covers the entry before it, so that nothing can be taken out, put in or changed later
//! without breaking every hash behind it. It covers a salted digest of what was recorded, not the thing
//! itself: payload and salt lie beside the chain and may be erased with a person's data, and the chain holds.

pub mod chain;
mod chained;
mod kept;
pub mod lines;
pub mod rebuild;
pub mod verify;

use diesel::prelude::*;
use preen_domain::facts::Fact;
use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use uuid::Uuid;

use crate::db::conn::Db;
use crate::db::door::DoorError;
use crate::db::written::{NewRow, insert};

pub use chain::ORIGIN;

/// The act of taking a member's personal data out of the record.
pub const ERASURE: &str = "erase_member";

diesel::table! {
    /// The chain.
    trail (club_id, revision, ordinal) {
        club_id -> Text,
        revision -> BigInt,
        ordinal -> Integer,
        recorded_at -> BigInt,
        recorded_by -> Text,
        act -> Text,
        noun -> Text,
        fact_id -> Text,
        digest -> Text,
        previous_hash -> Text,
        hash -> Text,
    }
}

diesel::table! {
    /// What the digests were made of.
    trail_payloads (club_id, revision, ordinal) {
        club_id -> Text,
        revision -> BigInt,
        ordinal -> Integer,
        salt -> Text,
        payload -> Text,
    }
}

/// What an entry says, before it is chained.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The club revision.
    pub revision: i64,
    /// Its number within the revision, from 0.
    pub ordinal: i32,
    /// When it was recorded.
    pub recorded_at: Instant,
    /// By whom.
    pub recorded_by: MemberId,
    /// What was done, such as `log_flight`.
    pub act: String,
    /// To what kind of thing.
    pub noun: String,
    /// To which one.
    pub fact_id: Uuid,
}

/// An entry as it stands in the database.
#[derive(Clone, Debug, Queryable)]
pub struct EntryRow {
    club_id: String,
    /// The club revision.
    pub revision: i64,
    /// Its number within the revision.
    pub ordinal: i32,
    recorded_at: i64,
    recorded_by: String,
    act: String,
    /// To what kind of thing.
    pub noun: String,
    /// To which one.
    pub fact_id: String,
    digest: String,
    previous_hash: String,
    hash: String,
}

#[derive(Queryable)]
struct PayloadRow {
    club_id: String,
    revision: i64,
    ordinal: i32,
    salt: String,
    payload: String,
}

impl EntryRow {
    fn new_row(self) -> NewRow {
        NewRow {
            insert: "INSERT INTO trail (club_id, revision, ordinal, recorded_at, recorded_by, act, noun, fact_id, \
                     digest, previous_hash, hash) VALUES ",
            values: vec![
                self.club_id.into(),
                self.revision.into(),
                self.ordinal.into(),
                self.recorded_at.into(),
                self.recorded_by.into(),
                self.act.into(),
                self.noun.into(),
                self.fact_id.into(),
                self.digest.into(),
                self.previous_hash.into(),
                self.hash.into(),
            ],
        }
    }
}

impl PayloadRow {
    fn new_row(self) -> NewRow {
        NewRow {
            insert: "INSERT INTO trail_payloads (club_id, revision, ordinal, salt, payload) VALUES ",
            values: vec![
                self.club_id.into(),
                self.revision.into(),
                self.ordinal.into(),
                self.salt.into(),
                self.payload.into(),
            ],
        }
    }
}

/// An entry that is chained and not yet written.
pub struct Link {
    /// Its row in the chain.
    pub entry: NewRow,
    /// The row of what its digest was made of.
    pub payload: NewRow,
    /// Its hash, the new head.
    pub head: String,
}

/// The text of a fact that its digest is made of: JSON with sorted keys.
pub fn payload_of(fact: &Fact) -> Result<String, DoorError> {
    serde_json::to_value(fact)
        .map(|json| json.to_string())
        .map_err(|error| DoorError::Broken(error.to_string()))
}

/// The revision that ends a stretch of so many entries after a revision; `None` if there are fewer.
pub fn stretch(conn: &mut Db, club: &str, after: i64, entries: i64) -> Result<Option<i64>, DoorError> {
    let of_club = trail::table.filter(trail::club_id.eq(club)).filter(trail::revision.gt(after));
    let in_order = of_club.order((trail::revision.asc(), trail::ordinal.asc()));
    Ok(in_order.select(trail::revision).offset(entries).first(conn).optional()?)
}

/// Chains an entry to the head of the trail, writes it and returns the new head.
pub fn append(
    conn: &mut Db,
    club: &str,
    head: &str,
    entry: &Entry,
    payload: String,
) -> Result<String, DoorError> {
    let link = chain_to(club, head, entry, payload)?;
    insert(conn, &[link.entry])?;
    insert(conn, &[link.payload])?;
    Ok(link.head)
}

/// Chains an entry to the head of the trail.
pub fn chain_to(club: &str, head: &str, entry: &Entry, payload: String) -> Result<Link, DoorError> {
    let salt = chain::new_salt()?;
    let digest = chain::digest(&salt, &payload);
    let mut row = EntryRow {
        club_id: club.to_owned(),
        revision: entry.revision,
        ordinal: entry.ordinal,
        recorded_at: entry.recorded_at.micros(),
        recorded_by: entry.recorded_by.to_string(),
        act: entry.act.clone(),
        noun: entry.noun.clone(),
        fact_id: entry.fact_id.to_string(),
        digest,
        previous_hash: head.to_owned(),
        hash: String::new(),
    };
    row.hash = chain::hash(&row);
    let made_of = PayloadRow {
        club_id: club.to_owned(),
        revision: entry.revision,
        ordinal: entry.ordinal,
        salt,
        payload,
    };
    Ok(Link { head: row.hash.clone(), entry: row.new_row(), payload: made_of.new_row() })
}

/// Erases payload and salt of everything recorded under an id; the entries and the chain stay.
pub fn erase(conn: &mut Db, club: &str, noun: &str, id: Uuid) -> Result<(), DoorError> {
    let entries: Vec<(i64, i32)> = trail::table
        .filter(trail::club_id.eq(club))
        .filter(trail::noun.eq(noun))
        .filter(trail::fact_id.eq(id.to_string()))
        .select((trail::revision, trail::ordinal))
        .load(conn)?;
    for (revision, ordinal) in entries {
        let payload = trail_payloads::table
            .filter(trail_payloads::club_id.eq(club))
            .filter(trail_payloads::revision.eq(revision))
            .filter(trail_payloads::ordinal.eq(ordinal));
        diesel::delete(payload).execute(conn)?;
    }
    Ok(())
}

/// The end of a trail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// The revision of the last entry; 0 before the first.
    pub revision: i64,
    /// Its hash.
    pub hash: String,
    /// When it was recorded; `None` before the first.
    pub recorded_at: Option<Instant>,
}

/// When the newest entry of any club was recorded. One statement, which looks at one entry of each club.
pub fn newest_of_all(conn: &mut Db) -> Result<Option<Instant>, DoorError> {
    #[derive(QueryableByName)]
    struct Newest {
        #[diesel(sql_type = diesel::sql_types::Nullable<diesel::sql_types::BigInt>)]
        newest: Option<i64>,
    }
    let newest: Newest = diesel::sql_query(
        "SELECT max((SELECT recorded_at FROM trail WHERE trail.club_id = clubs.id \
         ORDER BY revision DESC, ordinal DESC LIMIT 1)) AS newest FROM clubs",
    )
    .get_result(conn)?;
    Ok(newest.newest.map(Instant::from_micros))
}

/// The head of the trail as it was at a revision; of the newest by [`i64::MAX`].
pub fn head(conn: &mut Db, club: &str, revision: i64) -> Result<Head, DoorError> {
    let last = trail::table
        .filter(trail::club_id.eq(club))
        .filter(trail::revision.le(revision))
        .order((trail::revision.desc(), trail::ordinal.desc()))
        .select((trail::revision, trail::hash, trail::recorded_at))
        .first::<(i64, String, i64)>(conn)
        .optional()?;
    Ok(match last {
        Some((revision, hash, at)) => Head { revision, hash, recorded_at: Some(Instant::from_micros(at)) },
        None => Head { revision: 0, hash: ORIGIN.to_owned(), recorded_at: None },
    })
}

/// The revision at which something was first recorded under an id.
pub fn revision_of(conn: &mut Db, club: &str, id: Uuid) -> Result<Option<i64>, DoorError> {
    let first = trail::table
        .filter(trail::club_id.eq(club))
        .filter(trail::fact_id.eq(id.to_string()))
        .order(trail::revision.asc())
        .select(trail::revision)
        .first(conn)
        .optional()?;
    Ok(first)
}
