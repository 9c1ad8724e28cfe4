//! That the random histories are worth judging: everything that can happen does happen, and the laws are not kept
//! by histories in which nothing does.

use std::collections::{BTreeMap, BTreeSet};

use preen_domain::{
    answers::{Moment, balance, may_fly},
    facts::Noun,
    words::State,
};

use crate::{
    history::{History, Roll},
    laws::swap_there_and_back,
    world::start,
};

/// Histories from fixed numbers.
fn histories(count: u64) -> impl Iterator<Item = History> {
    (0..count).map(|number| {
        let mut roll = Roll(number);
        let seeds: Vec<u64> = (0..90).map(|_| roll.next_u64()).collect();
        History::of(&seeds)
    })
}

#[test]
fn everything_that_can_happen_happens() {
    let mut happened: BTreeMap<Noun, usize> = BTreeMap::new();
    let mut states = BTreeSet::new();
    let mut codes = BTreeSet::new();
    let mut groups = BTreeSet::new();
    let mut cancelled = 0;
    for history in histories(60) {
        assert!(history.facts.len() > 150, "a dull history: {} facts", history.facts.len());
        assert!(history.refused > 0, "a history in which no rule had anything to say");
        for recorded in &history.facts {
            *happened.entry(recorded.fact.noun()).or_default() += 1;
        }
        let lived_s = history.cursor.seconds_since(start());
        for eighth in 1..=8 {
            let moment = Moment::today(&history.fleet, start().plus_seconds(lived_s * eighth / 8));
            // Moves that nobody weighed and that cancel each other: the sum asks for a weighing, the net move does not.
            cancelled += history
                .fleet
                .models()
                .filter_map(|(id, _)| balance(&history.fleet, id, moment.as_of))
                .filter(|now| {
                    now.moves_since_weighing_mm.is_some_and(|all| all >= 1.0)
                        && now.moved_since_weighing_mm.is_some_and(|net| net.abs() < 1.0)
                })
                .count();
            for model in may_fly(&history.fleet, moment).models {
                states.insert(model.state.as_str());
                for reason in model.reasons {
                    if reason.code.starts_with("check_") {
                        groups.insert(reason.subject);
                    }
                    codes.insert(reason.code);
                }
            }
        }
    }
    assert!(cancelled > 20, "only {cancelled} balances with moves that cancel each other");
    for noun in Noun::ALL {
        let is_left_out = [
            Noun::Limits,
            Noun::Lots,
            Noun::Classes,
            Noun::Contests,
            Noun::Entries,
            Noun::Slugs,
            Noun::MatchedSets,
            Noun::Pairings,
            // A photo changes no verdict.
            Noun::Photos,
            Noun::Questions,
            Noun::Settlements,
        ]
        .contains(noun);
        assert_eq!(happened.contains_key(noun), !is_left_out, "{noun}: {happened:?}");
    }
    for code in [
        "borrowed_part",
        "campaign_limit",
        "campaign_open",
        "campaign_overdue",
        "campaign_work_failed",
        "cg_outside_range",
        "check_due",
        "check_failed",
        "check_item_failed",
        "check_never_done",
        "check_overdue",
        "check_soon",
        "defect_open",
        "first_flight_after_repair",
        "hard_landing_unchecked",
        "laid_up",
        "never_weighed",
        "on_loan",
        "part_not_serviceable",
        "part_type_not_taken",
        "position_empty",
        "radio_change_unchecked",
        "reinspection_after_repair",
        "reading_beyond_limit",
        "repair_unreleased",
        "swap_unchecked",
        "transport_unchecked",
        "unweighed_moves",
    ] {
        assert!(codes.contains(code), "no history brought {code}: {codes:?}");
    }
    assert!(groups.contains("N25") && groups.contains("JN40") && groups.contains("PK20"), "{groups:?}");
    assert_eq!(states.len(), State::ALL.len(), "{states:?}");
}

#[test]
fn most_histories_allow_a_swap() {
    let swapped =
        histories(20).filter(|history| swap_there_and_back(history, &mut Roll(7)).is_some()).count();
    assert!(swapped > 12, "only {swapped} of 20");
}
