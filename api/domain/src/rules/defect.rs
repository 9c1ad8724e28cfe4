//! Defects and their closing without a repair.

use super::Verdict;
use crate::{
    facts::{Closure, Defect, Restriction, Subject},
    fleet::{Fleet, terms::name_of},
    time::Instant,
    words::{CheckResult, ClosureKind, ComponentState, RestrictionKind, Severity},
};

pub(super) fn check(fleet: &Fleet, defect: &Defect, verdict: &mut Verdict) {
    verdict.model(fleet, "/model", defect.model);
    verdict.subject(fleet, "/subject", defect.subject);
    if let Some(cause) = defect.cause.filter(|cause| cause.is_never_deferred())
        && defect.severity != Severity::Ground
    {
        verdict.value(
            "cause_is_never_deferred",
            "/severity",
            format!("a matter of `{cause}` always grounds: record it as `ground`"),
        );
    }
    if defect.severity == Severity::Ground && defect.stated().next().is_some() {
        verdict.value(
            "ground_is_never_deferred",
            if defect.restriction.is_some() { "/restriction" } else { "/restrictions" },
            "a defect that grounds is not flown with: leave the restriction out",
        );
    }
    if let Some(restriction) = &defect.restriction {
        check_restriction(restriction, "/restriction", verdict);
    }
    for (index, restriction) in defect.restrictions.iter().enumerate() {
        check_restriction(restriction, &format!("/restrictions/{index}"), verdict);
    }
}

/// A restriction has the number or the day that its kind needs.
pub(super) fn check_restriction(restriction: &Restriction, pointer: &str, verdict: &mut Verdict) {
    match restriction.kind {
        RestrictionKind::MaxFlights | RestrictionKind::MaxLaunchesPerCharge | RestrictionKind::MaxWind => {
            match restriction.value {
                None => verdict.value(
                    "value_missing",
                    format!("{pointer}/value"),
                    format!("`{}` needs a number", restriction.kind),
                ),
                Some(value) => {
                    verdict.range(&format!("{pointer}/value"), value, 0.0, 1000.0, "of the restriction");
                }
            }
        }
        RestrictionKind::UntilDate if restriction.until_on.is_none() => {
            verdict.value("value_missing", format!("{pointer}/until_on"), "`until_date` needs a day");
        }
        RestrictionKind::UntilDate
        | RestrictionKind::NoContest
        | RestrictionKind::NoLandingFlap
        | RestrictionKind::LightLaunchOnly
        | RestrictionKind::OwnerOnly => {}
    }
}

pub(super) fn check_closure(fleet: &Fleet, closure: &Closure, verdict: &mut Verdict) {
    let Some((file, defect)) =
        fleet.defect(closure.defect).and_then(|file| Some((file, file.defect.as_ref()?)))
    else {
        verdict.value("unknown_reference", "/defect", format!("no defect `{}` in this club", closure.defect));
        return;
    };
    if file.closures.iter().any(|known| known.fact.id != closure.id) {
        verdict.record("already_closed", "/defect", "the defect is closed already");
    }
    if closure.occurred_at < defect.fact.occurred_at {
        verdict.record("closed_before_found", "/occurred_at", "a defect is closed after it was found");
    }
    check_ground(fleet, &defect.fact, closure, verdict);
}

/// A closing rests on something that was done since the defect was found.
fn check_ground(fleet: &Fleet, defect: &Defect, closure: &Closure, verdict: &mut Verdict) {
    let (name, subject) = (name_of(defect), subject_tag(fleet, defect.subject));
    match closure.kind {
        ClosureKind::FoundWrong => {
            if !has_fresh_reading(fleet, defect, closure) {
                verdict.record(
                    "no_fresh_reading",
                    "/measurement",
                    format!(
                        "{name} is found wrong by a fresh reading: measure {subject} again, then close it with \
                         that reading"
                    ),
                );
            }
        }
        ClosureKind::CheckPassed => {
            if !is_checked_since(fleet, defect, closure.occurred_at) {
                verdict.record(
                    "no_check_passed",
                    "/kind",
                    format!(
                        "no check of {subject} was passed since {name} was found: do it, then close {name}"
                    ),
                );
            }
        }
        ClosureKind::PartScrapped => match defect.subject {
            Subject::Model(_) => verdict.record(
                "not_on_a_part",
                "/kind",
                format!("{name} sits on {subject} itself: it does not go with a part"),
            ),
            Subject::Component(component) => {
                let state = fleet.component(component).map(|file| file.state_at(closure.occurred_at));
                if state != Some(ComponentState::Scrapped) {
                    verdict.record(
                        "part_not_scrapped",
                        "/kind",
                        format!("{subject} is not scrapped: record its condition first, or repair it"),
                    );
                }
            }
        },
    }
    if closure.kind != ClosureKind::FoundWrong && closure.measurement.is_some() {
        verdict.value(
            "reading_not_wanted",
            "/measurement",
            format!("a reading belongs to `{}`: leave it out", ClosureKind::FoundWrong),
        );
    }
}

fn subject_tag(fleet: &Fleet, subject: Subject) -> String {
    match subject {
        Subject::Model(model) => fleet.model_tag(model),
        Subject::Component(component) => fleet.component_tag(component),
    }
}

/// Whether the named reading, or else any, was taken on the subject since the defect was found.
fn has_fresh_reading(fleet: &Fleet, defect: &Defect, closure: &Closure) -> bool {
    let readings = match defect.subject {
        Subject::Model(model) => fleet.model(model).map(|file| &file.measurements),
        Subject::Component(component) => fleet.component(component).map(|file| &file.measurements),
    };
    let by_then = readings.map_or(&[][..], |readings| readings.until(closure.occurred_at));
    by_then.iter().map(|reading| &reading.fact).any(|reading| {
        reading.occurred_at >= defect.occurred_at
            && closure.measurement.is_none_or(|named| named == reading.id)
    })
}

/// Whether a check was passed since the defect was found: on the part itself, or on the model, or on the model that
/// carried the part at that moment.
fn is_checked_since(fleet: &Fleet, defect: &Defect, by: Instant) -> bool {
    let passed =
        |checks: &[crate::facts::Recorded<crate::facts::Inspection>], from: Instant, to: Option<Instant>| {
            checks.iter().map(|check| &check.fact).any(|check| {
                check.result == CheckResult::Pass
                    && check.occurred_at >= defect.occurred_at
                    && check.occurred_at >= from
                    && to.is_none_or(|to| check.occurred_at < to)
            })
        };
    let of_model = |model, from: Instant, to: Option<Instant>| {
        fleet.model(model).is_some_and(|file| passed(file.inspections.until(by), from, to))
    };
    match defect.subject {
        Subject::Model(model) => of_model(model, defect.occurred_at, None),
        Subject::Component(component) => {
            let itself = fleet.component(component).map(|file| file.inspections.until(by));
            itself.is_some_and(|checks| passed(checks, defect.occurred_at, None))
                || fleet
                    .model_spans(component)
                    .into_iter()
                    .any(|span| of_model(span.model, span.from, span.to))
        }
    }
}
