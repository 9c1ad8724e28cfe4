//! Readiness of the sixty entries of a contest in a club of three hundred models, beside the may-fly board of all its
//! models in the same run. The board is the measure: it is what everybody asks of the same record every day.

use std::hint::black_box;

use preen_domain::answers::{Moment, contest_readiness, may_fly};
use preen_domain::facts::{Fact, Recorded};
use preen_domain::fleet::{Club, Fleet};
use preen_domain::ids::{ClubId, ContestId};
use preen_domain::time::Instant;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::fleet::by_turns;

#[allow(dead_code, reason = "random histories need more of it")]
#[path = "../../laws/world.rs"]
mod world;

/// Ids of what is added to the world.
const CONTEST: Uuid = Uuid::from_u128(0x0197_0a3b_0000_7000_8000_0000_0f00_0000);
const FLIGHT: u128 = 0x0197_0a3b_0000_7000_8000_0000_1000_0000;
const DAY_US: i64 = 86_400_000_000;

/// How large the club is.
pub struct Size {
    /// Groups of four models.
    pub groups: u128,
    /// Flights of each model, one a day.
    pub flights: u32,
    /// Entries of the contest, a model each.
    pub entries: u128,
}

/// What was measured.
pub struct Measured {
    /// Models of the club, and entries that were looked at.
    pub counts: (usize, usize),
    /// Median time of readiness of all entries, ms.
    pub readiness_ms: f64,
    /// Median time of the board of all models, ms.
    pub board_ms: f64,
    /// Findings of readiness.
    pub findings: usize,
}

fn fact(noun: &str, json: Value) -> Fact {
    Fact::from_json(noun.parse().unwrap(), json).unwrap()
}

/// The club with its flights, a contest and its entries.
fn club(size: &Size) -> Fleet {
    let extent = world::Extent { groups: size.groups, more: 0 };
    let mut facts = world::facts(extent);
    let first = "2026-03-01T10:00:00Z".parse::<Instant>().unwrap();
    for number in 0..extent.models() {
        for flight in 0..u128::from(size.flights) {
            let days = i64::try_from(flight * 75 / u128::from(size.flights)).unwrap();
            let at = Instant::from_micros(
                first.micros() + days * DAY_US + i64::try_from(flight).unwrap() * 900_000_000,
            );
            facts.push(fact("flights", json!({
                "id": Uuid::from_u128(FLIGHT + number * 100_000 + flight), "model": world::model(number),
                "pilot": world::member(number), "occurred_at": at, "airtime_min": 6.0, "landing": "normal",
                "is_post_flight_logged": true
            })));
        }
    }
    facts.push(fact("contests", json!({
        "id": CONTEST, "tag": "CUP", "title": "Cup", "class": "F5J", "check_in_at": "2026-05-29T18:00:00Z",
        "first_on": "2026-05-30", "last_on": "2026-05-31", "prelim_rounds_max": 8, "flyoff_rounds_max": 3,
        "training_flights": 4
    })));
    for number in 0..size.entries {
        facts.push(fact(
            "entries",
            json!({
                "id": Uuid::from_u128(CONTEST.as_u128() + 1 + number), "contest": CONTEST,
                "pilot": world::member(number), "model": world::model(number), "state": "entered"
            }),
        ));
    }
    let mut fleet = Fleet::new(Club {
        id: ClubId(Uuid::from_u128(1)),
        tag: "bench".parse().unwrap(),
        title: "Bench".parse().unwrap(),
        zone: "Europe/Paris".parse().unwrap(),
    });
    for (revision, fact) in (1..).zip(facts) {
        let recorded_at = "2026-05-21T07:00:00Z".parse().unwrap();
        fleet.apply(&Recorded { fact, recorded_at, recorded_by: world::member(0), revision });
    }
    fleet
}

/// Measures both by turns, so that what else runs on the machine slows both.
pub fn measure(size: &Size, turns: usize) -> Measured {
    let fleet = club(size);
    let as_of = "2026-05-21T08:00:00Z".parse().unwrap();
    let moment = Moment { as_of, on: "2026-05-21".parse().unwrap(), pilot: None };
    let readiness = || contest_readiness(&fleet, ContestId(CONTEST), None, moment).expect("a contest");
    let board = || may_fly(&fleet, moment);
    let shown = (readiness(), board());
    let [readiness_ms, board_ms] =
        by_turns(turns, [&mut || drop(black_box(readiness())), &mut || drop(black_box(board()))]);
    let findings = serde_json::to_value(&shown.0).expect("an answer").to_string().matches("clear_by").count();
    Measured { counts: (shown.1.models.len(), shown.0.entries.len()), readiness_ms, board_ms, findings }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_club_is_measured() {
        let measured = measure(&Size { groups: 3, flights: 5, entries: 4 }, 1);
        assert_eq!(measured.counts, (12, 4));
        assert!(measured.findings > 0 && measured.readiness_ms > 0.0 && measured.board_ms > 0.0);
    }
}
