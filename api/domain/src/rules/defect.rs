//! Defects and their closing without a repair.

use super::Verdict;
use crate::{
    facts::{Closure, Defect},
    fleet::Fleet,
    words::{RestrictionKind, Severity},
};

pub(super) fn check(fleet: &Fleet, defect: &Defect, verdict: &mut Verdict) {
    verdict.model(fleet, "/model", defect.model);
    verdict.subject(fleet, "/subject", defect.subject);
    let Some(restriction) = &defect.restriction else { return };
    if defect.severity == Severity::Ground {
        verdict.value(
            "ground_is_never_deferred",
            "/restriction",
            "a defect that grounds is not flown with: leave the restriction out",
        );
    }
    match restriction.kind {
        RestrictionKind::MaxFlights | RestrictionKind::MaxLaunchesPerCharge | RestrictionKind::MaxWind => {
            match restriction.value {
                None => verdict.value(
                    "value_missing",
                    "/restriction/value",
                    format!("`{}` needs a number", restriction.kind),
                ),
                Some(value) => verdict.range("/restriction/value", value, 0.0, 1000.0, "of the restriction"),
            }
        }
        RestrictionKind::UntilDate if restriction.until_on.is_none() => {
            verdict.value("value_missing", "/restriction/until_on", "`until_date` needs a day");
        }
        RestrictionKind::UntilDate
        | RestrictionKind::NoContest
        | RestrictionKind::NoLandingFlap
        | RestrictionKind::LightLaunchOnly
        | RestrictionKind::OwnerOnly => {}
    }
}

pub(super) fn check_closure(fleet: &Fleet, closure: &Closure, verdict: &mut Verdict) {
    let Some(file) = fleet.defect(closure.defect).filter(|file| file.defect.is_some()) else {
        verdict.value("unknown_reference", "/defect", format!("no defect `{}` in this club", closure.defect));
        return;
    };
    if file.closures.iter().any(|known| known.fact.id != closure.id) {
        verdict.record("already_closed", "/defect", "the defect is closed already");
    }
    if file.defect.as_ref().is_some_and(|defect| closure.occurred_at < defect.fact.occurred_at) {
        verdict.record("closed_before_found", "/occurred_at", "a defect is closed after it was found");
    }
}
