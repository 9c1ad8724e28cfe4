//! The terms on which a defect may be flown with, those stated with it and those of its deferrals, and how far they
//! are used up. What class a defect has on a day follows from them; that is for the answers.

use chrono::{Days, NaiveDate};

use super::{DefectFile, Fleet};
use crate::{
    facts::{Defect, Deferral, Recorded, Restriction, Subject},
    ids::{MemberId, ModelId},
    time::{Instant, day_of},
    words::{RestrictionKind, Severity},
};

/// A restricted defect without a day of its own is to be mended within so many days (common practice, no source).
pub(crate) const LONGEST_DEFERRAL_DAYS: u64 = 30;

/// Code of the check at which a watched defect is looked at again.
const WATCH_UNTIL_GROUP: &str = "N25";

/// Deferrals of one defect at most: one, and its extension (common practice, no source).
pub(crate) const MOST_DEFERRALS: usize = 2;

/// Terms on which a defect is flown with.
#[derive(Debug, Clone)]
pub(crate) struct Terms<'a> {
    /// From this moment on; flights are counted from here.
    pub at: Instant,
    /// All of them hold.
    pub restrictions: Vec<Restriction>,
    /// Last day before the class rises.
    pub fix_by_on: Option<NaiveDate>,
    /// Flights before the class rises.
    pub within_flights: Option<u32>,
    /// Who signed for it.
    pub signed_by: MemberId,
    /// The deferral; `None` where the terms stand with the defect itself.
    pub deferral: Option<&'a Recorded<Deferral>>,
}

/// Whether a defect was deferred as it was recorded: with its restriction, or a watched one with its last day.
pub(crate) fn is_deferred_when_found(defect: &Defect) -> bool {
    match defect.severity {
        Severity::Ground => false,
        Severity::Restrict => defect.stated().next().is_some(),
        Severity::Watch => defect.stated().next().is_some() || defect.fix_by_on.is_some(),
    }
}

/// What is stated with the defect itself, whether or not that amounts to a deferral.
pub(crate) fn own_terms(recorded: &Recorded<Defect>) -> Terms<'_> {
    Terms {
        at: recorded.fact.occurred_at,
        restrictions: recorded.fact.stated().cloned().collect(),
        fix_by_on: recorded.fact.fix_by_on,
        within_flights: None,
        signed_by: recorded.fact.found_by.unwrap_or(recorded.recorded_by),
        deferral: None,
    }
}

/// All deferrals of a defect by a moment, the first one first.
pub(crate) fn deferrals_by(file: &DefectFile, as_of: Instant) -> Vec<Terms<'_>> {
    let own = file.defect.iter().filter(|defect| is_deferred_when_found(&defect.fact)).map(own_terms);
    let later = file.deferrals.until(as_of).iter().map(|recorded| Terms {
        at: recorded.fact.occurred_at,
        restrictions: recorded.fact.restrictions.clone(),
        fix_by_on: recorded.fact.fix_by_on,
        within_flights: recorded.fact.within_flights,
        signed_by: recorded.fact.deferred_by.unwrap_or(recorded.recorded_by),
        deferral: Some(recorded),
    });
    own.chain(later).collect()
}

impl Terms<'_> {
    /// The stated last day before the class rises, if one is stated: its own, else the earliest of a restriction.
    pub(crate) fn stated_last_on(&self) -> Option<NaiveDate> {
        self.fix_by_on.or_else(|| self.restrictions.iter().filter_map(|one| one.until_on).min())
    }

    /// The last day on which it may be flown at all, where a restriction names one.
    pub(crate) fn until_on(&self) -> Option<NaiveDate> {
        let dated = self.restrictions.iter().filter(|one| one.kind == RestrictionKind::UntilDate);
        dated.filter_map(|one| one.until_on).min()
    }

    /// Flights that its restrictions allow, the fewest of all.
    pub(crate) fn max_flights(&self) -> Option<i64> {
        self.restrictions.iter().filter_map(flights_of).min()
    }
}

