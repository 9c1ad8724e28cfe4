//! Defects that are open without what a deferral needs, or whose deferral is about to end. Those that ground are said
//! by the board.

use super::{Audit, Family, PlacedFinding};
use crate::{
    answers::defects::{OpenDefect, open_defects},
    finding::Finding,
    words::Severity,
};

/// A deferral that ends within so many days is said beforehand (common practice, no source).
const SAY_BEFORE_DAYS: i64 = 7;

/// The same in flights.
const SAY_BEFORE_FLIGHTS: i64 = 5;

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    for (tag, model) in &audit.models {
        let fitted = audit.fleet.fitted(*model, audit.moment.as_of);
        for open in open_defects(audit.fleet, *model, &fitted, audit.moment) {
            let said = [without_restriction(&open), raised(&open), ends_soon(audit, &open)];
            list.extend(
                said.into_iter().flatten().map(|f| PlacedFinding::new(Family::Defects, f).in_model(tag)),
            );
        }
    }
}

fn without_restriction(open: &OpenDefect<'_>) -> Option<Finding> {
    let is_bare = open.severity == Severity::Restrict && open.restriction().is_none();
    is_bare.then(|| {
        let name = open.name();
        Finding::new(
            "defect_without_restriction",
            Severity::Restrict,
            &name,
            format!("{name} restricts ({}), and nothing says how it may be flown", open.defect.text),
            format!("defer {name} with a restriction, or repair and release it"),
        )
    })
}

/// A watched defect that has become one that restricts, by time alone.
fn raised(open: &OpenDefect<'_>) -> Option<Finding> {
    let is_raised = open.severity == Severity::Restrict && open.defect.severity == Severity::Watch;
    is_raised.then(|| {
        let name = open.name();
        Finding::new(
            "defect_raised",
            Severity::Restrict,
            &name,
            format!("{name} was to be watched and its time is over: {}", open.defect.text),
            format!("repair and release {name}, or close it with what was found"),
        )
    })
}

fn ends_soon(audit: &Audit<'_>, open: &OpenDefect<'_>) -> Option<Finding> {
    if open.severity == Severity::Ground || open.severity > open.defect.severity {
        return None;
    }
    let name = open.name();
    let until = open.restriction().and_then(|restriction| restriction.until_on);
    let last_on = open.defect.fix_by_on.or(until);
    let days = last_on.map(|on| on.signed_duration_since(audit.moment.on).num_days());
    let by_days = days.filter(|days| (0..=SAY_BEFORE_DAYS).contains(days)).zip(last_on);
    let by_flights = open.flights_left.filter(|left| (0..=SAY_BEFORE_FLIGHTS).contains(left));
    let when = match (by_days, by_flights) {
        (Some((days, on)), _) => format!("{on}, in {days} days"),
        (None, Some(left)) => format!("the next {left} flights"),
        (None, None) => return None,
    };
    Some(Finding::new(
        "deferral_ends_soon",
        Severity::Watch,
        &name,
        format!("the time of {name} ends with {when}; then its class rises by itself: {}", open.defect.text),
        format!("repair and release {name} before that, or have an inspector extend it"),
    ))
}
