//! How long work on the bench takes, as data: steps of each kind of repair, and groups of checks. Common practice of
//! builders, no source; cures as on the work sheets. A club that knows better plans its own list of tasks.

use crate::words::{PartKind, RepairKind};

/// One step at the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BenchStep {
    /// What is done.
    pub text: &'static str,
    /// Hours for the first part.
    pub first_h: f64,
    /// Hours for each further part of the same model.
    pub further_h: f64,
    /// Cure after it, hours.
    pub cure_h: f64,
}

const fn step(text: &'static str, first_h: f64, further_h: f64, cure_h: f64) -> BenchStep {
    BenchStep { text, first_h, further_h, cure_h }
}

/// The steps of a kind of repair, one after the other.
pub(super) const fn steps_of(kind: RepairKind) -> &'static [BenchStep] {
    match kind {
        RepairKind::JoinerTight => SAND,
        RepairKind::JoinerLoose => SLEEVE,
        RepairKind::ConnectorRetermination => TERMINATE,
        RepairKind::ServoCover => COVER,
        RepairKind::ServoSwapScrewed => SCREWED,
        RepairKind::ServoSwapBonded => BONDED,
        RepairKind::Horn => HORN,
        RepairKind::Hinge => HINGE,
        RepairKind::LeadingEdge => EDGE,
        RepairKind::BoomOrFuselage => BOOM,
        RepairKind::SparOrSocket => SPAR,
        RepairKind::PackReplaced => PACK,
        RepairKind::MotorAndPropeller => MOTOR,
    }
}

const SAND: &[BenchStep] = &[step("sand, fit and mark", 0.75, 0.75, 0.0)];
const SLEEVE: &[BenchStep] =
    &[step("re-sleeve", 1.0, 0.5, 24.0), step("fit, mark, measure", 0.75, 0.75, 0.0)];
const TERMINATE: &[BenchStep] = &[step("re-terminate and read back", 1.5, 1.5, 0.0)];
const COVER: &[BenchStep] = &[step("cut and bond cover", 0.75, 0.25, 3.0)];
const SCREWED: &[BenchStep] = &[step("exchange in its screw frame", 1.0, 0.75, 0.0)];
const BONDED: &[BenchStep] = &[
    step("strip cover and servo", 1.0, 0.5, 0.0),
    step("bond new servo", 0.5, 0.5, 12.0),
    step("linkage, throws, left against right", 1.0, 1.0, 0.0),
    step("cut and bond cover", 0.5, 0.25, 3.0),
];
const HORN: &[BenchStep] = &[step("bond horn", 1.0, 0.75, 12.0), step("throws and force", 0.5, 0.25, 0.0)];
const HINGE: &[BenchStep] =
    &[step("new hinge", 1.5, 1.0, 24.0), step("stiffness and throws", 0.5, 0.25, 0.0)];
const EDGE: &[BenchStep] =
    &[step("refill and lay up", 2.0, 1.5, 24.0), step("finish and weigh", 1.0, 1.0, 0.0)];
const BOOM: &[BenchStep] =
    &[step("scarf, align and lay up", 2.0, 2.0, 24.0), step("finish, weigh, align", 1.0, 1.0, 0.0)];
const SPAR: &[BenchStep] =
    &[step("scarf and lay up on the jig", 3.0, 3.0, 32.0), step("proof load and baseline", 1.0, 1.0, 0.0)];
const PACK: &[BenchStep] = &[step("new pack, first charge, weigh", 1.0, 0.75, 0.0)];
const MOTOR: &[BenchStep] = &[step("blades, spinner, motor, lock test", 1.0, 0.5, 0.0)];

/// Work of which nobody can say the kind.
pub(super) const UNKNOWN: &[BenchStep] = &[step("mend", 1.0, 1.0, 0.0)];

/// The kind of repair that a part of some kind most often needs.
pub(super) const fn usual_repair(part: PartKind) -> Option<RepairKind> {
    match part {
        PartKind::Servo => Some(RepairKind::ServoSwapBonded),
        PartKind::TailFrame => Some(RepairKind::ServoSwapScrewed),
        PartKind::Joiner => Some(RepairKind::JoinerLoose),
        PartKind::ConnectorHalf => Some(RepairKind::ConnectorRetermination),
        PartKind::Pack => Some(RepairKind::PackReplaced),
        PartKind::Panel => Some(RepairKind::LeadingEdge),
        PartKind::Fuselage => Some(RepairKind::BoomOrFuselage),
        PartKind::Motor | PartKind::Gearbox | PartKind::Propeller | PartKind::SpeedController => {
            Some(RepairKind::MotorAndPropeller)
        }
        PartKind::Receiver | PartKind::Altimeter | PartKind::Sensor | PartKind::Other => None,
    }
}

/// Hours of fitting a part that lies ready.
pub(super) const FIT_H: f64 = 0.75;
/// Hours of weighing a model.
pub(super) const WEIGH_H: f64 = 0.5;
/// Hours of accepting a pairing by its clearance.
pub(super) const PAIRING_H: f64 = 0.25;
/// Hours of a test flight with the look after it.
pub(super) const TEST_FLIGHT_H: f64 = 1.5;
/// By then a test flight is over, time of day.
pub(super) const DUSK: &str = "21:00";

/// When in the course of work a check is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Stage {
    /// A look that comes before all work: after a hard landing, after transport.
    Look,
    /// Repairs and exchanges.
    Work,
    /// What work has opened: swaps, repairs, releases.
    AfterWork,
    /// Checks by count and calendar, weighing.
    Check,
    /// A flight that tries what was done.
    TestFlight,
    /// The check before the contest.
    Last,
}

/// Hours, people and stage of a check, by the letters of its code, and the code itself where letters do not tell.
pub(super) fn check_of(code: &str) -> (f64, u32, Stage) {
    let letters = code.trim_end_matches(|c: char| c.is_ascii_digit());
    match (code, letters) {
        ("N100", _) => (4.0, 1, Stage::Check),
        (_, "HL") => (1.0, 1, Stage::Look),
        (_, "TR") => (0.25, 1, Stage::Look),
        (_, "N") => (0.75, 1, Stage::Check),
        (_, "RF") => (0.25, 2, Stage::Check),
        (_, "JN" | "CN") => (0.25, 1, Stage::Check),
        (_, "PK") => (1.5, 1, Stage::Check),
        (_, "S") => (16.0, 1, Stage::Check),
        (_, "SW") => (0.75, 2, Stage::AfterWork),
        (_, "RP") => (0.75, 2, Stage::AfterWork),
        (_, "PC") => (1.0, 2, Stage::Last),
        _ => (1.0, 1, Stage::Check),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_steps_that_take_time_and_cure_no_shorter_than_their_sheet() {
        for kind in RepairKind::ALL {
            let steps = steps_of(*kind);
            assert!(
                !steps.is_empty() && steps.iter().all(|step| step.first_h > 0.0 && step.further_h > 0.0),
                "{kind}"
            );
            let longest = steps.iter().map(|step| step.cure_h).fold(0.0, f64::max);
            if let Some(shortest) = crate::worksheets::worksheet(*kind).shortest_cure_h {
                assert!(longest >= shortest, "{kind}: {longest} h, the sheet asks for {shortest}");
            }
        }
    }
}
