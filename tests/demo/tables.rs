//! The compiled-in tables read, hold the rows they should, and come in an order that can be recorded.

use std::collections::{BTreeMap, HashMap, HashSet};

use preen_api::{
    demo,
    exchange::tables::{Club, Row, is_keeper, layout, waves},
};
use preen_domain::{
    facts::{Fact, Inside, Noun},
    time::Instant,
    words::{ComponentState, RemovalReason},
};
use uuid::Uuid;

/// From when and until when a part sits in a seat.
type Span = (Instant, Option<Instant>);

fn club() -> Club {
    demo::tables::read().unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn the_tables_hold_the_rows_they_should() {
    let club = club();
    assert_eq!(club.club.short_name.as_str(), "quillmarsh");
    let mut counted: BTreeMap<Noun, usize> = BTreeMap::new();
    for row in &club.rows {
        *counted.entry(row.fact.noun()).or_default() += 1;
    }
    let expected = BTreeMap::from([
        (Noun::Members, 14),
        (Noun::Designs, 3),
        (Noun::Parts, 16),
        (Noun::Models, 12),
        (Noun::Programmes, 1),
        (Noun::Components, 198),
        (Noun::Conditions, 11),
        (Noun::Installations, 187),
        (Noun::Removals, 9),
        (Noun::Flights, 2061),
        (Noun::Riggings, 574),
        (Noun::Inspections, 87),
        (Noun::Measurements, 81),
        (Noun::Weighings, 12),
        (Noun::Defects, 14),
        (Noun::Repairs, 14),
        (Noun::Releases, 12),
        (Noun::Campaigns, 1),
        (Noun::Loans, 4),
        (Noun::Lots, 9),
        (Noun::Slugs, 6),
        (Noun::MatchedSets, 12),
        (Noun::Pairings, 1),
        (Noun::Contests, 1),
        (Noun::Entries, 5),
    ]);
    assert_eq!(counted, expected);
}

#[test]
fn positions_are_listed_for_both_hands() {
    let mut seen = 0;
    for row in club().rows {
        if let Fact::Design(design) = row.fact {
            let counts = [("SEDGEWING-39", 21), ("MARLPIT-30", 12), ("TOSSEL-15", 6)];
            let expected =
                counts.iter().find(|(tag, _)| *tag == design.tag.as_str()).map(|(_, count)| *count);
            assert_eq!(Some(design.positions.len()), expected, "{}", design.tag);
            for position in
                design.positions.iter().filter(|position| position.name.as_str().starts_with("left "))
            {
                let mirrored = position.name.as_str().replacen("left ", "right ", 1);
                let twin = design.positions.iter().find(|other| other.name.as_str() == mirrored).unwrap();
                assert!(position.y_mm < 0.0, "{} lies left", position.name);
                assert_eq!(
                    (
                        position.x_mm,
                        -position.y_mm,
                        position.z_mm,
                        position.own_span_mm,
                        position.own_length_mm
                    ),
                    (twin.x_mm, twin.y_mm, twin.z_mm, twin.own_span_mm, twin.own_length_mm),
                    "{}",
                    position.name
                );
                seen += 1;
            }
        }
    }
    assert_eq!(seen, 10);
}

#[test]
fn nothing_points_at_a_later_fact_and_events_come_in_order_of_time() {
    let club = club();
    let mut known: HashSet<Uuid> = HashSet::new();
    let mut last: Option<Instant> = None;
    for row in &club.rows {
        for id in &row.points_at {
            assert!(known.contains(id), "{} line {} points forward", row.file, row.line);
        }
        assert!(known.insert(row.fact.id()), "{} line {} has an id twice", row.file, row.line);
        assert_eq!(row.fact.id().get_version_num(), 7);
        if row.fact.noun() != Noun::Measurements
            && let Some(at) = row.fact.occurred_at()
        {
            assert!(Some(at) >= last, "{} line {} stands behind a later event", row.file, row.line);
            last = Some(at);
        }
    }
}

#[test]
fn rows_of_a_wave_need_nothing_of_each_other() {
    let club = club();
    let waves = waves(&club.rows);
    assert_eq!(waves.iter().map(|wave| wave.len()).sum::<usize>(), club.rows.len());
    assert!(waves.len() < 80, "{} waves", waves.len());
    assert!(waves[0].len() == 1 && is_keeper(&waves[0][0].fact), "the keeper lets the others in");
    for wave in waves {
        let ids: HashSet<Uuid> = wave.iter().map(|row| row.fact.id()).collect();
        assert!(wave.iter().all(|row| row.points_at.iter().all(|id| !ids.contains(id))));
        let moves = |row: &Row| matches!(row.fact, Fact::Condition(_) | Fact::Removal(_));
        let before_last = &wave[..wave.len() - 1];
        assert!(!before_last.iter().any(moves), "what changes a place or state ends its wave");
    }
}

#[test]
fn the_same_tables_give_the_same_ids() {
    let ids = |club: Club| club.rows.iter().map(|row| row.fact.id()).collect::<Vec<_>>();
    assert_eq!(ids(club()), ids(club()));
}

#[test]
fn states_at_the_end_of_the_record_are_those_of_the_story() {
    let mut states: HashMap<Uuid, ComponentState> = HashMap::new();
    for row in club().rows {
        match row.fact {
            Fact::Component(component) => drop(states.insert(component.id.0, component.state)),
            Fact::Condition(condition) => drop(states.insert(condition.component.0, condition.state)),
            _ => {}
        }
    }
    let count = |state| states.values().filter(|held| **held == state).count();
    assert_eq!(count(ComponentState::Scrapped), 2, "a servo of each of two batches");
    assert_eq!(
        count(ComponentState::Unserviceable),
        5,
        "a tip, a pack, a tail servo and two of the campaign"
    );
    assert_eq!(count(ComponentState::Held), 3, "two of the campaign's batch and a pack");
    assert_eq!(count(ComponentState::NewUntested), 1, "the new pack");
    assert_eq!(count(ComponentState::Serviceable), 187);
}

#[test]
fn every_span_ends_once_and_no_seat_holds_two_parts() {
    let club = club();
    let removed: HashMap<Uuid, (Instant, RemovalReason)> = club
        .rows
        .iter()
        .filter_map(|row| match &row.fact {
            Fact::Removal(removal) => Some((removal.installation.0, (removal.occurred_at, removal.reason))),
            _ => None,
        })
        .collect();
    let mut seats: HashMap<(Inside, String), Vec<Span>> = HashMap::new();
    let mut openings = 0;
    for row in &club.rows {
        if let Fact::Installation(fitted) = &row.fact {
            let end = removed.get(&fitted.id.0).map(|(at, _)| *at);
            let seat = (fitted.inside, fitted.position.to_string());
            seats.entry(seat).or_default().push((fitted.occurred_at, end));
            let is_first_day = fitted.occurred_at.to_string() == "2025-04-05T06:00:00Z";
            assert_eq!(fitted.is_start_of_record, is_first_day);
            openings += usize::from(is_first_day);
        }
    }
    assert_eq!(openings, 180);
    for (seat, spans) in seats {
        for pair in spans.windows(2) {
            assert!(pair[0].1.is_some_and(|end| end <= pair[1].0), "{seat:?} holds two at once");
        }
    }
    let reasons = |wanted| removed.values().filter(|(_, reason)| *reason == wanted).count();
    assert_eq!(reasons(RemovalReason::Failed), 3);
    assert_eq!(reasons(RemovalReason::OverLimit), 2);
    assert_eq!(reasons(RemovalReason::Preventive), 2);
    assert_eq!(reasons(RemovalReason::Suspected), 1);
    assert_eq!(reasons(RemovalReason::Borrowed), 1);
}

#[test]
fn every_column_is_documented_beside_the_tables() {
    let readme = include_str!("../../api/src/demo/tables/README.md");
    for table in layout::tables() {
        assert!(readme.contains(&format!("* {table}\n")), "README.md should have the line\n* {table}");
    }
}
