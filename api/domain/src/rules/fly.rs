//! Flights and riggings.

use super::Verdict;
use crate::{
    facts::{Flight, Rigging},
    fleet::Fleet,
};

pub(super) fn check(fleet: &Fleet, flight: &Flight, verdict: &mut Verdict) {
    verdict.model(fleet, "/model", flight.model);
    verdict.member(fleet, "/pilot", flight.pilot);
    verdict.range("/launches", f64::from(flight.launches), 1.0, 500.0, "launches");
    verdict.range("/airtime_min", flight.airtime_min, 0.0, 1440.0, "min");
    verdict.range("/motor_s", f64::from(flight.motor_s), 0.0, 86_400.0, "s");
    verdict.not_before_first_flight(fleet, flight.model, flight.occurred_at);
}

pub(super) fn check_rigging(fleet: &Fleet, rigging: &Rigging, verdict: &mut Verdict) {
    verdict.model(fleet, "/model", rigging.model);
    verdict.range("/cycles", f64::from(rigging.cycles), 1.0, 100.0, "cycles");
    verdict.not_before_first_flight(fleet, rigging.model, rigging.occurred_at);
}
