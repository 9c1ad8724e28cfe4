//! Open defects of a model and of what it carries, their class on a day, and the restrictions they bring.

use chrono::NaiveDate;

use super::{Moment, may_fly::RestrictionSaid};
use crate::{
    facts::{Defect, Recorded, Subject},
    finding::Finding,
    fleet::{
        DefectFile, Fitted, Fleet,
        terms::{
            MOST_DEFERRALS, Terms, deferrals_by, flights_of, flown_with, is_looked_at_since, is_open,
            name_of, own_terms, restrict_until,
        },
    },
    ids::{DefectId, ModelId},
    time::day_of,
    words::{RestrictionKind, Severity},
};

/// An open defect as it stands on a day.
#[derive(Debug)]
pub(crate) struct OpenDefect<'a> {
    /// The defect, as it was recorded.
    pub recorded: &'a Recorded<Defect>,
    /// Its class on that day.
    pub severity: Severity,
    /// All its deferrals by then, the first one first.
    pub deferrals: Vec<Terms<'a>>,
    /// The terms in force: of the last deferral, else what stands with the defect itself.
    pub terms: Terms<'a>,
    /// Last day before its class rises by itself, where a day does that.
    pub last_on: Option<NaiveDate>,
    /// Flights left before it grounds.
    pub flights_left: Option<i64>,
    /// Flights left before its class rises by itself, where a count does that.
    pub within_left: Option<i64>,
    /// Flights flown since the terms in force began.
    pub flown: i64,
}

impl OpenDefect<'_> {
    /// Its tag, or its id.
    pub(crate) fn name(&self) -> String {
        name_of(self.defect())
    }

    /// The defect.
    pub(crate) fn defect(&self) -> &Defect {
        &self.recorded.fact
    }

    /// Whether its class has risen by itself.
    pub(crate) fn is_raised(&self) -> bool {
        self.severity > self.defect().severity
    }

    /// Whether it can still be put off: not yet, or only once, and not one that grounds by itself.
    pub(crate) fn can_be_deferred(&self) -> bool {
        match self.deferrals.len() {
            0 => self.severity != Severity::Ground,
            count => self.defect().severity != Severity::Ground && count < MOST_DEFERRALS,
        }
    }

    /// The restrictions that still hold, each with what is left of it.
    pub(crate) fn restrictions(&self) -> Vec<RestrictionSaid> {
        if self.severity == Severity::Ground {
            return Vec::new();
        }
        let stated = self.terms.restrictions.iter().map(|one| RestrictionSaid {
            kind: one.kind,
            value: flights_of(one).map(|allowed| as_number((allowed - self.flown).max(0))).or(one.value),
            until_on: one.until_on.or(self.terms.fix_by_on),
            source: self.name(),
        });
        let counted = self.within_left.filter(|_| self.defect().severity == Severity::Restrict);
        let counted = counted.map(|left| RestrictionSaid {
            kind: RestrictionKind::MaxFlights,
            value: Some(as_number(left)),
            until_on: self.terms.fix_by_on,
            source: self.name(),
        });
        stated.chain(counted).collect()
    }

    /// Whether it does no more than count flights.
    pub(crate) fn only_counts_flights(&self) -> bool {
        let restrictions = self.restrictions();
        !restrictions.is_empty() && restrictions.iter().all(|one| one.kind == RestrictionKind::MaxFlights)
    }

    /// What it says against flying.
    pub(crate) fn finding(&self, fleet: &Fleet) -> Finding {
        let defect = self.defect();
        let raised = if self.is_raised() {
            format!(" (was {}, its time is over)", defect.severity)
        } else {
            String::new()
        };
        let place = defect.place.as_ref().map(|place| format!(" at {place}")).unwrap_or_default();
        let until =
            self.terms.stated_last_on().map(|on| format!("; to be mended by {on}")).unwrap_or_default();
        let within = self.terms.within_flights.zip(self.within_left);
        let within = within.map(|(all, left)| format!("; {left} of {all} flights left")).unwrap_or_default();
        let deferred = self.terms.deferral.map(|_| {
            let word = if self.deferrals.len() == MOST_DEFERRALS { "extended" } else { "deferred" };
            let zone = fleet.club().zone;
            format!(
                "; {word} on {} by {}, found on {}",
                day_of(self.terms.at, zone),
                fleet.member_tag(self.terms.signed_by),
                day_of(defect.occurred_at, zone)
            )
        });
        let text = format!("{}{place}{raised}{until}{within}{}", defect.text, deferred.unwrap_or_default());
        Finding::new("defect_open", self.severity, self.name(), text, self.clear_by(fleet))
    }

    /// What a person can do about it.
    pub(crate) fn clear_by(&self, fleet: &Fleet) -> String {
        let name = self.name();
        let mut ways = vec![format!("repair and release {name}")];
        let asks_for_terms = self.deferrals.is_empty() && self.severity == Severity::Restrict;
        if self.can_be_deferred() && (self.is_raised() || asks_for_terms) {
            ways.push(match self.deferrals.first() {
                None => format!("have {name} deferred by the model's owner or an inspector"),
                Some(first) => format!(
                    "have {name} extended by an inspector other than {}",
                    fleet.member_tag(first.signed_by)
                ),
            });
        }
        ways.push(match self.defect().subject {
            Subject::Component(_) => "take the part off".to_owned(),
            Subject::Model(_) => "close it with what was found".to_owned(),
        });
        ways.join(", or ")
    }
}

