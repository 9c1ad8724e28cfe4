//! Mark 7: a part type exchanged on every model of a club, mass, centre of gravity and inertia worked out again, as the answer
//! for the whole fleet before it is written; and one part of each model as a plan with all its rules, findings and checks.
//! Both for models that were never weighed, the answer for weighed ones too.

use std::hint::black_box;

use preen_domain::answers::{Exchange, SwapRequest, exchange_of_type, plan_swap};
use preen_domain::facts::{Component, Fact, Noun, Part};
use preen_domain::fleet::Fleet;
use preen_domain::ids::{ComponentId, InstallationId, RemovalId};
use preen_domain::words::RemovalReason;
use uuid::Uuid;

use crate::club::{self, Extent};
use crate::fleet::{by_turns, moment, of_facts};
use crate::marks::{Mark, Sense};

/// Ids of the spares and of what exchanges them.
const SPARE: u128 = 0x0197_0a3b_0000_7000_8000_00ff_0000_0000;
/// The seat of the exchanged servo.
const PATH: &str = "W.L/SV1";

/// The club with a spare servo for each model, weighed half way or never.
fn fleet(extent: Extent, is_weighed: bool) -> Fleet {
    let beginning = club::beginning(extent);
    let like = beginning.iter().find_map(|fact| match fact {
        Fact::Component(component) if component.tag.as_str().starts_with("SV-") => Some(component.clone()),
        _ => None,
    });
    let like = like.expect("a servo");
    let spares = (0..extent.models).map(move |number| {
        let (id, tag) = (ComponentId(Uuid::from_u128(SPARE + u128::from(number))), format!("SP-{number}"));
        Fact::Component(Component {
            id,
            tag: tag.parse().unwrap(),
            mass_g: like.mass_g + 2.0,
            ..like.clone()
        })
    });
    let weighed = (0..extent.models).filter(move |_| is_weighed).map(|number| {
        let id = Uuid::from_u128(SPARE + (3 << 24) + u128::from(number));
        let json = serde_json::json!({"id": id, "model": club::model(number), "occurred_at": "2025-05-01T08:00:00Z",
            "mass_g": 1_600.0, "x_mm": 150.0, "u_x_mm": 0.2});
        Fact::from_json(Noun::Weighings, json).unwrap()
    });
    of_facts(beginning.into_iter().chain(spares).chain(weighed).chain(club::usage(extent)))
}

/// The servo of the club, and another two grams heavier.
fn types(fleet: &Fleet) -> (Part, Part) {
    let servo = fleet.parts().map(|(_, part)| &part.fact).find(|part| part.tag.as_str() == "SV");
    let servo = servo.expect("a servo").clone();
    let heavier = Part { nominal_mass_g: servo.nominal_mass_g + 2.0, ..servo.clone() };
    (servo, heavier)
}

fn request(number: u32) -> SwapRequest {
    let id = |kind: u128| Uuid::from_u128(SPARE + (kind << 24) + u128::from(number));
    SwapRequest {
        occurred_at: club::end(),
        done_by: None,
        exchanges: vec![Exchange {
            path: PATH.to_owned(),
            on: ComponentId(Uuid::from_u128(SPARE + u128::from(number))),
            installation: InstallationId(id(1)),
            removal: RemovalId(id(2)),
            reason: RemovalReason::Preventive,
            note: None,
        }],
    }
}

/// Measures them.
pub fn measure(extent: Extent, rounds: usize) -> Vec<Mark> {
    let (listed, weighed) = (fleet(extent, false), fleet(extent, true));
    let (off, on) = types(&listed);
    let exchange_all = |fleet: &Fleet| {
        let answer = exchange_of_type(fleet, &off, &on, moment());
        assert_eq!(answer.models.len(), extent.models as usize);
        assert!(answer.models.iter().all(|row| row.balance.is_some()));
        black_box(answer);
    };
    let plan_all = || {
        for number in 0..extent.models {
            let plan =
                plan_swap(&listed, club::model(number), &request(number), club::member(0), club::end());
            let plan = plan.unwrap_or_else(|broken| panic!("model {number}: {broken:?}"));
            assert!(plan.answer.delta.is_some_and(|delta| delta.mass_g > 0.0));
            black_box(plan);
        }
    };
    let [listed_ms, weighed_ms, plans_ms] =
        by_turns(rounds, [&mut || exchange_all(&listed), &mut || exchange_all(&weighed), &mut || plan_all()]);
    let mark = |what: &str, ms: f64, sense, made_of: &str| {
        let made_of = format!("{} models of {} parts{made_of}", extent.models, club::SEATS);
        Mark::figure("7", what, f64::from(extent.models) / ms * 1e3, "models/s", sense, made_of)
    };
    vec![
        mark(
            "a part type exchanged across the fleet",
            listed_ms,
            Sense::AtLeast(100_000.0),
            ", eight of the type in each; by the list",
        ),
        mark("the same, each model weighed", weighed_ms, Sense::Told, ", the list of then and of now"),
        mark("exchange of one part planned with rules, findings and checks", plans_ms, Sense::Told, ""),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_club_is_measured() {
        assert!(measure(Extent::TINY, 1).iter().all(|mark| mark.figure > 0.0));
    }
}
