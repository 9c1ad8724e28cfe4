//! A club's trail as it lies in the tables, entry by entry, with those that cannot be read.

use std::collections::{BTreeMap, HashMap};

use diesel::prelude::*;
use preen_domain::facts::{Correction, Noun};

use super::{EntryRow, PayloadRow, trail, trail_payloads};
use crate::db::conn::Db;
use crate::db::door::DoorError;
use crate::db::kinds::{OddCell, odd_cells};
use crate::db::stored::{RowKey, Way, of_club_as_they_lie, scan_or_each};

/// Revision of an entry, and its number within it.
pub type Place = (i64, i32);

/// The trail of a club.
pub struct Chained {
    /// The entries in their order, or why one cannot be read.
    pub entries: BTreeMap<Place, Result<EntryRow, String>>,
    /// What their digests were made of, or why one cannot be read.
    pub payloads: HashMap<Place, Result<PayloadRow, String>>,
    /// Why a table cannot be read as a whole.
    pub torn: Option<String>,
}

impl Chained {
    /// Reads it.
    pub fn read(conn: &mut Db, club: &str) -> Result<Self, DoorError> {
        let entries = scan_or_each(
            conn,
            |conn| {
                let of_club = of_club_as_they_lie!(conn, trail::table, trail::club_id, club);
                of_club.load::<EntryRow>(conn)
            },
            |conn| {
                let of_club = trail::table.filter(trail::club_id.eq(club));
                of_club.select((trail::revision, trail::ordinal)).load::<Place>(conn)
            },
            |conn, (revision, ordinal), way| {
                let entry = match way {
                    Way::ByIndex => trail::table.find((club, revision, ordinal)).first::<EntryRow>(conn),
                    Way::PastIndexes => of_club_as_they_lie!(conn, trail::table, trail::club_id, club)
                        .filter((trail::revision + 0).eq(revision))
                        .filter((trail::ordinal + 0).eq(ordinal))
                        .first::<EntryRow>(conn),
                };
                entry.optional()
            },
        )?;
        let payloads = scan_or_each(
            conn,
            |conn| {
                let table = trail_payloads::table;
                let of_club = of_club_as_they_lie!(conn, table, trail_payloads::club_id, club);
                of_club.load::<PayloadRow>(conn)
            },
            |conn| {
                let of_club = trail_payloads::table.filter(trail_payloads::club_id.eq(club));
                of_club.select((trail_payloads::revision, trail_payloads::ordinal)).load::<Place>(conn)
            },
            |conn, (revision, ordinal), way| {
                let payload = match way {
                    Way::ByIndex => {
                        trail_payloads::table.find((club, revision, ordinal)).first::<PayloadRow>(conn)
                    }
                    Way::PastIndexes => {
                        let table = trail_payloads::table;
                        of_club_as_they_lie!(conn, table, trail_payloads::club_id, club)
                            .filter((trail_payloads::revision + 0).eq(revision))
                            .filter((trail_payloads::ordinal + 0).eq(ordinal))
                            .first::<PayloadRow>(conn)
                    }
                };
                payload.optional()
            },
        )?;
        let mut all: BTreeMap<Place, Result<EntryRow, String>> = BTreeMap::new();
        for row in entries.rows {
            all.insert((row.revision, row.ordinal), Ok(row));
        }
        all.extend(entries.unread.into_iter().map(|(place, text)| (place, Err(text))));
        for (place, text) in odd_places(conn, "trail", club) {
            all.insert(place, Err(text));
        }
        let mut kept: HashMap<Place, Result<PayloadRow, String>> = HashMap::new();
        for row in payloads.rows {
            kept.insert((row.revision, row.ordinal), Ok(row));
        }
        kept.extend(payloads.unread.into_iter().map(|(place, text)| (place, Err(text))));
        kept.extend(
            odd_places(conn, "trail_payloads", club).into_iter().map(|(place, text)| (place, Err(text))),
        );
        Ok(Self { entries: all, payloads: kept, torn: entries.torn.or(payloads.torn) })
    }

    /// The keys of the rows that the entries speak of, those of corrected contents among them.
    pub fn keys(&self) -> Vec<RowKey> {
        let entries = self.entries.iter().filter_map(|(place, entry)| Some((place, entry.as_ref().ok()?)));
        let mut keys = Vec::new();
        for (place, entry) in entries {
            let Some(key) = key_of(entry) else { continue };
            if key.noun == Noun::Corrections
                && let Some(Ok(payload)) = self.payloads.get(place)
                && let Ok(correction) = serde_json::from_str::<Correction>(&payload.payload)
            {
                keys.push(key_of_corrected(&correction, key.revision));
            }
            keys.push(key);
        }
        keys
    }
}

/// Where cells hold another kind of value than their column says. A table that cannot be read as a whole has worse to
/// tell.
fn odd_places(conn: &mut Db, table: &str, club: &str) -> Vec<(Place, String)> {
    let odd = conn.read_in_savepoint(|conn| odd_cells(conn, table, ["revision", "ordinal"], club));
    let place = |cell: &OddCell| Some((cell.first.parse().ok()?, cell.second.parse().ok()?));
    odd.unwrap_or_default().iter().filter_map(|cell| Some((place(cell)?, cell.told()))).collect()
}

/// The row that an entry speaks of. Tokens and the like are no facts and have none.
pub fn key_of(entry: &EntryRow) -> Option<RowKey> {
    let noun = entry.noun.parse::<Noun>().ok()?;
    Some(RowKey { noun, id: entry.fact_id.clone(), revision: entry.revision })
}

/// The row that shows the corrected content.
pub fn key_of_corrected(correction: &Correction, revision: i64) -> RowKey {
    RowKey { noun: correction.noun, id: correction.original.to_string(), revision }
}
