//! Open defects of a model and of what it carries, their class on a day, and the restrictions they bring.

use chrono::{Days, NaiveDate};

use super::Moment;
use crate::{
    facts::{Defect, Restriction, Subject},
    finding::Finding,
    fleet::{DefectFile, Fitted, Fleet},
    ids::{DefectId, ModelId},
    time::{Instant, day_of},
    words::{CheckResult, RestrictionKind, Severity},
};

/// A restricted defect without a day of its own is to be mended within so many days (common practice, no source).
const LONGEST_DEFERRAL_DAYS: u64 = 30;

/// Code of the check at which a watched defect is looked at again.
const WATCH_UNTIL_GROUP: &str = "N25";

/// An open defect as it stands on a day.
#[derive(Debug)]
pub(crate) struct OpenDefect<'a> {
    /// The defect.
    pub defect: &'a Defect,
    /// Its class on that day.
    pub severity: Severity,
    /// Flights left under its restriction, where that counts flights.
    pub flights_left: Option<i64>,
}

impl OpenDefect<'_> {
    /// Its tag, or its id.
    pub(crate) fn name(&self) -> String {
        self.defect.tag.as_ref().map_or_else(|| self.defect.id.to_string(), ToString::to_string)
    }

    /// The restriction that still holds.
    pub(crate) fn restriction(&self) -> Option<&Restriction> {
        self.defect.restriction.as_ref().filter(|_| self.severity != Severity::Ground)
    }

    /// What it says against flying.
    pub(crate) fn finding(&self) -> Finding {
        let defect = self.defect;
        let raised = if self.severity > defect.severity {
            format!(" (was {}, its time is over)", defect.severity)
        } else {
            String::new()
        };
        let place = defect.place.as_ref().map(|place| format!(" at {place}")).unwrap_or_default();
        let until = defect.fix_by_on.map(|on| format!("; to be mended by {on}")).unwrap_or_default();
        Finding::new(
            "defect_open",
            self.severity,
            self.name(),
            format!("{}{place}{raised}{until}", defect.text),
            match defect.subject {
                Subject::Component(_) => format!("repair and release {}, or take the part off", self.name()),
                Subject::Model(_) => {
                    format!("repair and release {}, or close it with what was found", self.name())
                }
            },
        )
    }
}

/// Open defects on the model itself and on every part it carries. A defect on a part elsewhere does not count.
pub(crate) fn open_defects<'a>(
    fleet: &'a Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    moment: Moment,
) -> Vec<OpenDefect<'a>> {
    let own = fleet.model(model).map_or(&[][..], |file| file.defects.as_slice());
    let on_parts =
        fitted.iter().flat_map(|fitted| fleet.component(fitted.id).map_or(&[][..], |f| f.defects.as_slice()));
    let mut ids: Vec<DefectId> = own.iter().chain(on_parts).copied().collect();
    ids.sort();
    ids.dedup();
    let mut list: Vec<OpenDefect<'a>> = ids
        .into_iter()
        .filter_map(|id| fleet.defect(id))
        .filter(|file| is_open(fleet, file, moment.as_of))
        .filter_map(|file| file.defect.as_ref())
        .map(|defect| judge(fleet, model, &defect.fact, moment))
        .collect();
    list.sort_by_key(|open| (std::cmp::Reverse(open.severity), open.name()));
    list
}

/// Whether a defect had been found and not closed by a moment: by a closure, or by the release of a repair
/// that names it.
pub(crate) fn is_open(fleet: &Fleet, file: &DefectFile, as_of: Instant) -> bool {
    file.defect.as_ref().is_some_and(|defect| defect.fact.occurred_at <= as_of)
        && file.closures.until(as_of).is_empty()
        && !file.repairs.iter().filter_map(|id| fleet.repair(*id)).any(|repair| repair.is_released_at(as_of))
}

fn judge<'a>(fleet: &Fleet, model: ModelId, defect: &'a Defect, moment: Moment) -> OpenDefect<'a> {
    let found_on = day_of(defect.occurred_at, fleet.club().zone);
    let restriction = defect.restriction.as_ref();
    let flights_left = restriction
        .filter(|restriction| restriction.kind == RestrictionKind::MaxFlights)
        .and_then(|restriction| restriction.value)
        .map(|allowed| {
            let flown =
                fleet.model_usage(model, defect.occurred_at, super::usage::just_after(moment.as_of)).flights;
            whole(allowed) - i64::try_from(flown).unwrap_or(i64::MAX)
        });
    let last_on = defect.fix_by_on.or_else(|| restriction.and_then(|restriction| restriction.until_on));
    let is_over = match defect.severity {
        Severity::Ground => false,
        Severity::Restrict => {
            let last_on = last_on.or_else(|| found_on.checked_add_days(Days::new(LONGEST_DEFERRAL_DAYS)));
            past(last_on, moment.on) || flights_left.is_some_and(|left| left <= 0)
        }
        Severity::Watch if last_on.is_some() => past(last_on, moment.on),
        Severity::Watch => watched_check_done(fleet, model, defect.occurred_at, moment.as_of),
    };
    let severity = match (defect.severity, is_over) {
        (Severity::Watch, true) => Severity::Restrict,
        (Severity::Restrict, true) => Severity::Ground,
        (severity, _) => severity,
    };
    OpenDefect { defect, severity, flights_left }
}

fn past(last_on: Option<NaiveDate>, on: NaiveDate) -> bool {
    last_on.is_some_and(|last_on| on > last_on)
}

fn watched_check_done(fleet: &Fleet, model: ModelId, found_at: Instant, as_of: Instant) -> bool {
    let inspections = fleet.model(model).map_or(&[][..], |file| file.inspections.until(as_of));
    inspections.iter().any(|inspection| {
        inspection.fact.group.as_str() == WATCH_UNTIL_GROUP
            && inspection.fact.occurred_at > found_at
            && inspection.fact.result != CheckResult::Fail
    })
}

/// A number of flights from JSON, rounded down: never more than was said.
fn whole(value: f64) -> i64 {
    #[expect(
        clippy::as_conversions,
        clippy::cast_possible_truncation,
        reason = "clamped to a small range before"
    )]
    let whole = value.floor().clamp(0.0, 1_000_000.0) as i64;
    whole
}
