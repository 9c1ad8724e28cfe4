//! Mark 7: one part exchanged on every model of a club, mass, centre of gravity and inertia worked out again; as a plan with
//! all its rules, findings and checks, model by model, and as the answer for the whole fleet.

use std::hint::black_box;

use preen_domain::answers::{Exchange, SwapRequest, plan_swap};
use preen_domain::facts::{Component, Fact};
use preen_domain::fleet::Fleet;
use preen_domain::ids::{ComponentId, InstallationId, RemovalId};
use preen_domain::words::RemovalReason;
use uuid::Uuid;

use crate::club::{self, Extent};
use crate::fleet::{by_turns, of_facts};
use crate::marks::{Mark, Sense};

/// Ids of the spares and of what exchanges them.
const SPARE: u128 = 0x0197_0a3b_0000_7000_8000_00ff_0000_0000;
/// The seat of the exchanged servo.
const PATH: &str = "W.L/SV1";

/// The club with a spare servo for each model.
fn fleet(extent: Extent) -> Fleet {
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
    of_facts(beginning.into_iter().chain(spares).chain(club::usage(extent)))
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

/// Measures both.
pub fn measure(extent: Extent, rounds: usize) -> Vec<Mark> {
    let fleet = fleet(extent);
    let plan_all = || {
        for number in 0..extent.models {
            let plan = plan_swap(&fleet, club::model(number), &request(number), club::member(0), club::end());
            let plan = plan.unwrap_or_else(|broken| panic!("model {number}: {broken:?}"));
            assert!(plan.answer.delta.is_some_and(|delta| delta.mass_g > 0.0));
            black_box(plan);
        }
    };
    let [plans_ms] = by_turns(rounds, [&mut || plan_all()]);
    let rate = |ms: f64| f64::from(extent.models) / ms * 1e3;
    vec![Mark::figure(
        "7",
        "exchange of one part planned with rules, findings and checks",
        rate(plans_ms),
        "models/s",
        Sense::Told,
        format!("{} models of {} parts", extent.models, club::SEATS),
    )]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_club_is_measured() {
        assert!(measure(Extent::TINY, 1).iter().all(|mark| mark.figure > 0.0));
    }
}
