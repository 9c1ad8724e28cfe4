//! A warm Fleet in this process, and how works are timed beside each other.

use std::time::Instant as Stopwatch;

use preen_domain::answers::{Moment, due, findings, may_fly};
use preen_domain::facts::{Fact, Recorded};
use preen_domain::fleet::Fleet;

use crate::club::{self, Extent};
use crate::marks::{Mark, Sense};

/// The Fleet of facts in their order.
pub fn of_facts(facts: impl Iterator<Item = Fact>) -> Fleet {
    let mut fleet = Fleet::new(club::club());
    let (recorded_at, recorded_by) = (club::end(), club::member(0));
    for (revision, fact) in (1..).zip(facts) {
        fleet.apply(&Recorded { fact, recorded_at, recorded_by, revision });
    }
    fleet
}

/// The Fleet of a club.
pub fn fleet(extent: Extent) -> Fleet {
    of_facts(club::beginning(extent).into_iter().chain(club::usage(extent)))
}

/// The moment of all questions.
pub fn moment() -> Moment {
    Moment { as_of: club::end(), on: "2026-05-21".parse().unwrap(), pilot: None }
}

/// Median time of each work over some rounds, by turns, so that what else runs on the machine slows all of them; ms.
pub fn by_turns<const N: usize>(rounds: usize, mut works: [&mut dyn FnMut(); N]) -> [f64; N] {
    let mut times: [Vec<f64>; N] = std::array::from_fn(|_| Vec::new());
    for _ in 0..rounds {
        for (work, times) in works.iter_mut().zip(&mut times) {
            let started = Stopwatch::now();
            work();
            times.push(started.elapsed().as_secs_f64() * 1e3);
        }
    }
    times.map(median)
}

/// The middle of some numbers.
pub fn median(mut numbers: Vec<f64>) -> f64 {
    numbers.sort_by(f64::total_cmp);
    numbers.get(numbers.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Mark 3, its first half: the due list of a club, and of the same club with ten times the flights.
pub fn history(extent: Extent, rounds: usize) -> Vec<Mark> {
    let short = fleet(Extent { usage: extent.usage / 10, ..extent });
    let long = fleet(extent);
    let [few_ms, many_ms] = by_turns(
        rounds,
        [&mut || drop(std::hint::black_box(due(&short, moment()))), &mut || {
            drop(std::hint::black_box(due(&long, moment())))
        }],
    );
    let [few_board_ms, many_board_ms] = by_turns(
        rounds,
        [&mut || drop(std::hint::black_box(may_fly(&short, moment()))), &mut || {
            drop(std::hint::black_box(may_fly(&long, moment())))
        }],
    );
    let said = |few: f64, many: f64| {
        format!(
            "{} models: {few:.2} ms with {}, {many:.2} ms with {} rows of usage each",
            extent.models,
            extent.usage / 10,
            extent.usage
        )
    };
    vec![
        Mark::ratio(
            "3",
            "due list, ten times the flights",
            many_ms / few_ms,
            Sense::AtMost(1.2),
            said(few_ms, many_ms),
        ),
        Mark::ratio(
            "3",
            "may-fly board, ten times the flights",
            many_board_ms / few_board_ms,
            Sense::Told,
            said(few_board_ms, many_board_ms),
        ),
    ]
}

/// The audit of the record of a club that is often late with its checks, beside its board.
pub fn audit(extent: Extent, rounds: usize) -> Vec<Mark> {
    let fleet = fleet(extent);
    let [audit_ms, board_ms] = by_turns(
        rounds,
        [&mut || drop(std::hint::black_box(findings(&fleet, moment()))), &mut || {
            drop(std::hint::black_box(may_fly(&fleet, moment())))
        }],
    );
    let made_of = format!("{} models, {} rows of usage each: {audit_ms:.0} ms", extent.models, extent.usage);
    vec![Mark::ratio("", "audit of the record beside the board", audit_ms / board_ms, Sense::Told, made_of)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_audit_is_measured() {
        let marks = audit(Extent::TINY, 1);
        assert!(marks.len() == 1 && marks[0].figure > 0.0);
    }
}