/// Flights that a restriction allows, if it counts them; rounded down: never more than was said.
pub(crate) fn flights_of(restriction: &Restriction) -> Option<i64> {
    let value = restriction.value.filter(|_| restriction.kind == RestrictionKind::MaxFlights)?;
    #[expect(
        clippy::as_conversions,
        clippy::cast_possible_truncation,
        reason = "clamped to a small range before"
    )]
    let whole = value.floor().clamp(0.0, 1_000_000.0) as i64;
    Some(whole)
}

/// The day after which a defect of class restrict grounds: the stated one, else 30 days from the day it was found,
/// or from the day of its extension.
pub(crate) fn restrict_until(
    fleet: &Fleet,
    defect: &Defect,
    terms: &Terms<'_>,
    is_extension: bool,
) -> Option<NaiveDate> {
    let from = if is_extension { terms.at } else { defect.occurred_at };
    terms
        .stated_last_on()
        .or_else(|| day_of(from, fleet.club().zone).checked_add_days(Days::new(LONGEST_DEFERRAL_DAYS)))
}

/// Flights of the models that carried the subject of a defect, from a moment on and by another.
pub(crate) fn flown_with(fleet: &Fleet, subject: Subject, from: Instant, as_of: Instant) -> i64 {
    // What happened at that moment counts.
    let end = Instant::from_micros(as_of.micros().saturating_add(1));
    let flown: u64 = match subject {
        Subject::Model(model) => fleet.model_usage(model, from, end).flights,
        Subject::Component(component) => fleet
            .model_spans(component)
            .into_iter()
            .map(|span| {
                let to = span.to.map_or(end, |to| to.min(end));
                fleet.model_usage(span.model, from.max(span.from), to).flights
            })
            .sum(),
    };
    i64::try_from(flown).unwrap_or(i64::MAX)
}

/// Whether the subject was looked at since: a periodic check, not failed, on the model, or on the model that carried
/// the part at that moment.
pub(crate) fn is_looked_at_since(fleet: &Fleet, subject: Subject, since: Instant, as_of: Instant) -> bool {
    let looked = |model: ModelId, from: Instant, to: Option<Instant>| {
        let checks = fleet.model(model).map_or(&[][..], |file| file.inspections.until(as_of));
        checks.iter().map(|check| &check.fact).any(|check| {
            check.group.as_str() == WATCH_UNTIL_GROUP
                && fleet.is_done(check)
                && check.occurred_at > since
                && check.occurred_at >= from
                && to.is_none_or(|to| check.occurred_at < to)
        })
    };
    match subject {
        Subject::Model(model) => looked(model, since, None),
        Subject::Component(component) => {
            fleet.model_spans(component).into_iter().any(|span| looked(span.model, span.from, span.to))
        }
    }
}

/// Whether a defect had been found and not closed by a moment: by a closure, or by the release of a repair
/// that names it.
pub(crate) fn is_open(fleet: &Fleet, file: &DefectFile, as_of: Instant) -> bool {
    file.defect.as_ref().is_some_and(|defect| defect.fact.occurred_at <= as_of)
        && file.closures.until(as_of).is_empty()
        && !file.repairs.iter().filter_map(|id| fleet.repair(*id)).any(|repair| repair.is_released_at(as_of))
}

/// Whether a defect of class restrict that nobody has put off has run out of time by a moment: it grounds, and what
/// grounds is not put off.
pub(crate) fn is_run_out_undeferred(fleet: &Fleet, file: &DefectFile, at: Instant) -> bool {
    let Some(recorded) = &file.defect else { return false };
    let last_on = restrict_until(fleet, &recorded.fact, &own_terms(recorded), false);
    recorded.fact.severity == Severity::Restrict
        && deferrals_by(file, at).is_empty()
        && last_on.is_some_and(|last_on| day_of(at, fleet.club().zone) > last_on)
}

/// Tag of a defect, or its id.
pub(crate) fn name_of(defect: &Defect) -> String {
    defect.tag.as_ref().map_or_else(|| defect.id.to_string(), ToString::to_string)
}
