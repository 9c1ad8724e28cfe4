//! Flights and riggings.

use super::Verdict;
use crate::{
    facts::{Flight, Rigging},
    fleet::{Fleet, seconds_of_minutes},
    ids::ModelId,
    time::Instant,
};

pub(super) fn check(fleet: &Fleet, flight: &Flight, verdict: &mut Verdict) {
    verdict.model(fleet, "/model", flight.model);
    verdict.member(fleet, "/pilot", flight.pilot);
    verdict.range("/launches", f64::from(flight.launches), 1.0, 500.0, "launches");
    verdict.range("/airtime_min", flight.airtime_min, 0.0, 1440.0, "min");
    verdict.range("/motor_s", f64::from(flight.motor_s), 0.0, 86_400.0, "s");
    verdict.not_before_first_flight(fleet, flight.model, flight.occurred_at);
    check_overlap(fleet, flight, verdict);
    check_same_parts(fleet, flight, verdict);
}

/// Nothing comes on or off in the air: what the model carries at the start it carries when it lands.
fn check_same_parts(fleet: &Fleet, flight: &Flight, verdict: &mut Verdict) {
    let end = flight.occurred_at.plus_seconds(i64::from(seconds_of_minutes(flight.airtime_min)));
    let landing = Instant::from_micros(end.micros() - 1);
    if end <= flight.occurred_at || !fleet.has_moves(flight.model, flight.occurred_at, landing) {
        return;
    }
    let carried = |at: Instant| {
        let mut list: Vec<_> =
            fleet.fitted(flight.model, at).into_iter().map(|fitted| (fitted.path, fitted.id)).collect();
        list.sort();
        list
    };
    let (start, landed) = (carried(flight.occurred_at), carried(landing));
    let other = start.iter().find(|one| !landed.contains(one));
    if let Some((path, part)) = other.or_else(|| landed.iter().find(|one| !start.contains(one))) {
        verdict.record(
            "part_changed_in_the_air",
            "/occurred_at",
            format!(
                "{} came on or off {} of {} before the flight ended at {end}: mend the time of one of the two",
                fleet.component_tag(*part),
                path,
                fleet.model_tag(flight.model),
            ),
        );
    }
}

/// When a flight of a model ends that began before a moment and was still going on then.
pub(super) fn in_the_air_until(fleet: &Fleet, model: ModelId, at: Instant) -> Option<Instant> {
    let before = fleet.model(model)?.flights.before(at).next_back();
    let end = before.map(|row| row.at.plus_seconds(i64::from(row.airtime_s)))?;
    (at < end).then_some(end)
}

/// Two flights of one model do not overlap: one of them is the other, logged twice, or has a wrong time.
fn check_overlap(fleet: &Fleet, flight: &Flight, verdict: &mut Verdict) {
    let Some(file) = fleet.model(flight.model) else { return };
    let end = flight.occurred_at.plus_seconds(i64::from(seconds_of_minutes(flight.airtime_min)));
    let before = file.flights.before(flight.occurred_at).rfind(|row| row.id != flight.id.0);
    let after = file.flights.since(flight.occurred_at).find(|row| row.id != flight.id.0);
    let still_up = before.filter(|row| row.at.plus_seconds(i64::from(row.airtime_s)) > flight.occurred_at);
    let up_again = after.filter(|row| row.at < end || row.at == flight.occurred_at);
    if let Some(other) = still_up.or(up_again) {
        verdict.record(
            "flights_overlap",
            "/occurred_at",
            format!(
                "{} has a flight of {} min from {}: if it is the same flight, it is on record; else mend the time",
                fleet.model_tag(flight.model),
                f64::from(other.airtime_s) / 60.0,
                other.at
            ),
        );
    }
}

pub(super) fn check_rigging(fleet: &Fleet, rigging: &Rigging, verdict: &mut Verdict) {
    verdict.model(fleet, "/model", rigging.model);
    verdict.range("/cycles", f64::from(rigging.cycles), 1.0, 100.0, "cycles");
    verdict.not_before_first_flight(fleet, rigging.model, rigging.occurred_at);
}
