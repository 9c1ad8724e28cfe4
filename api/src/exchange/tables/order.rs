//! An order in which facts can be recorded, and which of them may be recorded at the same time.

use std::collections::{HashMap, HashSet};

use preen_domain::{
    facts::{Fact, Noun},
    time::Instant,
    words::Role,
};
use uuid::Uuid;

use super::link::Row;

/// Master data and components first, in the order of nouns and with the keepers ahead of the other members;
/// then events in order of time, what comes off before what goes on; then readings, and the closings that rest on them.
///
/// A row never stands before one that it points at, even if its own time says so.
pub fn in_order(mut rows: Vec<Row>) -> Vec<Row> {
    rows.sort_by_key(|row| (row.fact.noun(), !is_keeper(&row.fact)));
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

/// Whether a fact is a member who keeps the club's records.
#[must_use]
pub fn is_keeper(fact: &Fact) -> bool {
    matches!(fact, Fact::Member(member) if member.roles.contains(&Role::Keeper))
}

const fn stage(noun: Noun) -> u8 {
    match noun {
        Noun::Measurements | Noun::Corrections => 2,
        // A defect is found wrong by a reading.
        Noun::Closures => 3,
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

/// Cuts rows that are in order into waves: the rows of one may be recorded at the same time, each wave after
/// the one before. What changes places and states, and what
/// happens to a model, goes one by one, except parts fitted at the same moment;
/// the keeper, who lets the others in, goes alone.
#[must_use]
pub fn waves(rows: &[Row]) -> Vec<&[Row]> {
    let mut waves = Vec::new();
    let mut start = 0;
    let mut ids: HashSet<Uuid> = HashSet::new();
    let mut mover: Option<(Noun, Option<Instant>)> = None;
    for (at, row) in rows.iter().enumerate() {
        let (noun, moment) = (row.fact.noun(), row.fact.occurred_at());
        let moves = matches!(
            noun,
            Noun::Removals
                | Noun::Conditions
                | Noun::Installations
                | Noun::Campaigns
                | Noun::CampaignClosures
                | Noun::Events
        );
        let together = noun == Noun::Installations && mover == Some((noun, moment));
        let follows_keeper = at > 0 && rows.get(at - 1).is_some_and(|before| is_keeper(&before.fact));
        let points_inside = row.points_at.iter().any(|id| ids.contains(id));
        let cuts = points_inside
            || follows_keeper
            || (moves && mover.is_some() && !together)
            || (!moves && mover.is_some());
        if cuts {
            waves.push(rows.get(start..at).unwrap_or_default());
            start = at;
            ids.clear();
            mover = None;
        }
        if moves {
            mover = Some((noun, moment));
        }
        ids.insert(row.fact.id());
    }
    waves.push(rows.get(start..).unwrap_or_default());
    waves.retain(|wave| !wave.is_empty());
    waves
}
