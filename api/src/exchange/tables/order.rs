//! An order in which facts can be recorded one after the other.

use std::collections::HashMap;

use preen_domain::{facts::Noun, time::Instant};
use uuid::Uuid;

use super::link::Row;

/// Master data and components first, in the order of nouns; then events in order of time, what comes off
/// before what goes on; readings last, in the order of their table, so that a late entry stays late.
///
/// A row never stands before one that it points at, even if its own time says so.
pub fn in_order(mut rows: Vec<Row>) -> Vec<Row> {
    rows.sort_by_key(|row| row.fact.noun());
    let mut times: HashMap<Uuid, Option<Instant>> = HashMap::with_capacity(rows.len());
    let mut keyed: Vec<_> = rows
        .into_iter()
        .map(|row| {
            let pointed = row.points_at.iter().filter_map(|id| times.get(id).copied().flatten());
            let at = pointed.chain(row.fact.occurred_at()).max();
            times.insert(row.fact.id(), at);
            let noun = row.fact.noun();
            let time = if noun == Noun::Measurements { None } else { at };
            ((stage(noun), time, rank(noun), noun), row)
        })
        .collect();
    keyed.sort_by_key(|(key, _)| *key);
    keyed.into_iter().map(|(_, row)| row).collect()
}

const fn stage(noun: Noun) -> u8 {
    match noun {
        Noun::Measurements | Noun::Corrections => 2,
        Noun::Components => 0,
        _ if noun.is_master_data() => 0,
        _ => 1,
    }
}

const fn rank(noun: Noun) -> u8 {
    match noun {
        Noun::Removals => 0,
        Noun::Conditions => 1,
        Noun::Installations => 2,
        _ => 3,
    }
}
