//! Flights that cannot be as they stand: two at a time, and on days without an assembly.

use super::{Audit, Family, PlacedFinding};
use crate::{
    finding::Finding,
    fleet::{Flown, ModelFile},
    time::{Instant, day_of, end_of_day, start_of_day},
    words::Severity,
};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    for (tag, model) in &audit.models {
        let Some(file) = audit.fleet.model(*model) else { continue };
        let flown = file.flights.until(audit.moment.as_of);
        let said = overlaps(flown.clone(), tag).into_iter().chain(without_rigging(audit, file, flown, tag));
        list.extend(said.map(|finding| PlacedFinding::new(Family::Flights, finding).in_model(tag)));
    }
}

pub(super) fn times(count: usize) -> String {
    if count == 1 { "1 flight".to_owned() } else { format!("{count} flights") }
}

fn overlaps(flown: Flown<'_>, tag: &str) -> Option<Finding> {
    let mut first = None;
    let mut count = 0;
    let mut ends_at: Option<Instant> = None;
    for row in flown {
        if ends_at.is_some_and(|ends_at| row.at < ends_at) {
            count += 1;
            first = first.or(Some(row.at));
        }
        let end = row.at.plus_seconds(i64::from(row.airtime_s));
        ends_at = ends_at.max(Some(end));
    }
    first.map(|at| {
        Finding::new(
            "flights_overlap",
            Severity::Watch,
            tag,
            format!(
                "{} of {tag} began while the one before was still in the air, first at {at}",
                times(count)
            ),
            "correct the start or the time in the air, or void the one that was logged twice",
        )
    })
}

/// Club days on which the model flew and nobody logged that it was put together. Days before the first assembly on
/// record are left out: the club did not log them then.
fn without_rigging(audit: &Audit<'_>, file: &ModelFile, flown: Flown<'_>, tag: &str) -> Option<Finding> {
    let zone = audit.fleet.club().zone;
    let mut days: Vec<_> = flown.map(|row| day_of(row.at, zone)).collect();
    days.dedup();
    let missing: Vec<_> = days
        .into_iter()
        .filter(|day| file.riggings.count(start_of_day(*day, zone), end_of_day(*day, zone)) == 0)
        .filter(|day| file.riggings.count_before(start_of_day(*day, zone)) > 0)
        .collect();
    let (first, last) = (missing.first()?, missing.last()?);
    let when = if first == last {
        format!("on {first}")
    } else {
        format!("on {} days from {first} to {last}", missing.len())
    };
    Some(Finding::new(
        "rigging_missing",
        Severity::Watch,
        tag,
        format!(
            "{tag} flew {when} without an assembly on record: cycles of joiners and connectors are short"
        ),
        "log the missing assemblies with their day",
    ))
}
