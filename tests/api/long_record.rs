//! A record of more entries than are read at once: no fact is left out, none is read twice, whichever database keeps it and
//! however it is read.

use std::sync::Arc;

use preen_api::db::door::{Change, Door, Kept, Span, bring_up};
use preen_api::problem::Problem;
use preen_api::resources::nouns;
use preen_domain::facts::{Fact, Flight};
use preen_domain::fleet::Fleet;
use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use preen_tests::on_both;
use preen_tests::world::{CLUB, flight, new_id};
use serde_json::json;

/// Flights beside the first, each a minute after the one before.
const FLIGHTS: i64 = 41_000;

/// Flights of one change.
const OF_A_CHANGE: usize = 41;

/// Records them as a program of the club would, so many a change.
fn record_more(door: &Arc<Door>, by: MemberId, first: &Flight) {
    let copies = (1..=FLIGHTS).map(|number| {
        let occurred_at = Instant::from_micros(first.occurred_at.micros() + 60_000_000 * number);
        Fact::Flight(Flight { id: new_id().parse().unwrap(), occurred_at, ..first.clone() })
    });
    let copies: Vec<Fact> = copies.collect();
    let changes: Vec<&[Fact]> = copies.chunks(OF_A_CHANGE).collect();
    let runtime = actix_web::rt::Runtime::new().unwrap();
    for at_once in changes.chunks(door.at_once) {
        let ids = at_once.iter().flat_map(|facts| facts.iter().map(Fact::id)).collect();
        let works = at_once.iter().map(|facts| {
            let facts = facts.to_vec();
            move |change: &mut Change<'_>| -> Result<Kept<()>, Problem> {
                for fact in &facts {
                    change.record("add_flight", fact.clone())?;
                }
                Ok(Kept::Recorded(()))
            }
        });
        for result in runtime.block_on(door.write_each(CLUB, by, ids, works.collect())).unwrap() {
            result.unwrap();
        }
    }
}

fn flights(fleet: &Fleet) -> u64 {
    let (model, _) = fleet.models().next().unwrap();
    fleet.model_usage(model, Instant::from_micros(i64::MIN), Instant::from_micros(i64::MAX)).flights
}

on_both!(a_long_record_is_read_whole_and_once, |world| {
    world.small_fleet();
    let first = world.add("flights", flight("SG-01", "AV", "2026-01-05T10:00:00Z"));
    let runtime = actix_web::rt::Runtime::new().unwrap();
    let (writer, by) = world.another_door();
    let recorded = runtime.block_on(writer.facts(CLUB, Span { after: 0, up_to: None })).unwrap();
    let Some(Fact::Flight(one)) = recorded.into_iter().map(|one| one.fact).next_back() else {
        panic!("no flight")
    };
    record_more(&writer, by, &one);
    let (door, _) = world.another_door();
    let held = runtime.block_on(door.fleet(CLUB)).unwrap();
    let alone = bring_up(&mut world.conn(), nouns::TABLES, CLUB, None, None).unwrap();
    assert_eq!((held.revision, &held.head), (alone.revision, &alone.head));
    assert!(held.fleet == alone.fleet, "it is another Fleet where two read it");
    assert_eq!(i64::try_from(flights(&held.fleet)).unwrap(), FLIGHTS + 1);
    // A correction far behind of what stands at the beginning.
    let void = json!({ "id": new_id(), "reason": "typed wrong", "is_void": true });
    let (other_door, _) = world.another_door();
    world.av.post(&format!("/flights/{first}/correction"), &void).expect(201);
    let corrected = runtime.block_on(other_door.fleet(CLUB)).unwrap();
    assert_eq!(i64::try_from(flights(&corrected.fleet)).unwrap(), FLIGHTS);
    let before = runtime.block_on(other_door.fleet_at(CLUB, held.revision)).unwrap();
    assert!(before.fleet == held.fleet, "it was another Fleet before the correction");
    for door in [writer, door, other_door] {
        door.stop();
    }
});
