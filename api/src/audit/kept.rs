//! Whether what is kept beside the facts says the same as they do: the marks of rows that were replaced, names,
//! places, and the file itself.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use preen_domain::facts::{Fact, Noun, Recorded};
use preen_domain::fleet::Fleet;
use preen_domain::time::Instant;

use super::verify::Break;
use crate::db::conn::Db;
use crate::db::door::{DoorError, find_club};
use crate::db::kinds::odd_cells;
use crate::db::stored::{RowKey, StoredRow};
use crate::db::{fitted, names};

/// The first row that says wrongly what took its place.
pub fn wrong_mark(rows: &[StoredRow]) -> Option<Break> {
    let mut changes: HashMap<(Noun, &str), BTreeSet<i64>> = HashMap::new();
    let voided: Vec<(Noun, String, i64)> = rows
        .iter()
        .filter_map(|row| match &row.fact {
            Ok(Fact::Correction(correction)) if correction.is_void => {
                Some((correction.noun, correction.original.to_string(), row.revision))
            }
            _ => None,
        })
        .collect();
    for row in rows {
        changes.entry((row.noun, &row.id)).or_default().insert(row.revision);
    }
    for (noun, id, revision) in &voided {
        changes.entry((*noun, id)).or_default().insert(*revision);
    }
    let is_wrong = |row: &&StoredRow| {
        let later = changes.get(&(row.noun, row.id.as_str()));
        row.superseded != later.and_then(|later| later.range(row.revision + 1..).next().copied())
    };
    let wrong = rows.iter().find(is_wrong)?;
    Some(Break::of_row(&wrong.key(), "its row says wrongly when another took its place"))
}

/// The first thing kept beside the facts of a club that says something else than they do.
pub fn fault(
    conn: &mut Db,
    club: &str,
    revision: i64,
    rows: &[StoredRow],
) -> Result<Option<Break>, DoorError> {
    let broken = |noun: &str, fact_id: &str, text: String| {
        Some(Break { revision, ordinal: 0, noun: noun.to_owned(), fact_id: fact_id.to_owned(), text })
    };
    let mut fleet = Fleet::new(find_club(conn, club)?.for_fleet()?);
    let mut facts = Vec::with_capacity(rows.len());
    for row in rows.iter().filter(|row| !row.is_correction) {
        let key: RowKey = row.key();
        let (Ok(fact), Ok(recorded_by)) = (&row.fact, row.recorded_by.parse()) else {
            return Ok(Some(Break::of_row(&key, "its fact cannot be read")));
        };
        let recorded_at = Instant::from_micros(row.recorded_at);
        facts.push(Recorded { fact: fact.clone(), recorded_at, recorded_by, revision: row.revision });
    }
    for recorded in &facts {
        fleet.apply(recorded);
    }
    let (wanted, there) =
        (names::expected(facts.iter().map(|recorded| &recorded.fact)), names::stored(conn, club)?);
    if let Some(id) = first_difference(&wanted, &there) {
        return Ok(broken("names", &id, "ids and tags are kept otherwise than the facts say".to_owned()));
    }
    let by_component = |rows: Vec<fitted::Fitted>| -> BTreeMap<String, fitted::Fitted> {
        rows.into_iter().map(|row| (row.component().to_owned(), row)).collect()
    };
    let wanted = by_component(fitted::expected(club, &fleet));
    let there = by_component(fitted::stored(conn, club)?);
    if let Some(id) = first_difference(&wanted, &there) {
        return Ok(broken(
            "now_fitted",
            &id,
            "where it sits is kept otherwise than the facts say".to_owned(),
        ));
    }
    for (table, key) in [("names", ["id", "noun"]), ("now_fitted", ["component", "inside"])] {
        let odd = conn.read_in_savepoint(|conn| odd_cells(conn, table, key, club))?;
        if let Some(cell) = odd.first() {
            return Ok(broken(table, &cell.first, cell.told()));
        }
    }
    let damage = conn.fault_of_file().unwrap_or_else(|error| Some(error.to_string()));
    Ok(damage
        .and_then(|text| broken("database", club, format!("the database finds its file damaged: {text}"))))
}

fn first_difference<T: PartialEq>(
    wanted: &BTreeMap<String, T>,
    there: &BTreeMap<String, T>,
) -> Option<String> {
    let keys: BTreeSet<&String> = wanted.keys().chain(there.keys()).collect();
    keys.into_iter().find(|key| wanted.get(*key) != there.get(*key)).cloned()
}
