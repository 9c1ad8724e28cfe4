//! Flights that cannot be as they stand, or should not have been: two at a time, on days without an assembly, and
//! after a hard landing or a ground defect that nobody had cleared.

use super::{Audit, Family, PlacedFinding};
use crate::{
    facts::Subject,
    finding::Finding,
    fleet::{Fleet, FlightRow, ModelFile, terms::name_of},
    ids::{DefectId, ModelId},
    time::{Instant, day_of, end_of_day, start_of_day},
    words::{CheckResult, Landing, Severity},
};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    for (tag, model) in &audit.models {
        let Some(file) = audit.fleet.model(*model) else { continue };
        let flown = flown(file, audit.moment.as_of);
        let said = overlaps(flown, tag)
            .into_iter()
            .chain(without_rigging(audit, file, flown, tag))
            .chain(after_hard_landing(audit, file, flown, tag))
            .chain(with_ground_defect(audit, *model, flown, tag));
        list.extend(said.map(|finding| PlacedFinding::new(Family::Flights, finding).in_model(tag)));
    }
}

/// Flights until a moment.
fn flown(file: &ModelFile, as_of: Instant) -> &[FlightRow] {
    let rows = file.flights.rows();
    rows.get(..rows.partition_point(|row| row.at <= as_of)).unwrap_or_default()
}

/// Flights that began in a stretch of time, both ends left out.
fn between(flown: &[FlightRow], from: Instant, to: Option<Instant>) -> usize {
    flown.iter().filter(|row| row.at > from && to.is_none_or(|to| row.at < to)).count()
}

fn times(count: usize) -> String {
    if count == 1 { "1 flight".to_owned() } else { format!("{count} flights") }
}

fn overlaps(flown: &[FlightRow], tag: &str) -> Option<Finding> {
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
fn without_rigging(audit: &Audit<'_>, file: &ModelFile, flown: &[FlightRow], tag: &str) -> Option<Finding> {
    let zone = audit.fleet.club().zone;
    let mut days: Vec<_> = flown.iter().map(|row| day_of(row.at, zone)).collect();
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

/// Flights between a hard landing and the check it opens.
fn after_hard_landing(
    audit: &Audit<'_>,
    file: &ModelFile,
    flown: &[FlightRow],
    tag: &str,
) -> Option<Finding> {
    let passed = |from: Instant| {
        let checks = file.inspections.until(audit.moment.as_of).iter();
        let mut passes = checks.filter(|check| {
            check.fact.group.as_str() == "HL"
                && check.fact.result != CheckResult::Fail
                && check.fact.occurred_at > from
        });
        passes.next().map(|check| check.fact.occurred_at)
    };
    let mut count = 0;
    let mut first = None;
    let mut covered_until = Instant::from_micros(i64::MIN);
    for row in flown.iter().filter(|row| row.landing == Landing::Hard) {
        let to = passed(row.at);
        let from = row.at.max(covered_until);
        let after = between(flown, from, to);
        if after > 0 {
            count += after;
            first = first.or(Some(row.at));
        }
        covered_until = to.unwrap_or(Instant::from_micros(i64::MAX));
    }
    first.map(|at| {
        Finding::new(
            "flown_while_grounded",
            Severity::Watch,
            tag,
            format!(
                "{} of {tag} after a hard landing and before HL was passed, first after that of {at}",
                times(count)
            ),
            "pass HL if it is still open; else correct the entry that is wrong, or leave it as a lesson",
        )
    })
}

/// Flights with an open defect that grounds, on the model or on a part while it sat in the model.
fn with_ground_defect(audit: &Audit<'_>, model: ModelId, flown: &[FlightRow], tag: &str) -> Vec<Finding> {
    let fleet = audit.fleet;
    let mut list = Vec::new();
    for (id, file) in fleet.defects() {
        let Some(defect) = file.defect.as_ref().map(|defect| &defect.fact) else { continue };
        if defect.severity != Severity::Ground || defect.occurred_at > audit.moment.as_of {
            continue;
        }
        let closed_at = closed_at(fleet, id, audit.moment.as_of);
        let count = match defect.subject {
            Subject::Model(of) if of == model => between(flown, defect.occurred_at, closed_at),
            Subject::Model(_) => 0,
            Subject::Component(part) => fleet
                .model_spans(part)
                .into_iter()
                .filter(|span| span.model == model)
                .map(|span| {
                    let from = span.from.max(defect.occurred_at);
                    let to = match (span.to, closed_at) {
                        (Some(a), Some(b)) => Some(a.min(b)),
                        (one, None) | (None, one) => one,
                    };
                    between(flown, from, to)
                })
                .sum(),
        };
        if count > 0 {
            let name = name_of(defect);
            list.push(Finding::new(
                "flown_while_grounded",
                Severity::Watch,
                &name,
                format!("{} of {tag} while {name} grounded it: {}", times(count), defect.text),
                format!("repair and release {name} if it is still open; else correct the entry that is wrong, or leave it as a lesson"),
            ));
        }
    }
    list
}

/// When a defect was closed: by a closure, or by the release of a repair that names it.
fn closed_at(fleet: &Fleet, id: DefectId, as_of: Instant) -> Option<Instant> {
    let file = fleet.defect(id)?;
    let by_closure = file.closures.until(as_of).first().map(|closure| closure.fact.occurred_at);
    let by_release = file
        .repairs
        .iter()
        .filter_map(|repair| fleet.repair(*repair)?.releases.until(as_of).first())
        .map(|release| release.fact.occurred_at)
        .min();
    match (by_closure, by_release) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (one, None) | (None, one) => one,
    }
}