/// A count as a number for JSON.
pub(crate) fn as_number(count: i64) -> f64 {
    f64::from(i32::try_from(count).unwrap_or(i32::MAX))
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
    let files = ids.into_iter().filter_map(|id| fleet.defect(id));
    let mut list: Vec<OpenDefect<'a>> = files
        .filter(|file| is_open(fleet, file, moment.as_of))
        .filter_map(|file| judge(fleet, file, moment))
        .collect();
    list.sort_by_key(|open| (std::cmp::Reverse(open.severity), open.name()));
    list
}

/// How a defect stands on a day under its terms, whether it is open or not; `None` if it is not on record.
///
/// At its limit a restricted one grounds and a watched one restricts by itself: at the stated last day or count, else
/// 30 days after it was found, and at the next periodic check. What a restriction itself forbids grounds: after its
/// day, and when its flights are flown. An extension sets the limits anew.
pub(crate) fn judge<'a>(fleet: &Fleet, file: &'a DefectFile, moment: Moment) -> Option<OpenDefect<'a>> {
    let recorded = file.defect.as_ref()?;
    let defect = &recorded.fact;
    let deferrals = deferrals_by(file, moment.as_of);
    let terms = deferrals.last().cloned().unwrap_or_else(|| own_terms(recorded));
    let flown = flown_with(fleet, defect.subject, terms.at, moment.as_of);
    let left = |allowed: i64| (allowed - flown).max(0);
    let by_restrictions = terms.max_flights().map(left);
    let within_left = terms.within_flights.map(|within| left(i64::from(within)));
    let last_on = match defect.severity {
        Severity::Ground => None,
        Severity::Restrict => restrict_until(fleet, defect, &terms, deferrals.len() == MOST_DEFERRALS),
        Severity::Watch => terms.stated_last_on(),
    };
    let is_past = |last_on: Option<NaiveDate>| last_on.is_some_and(|last_on| moment.on > last_on);
    let is_forbidden = is_past(terms.until_on()) || by_restrictions.is_some_and(|left| left <= 0);
    let is_over = is_past(last_on)
        || within_left.is_some_and(|left| left <= 0)
        || (defect.severity == Severity::Watch
            && last_on.is_none()
            && is_looked_at_since(fleet, defect.subject, terms.at, moment.as_of));
    let severity = match defect.severity {
        Severity::Ground => Severity::Ground,
        Severity::Restrict | Severity::Watch if is_forbidden => Severity::Ground,
        Severity::Restrict if is_over => Severity::Ground,
        Severity::Watch if is_over => Severity::Restrict,
        milder @ (Severity::Restrict | Severity::Watch) => milder,
    };
    let counts_to_ground = within_left.filter(|_| defect.severity == Severity::Restrict);
    let flights_left = by_restrictions.into_iter().chain(counts_to_ground).min();
    Some(OpenDefect { recorded, severity, deferrals, terms, last_on, flights_left, within_left, flown })
}
