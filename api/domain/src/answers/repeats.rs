//! Defects that came back, the same on several models, and those whose time runs out: what an audit of the record
//! turns up about defects.

use chrono::Days;

use super::{Moment, defects::judge};
use crate::{
    facts::{Defect, Subject},
    finding::Finding,
    fleet::{
        DefectFile, Fleet,
        terms::{is_open, name_of},
    },
    ids::{ComponentId, DefectId, ModelId, PartId},
    time::{Instant, day_of},
    words::{ClosureKind, DefectCause, PartKind, Severity},
};

/// The same defect within so many flights repeats (common practice, no source).
const REPEATS_WITHIN_FLIGHTS: u64 = 50;

/// The same defect within so many days repeats (common practice, no source).
const REPEATS_WITHIN_DAYS: u64 = 90;

/// The same defect on so many models suggests a campaign (common practice, no source).
const MODELS_FOR_A_CAMPAIGN: usize = 3;

/// A limit is said beforehand when so many days or flights are left (common practice, no source).
const NEAR_DAYS: i64 = 7;
const NEAR_FLIGHTS: i64 = 5;

/// What makes two defects the same one.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Sort {
    cause: DefectCause,
    part_kind: Option<PartKind>,
    position_kind: Option<String>,
    place: Option<String>,
}

impl Sort {
    fn say(&self) -> String {
        let cause = self.cause.as_str().replace('_', " ");
        let on = match (&self.part_kind, &self.position_kind, &self.place) {
            (Some(part), Some(position), _) => {
                format!("a {} as {position}", part.as_str().replace('_', " "))
            }
            (Some(part), None, _) => format!("a {}", part.as_str().replace('_', " ")),
            (None, _, Some(place)) => format!("the {place}"),
            (None, _, None) => "the model".to_owned(),
        };
        format!("{cause} on {on}")
    }
}

/// A defect that says enough to be compared. One that was found wrong is none.
struct Known<'a> {
    id: DefectId,
    defect: &'a Defect,
    sort: Sort,
    component: Option<ComponentId>,
}

fn known(fleet: &Fleet, as_of: Instant) -> Vec<Known<'_>> {
    let mut list: Vec<Known<'_>> = fleet
        .defects()
        .filter(|(_, file)| !is_found_wrong(file, as_of))
        .filter_map(|(id, file)| {
            let defect = &file.defect.as_ref()?.fact;
            let component = match defect.subject {
                Subject::Component(component) => Some(component),
                Subject::Model(_) => None,
            };
            let sort = sort_of(fleet, defect)?;
            (defect.occurred_at <= as_of).then_some(Known { id, defect, sort, component })
        })
        .collect();
    list.sort_by_key(|one| (one.defect.occurred_at, one.id));
    list
}

fn is_found_wrong(file: &DefectFile, as_of: Instant) -> bool {
    file.closures.until(as_of).iter().any(|closure| closure.fact.kind == ClosureKind::FoundWrong)
}

/// By kind of part, kind of position at the moment it was found, and cause; on a model itself by the place in words.
/// Nothing where the cause is not known, or the place on a model is not said.
fn sort_of(fleet: &Fleet, defect: &Defect) -> Option<Sort> {
    let cause = defect.cause.filter(|cause| cause.is_known())?;
    match defect.subject {
        Subject::Component(component) => {
            let position = fleet.position_at(component, defect.occurred_at);
            Some(Sort {
                cause,
                part_kind: Some(fleet.part_of(component)?.kind),
                position_kind: position.map(|position| position.kind.to_string()),
                place: None,
            })
        }
        Subject::Model(_) => {
            let place = defect.place.as_ref()?.as_str().to_lowercase();
            Some(Sort { cause, part_kind: None, position_kind: None, place: Some(place) })
        }
    }
}

/// Whether the later of two defects on one model comes within 50 flights or 90 days of the earlier.
fn is_repeat(fleet: &Fleet, earlier: &Defect, later: &Defect) -> bool {
    let zone = fleet.club().zone;
    let (from, to) = (day_of(earlier.occurred_at, zone), day_of(later.occurred_at, zone));
    let flights = fleet.model_usage(later.model, earlier.occurred_at, later.occurred_at).flights;
    flights <= REPEATS_WITHIN_FLIGHTS
        || from.checked_add_days(Days::new(REPEATS_WITHIN_DAYS)).is_some_and(|last| to <= last)
}

/// Tags of the defects of one model that a defect repeats, newest last, with the day each was found.
pub(crate) fn repeats_of(
    fleet: &Fleet,
    defect: DefectId,
    as_of: Instant,
) -> Vec<(String, chrono::NaiveDate)> {
    let all = known(fleet, as_of);
    let Some(later) = all.iter().find(|one| one.id == defect) else { return Vec::new() };
    earlier_than(fleet, &all, later)
}

fn earlier_than(fleet: &Fleet, all: &[Known<'_>], later: &Known<'_>) -> Vec<(String, chrono::NaiveDate)> {
    all.iter()
        .take_while(|one| one.id != later.id)
        .filter(|one| one.sort == later.sort && one.defect.model == later.defect.model)
        .filter(|one| is_repeat(fleet, one.defect, later.defect))
        .map(|one| (name_of(one.defect), day_of(one.defect.occurred_at, fleet.club().zone)))
        .collect()
}

/// Defects that came back on one model and do not say why, and defects that are the same on three models.
///
/// The same is: kind of part, kind of position and cause. A repeat is settled by the note on its cause, not by a new
/// part; a suggestion by a campaign that covers the parts.
#[must_use]
pub fn repeat_defects(fleet: &Fleet, moment: Moment) -> Vec<Finding> {
    let all = known(fleet, moment.as_of);
    let mut list: Vec<Finding> = all
        .iter()
        .filter(|later| later.defect.cause_note.is_none())
        .filter_map(|later| {
            let (earlier, found_on) = earlier_than(fleet, &all, later).pop()?;
            let name = name_of(later.defect);
            Some(Finding::new(
                "defect_repeats",
                Severity::Watch,
                &name,
                format!(
                    "{} on {} again, after {earlier} of {found_on}, and nothing says why it came back",
                    later.sort.say(),
                    fleet.model_tag(later.defect.model)
                ),
                format!(
                    "correct {name} with a `cause_note` that says what causes it; a new part alone does not"
                ),
            ))
        })
        .collect();
    list.extend(suggested_campaigns(fleet, &all, moment.as_of));
    list
}

fn suggested_campaigns(fleet: &Fleet, all: &[Known<'_>], as_of: Instant) -> Vec<Finding> {
    let mut sorts: Vec<&Sort> =
        all.iter().filter(|one| one.component.is_some()).map(|one| &one.sort).collect();
    sorts.sort();
    sorts.dedup();
    sorts.into_iter().filter_map(|sort| suggested(fleet, all, sort, as_of)).collect()
}

fn suggested(fleet: &Fleet, all: &[Known<'_>], sort: &Sort, as_of: Instant) -> Option<Finding> {
    let zone = fleet.club().zone;
    let same: Vec<&Known<'_>> = all.iter().filter(|one| one.sort == *sort).collect();
    let newest_on = day_of(same.last()?.defect.occurred_at, zone);
    let since = newest_on.checked_sub_days(Days::new(REPEATS_WITHIN_DAYS))?;
    let recent: Vec<&&Known<'_>> =
        same.iter().filter(|one| day_of(one.defect.occurred_at, zone) >= since).collect();
    let mut models: Vec<ModelId> = recent.iter().map(|one| one.defect.model).collect();
    models.sort();
    models.dedup();
    if models.len() < MODELS_FOR_A_CAMPAIGN {
        return None;
    }
    let parts = recent.iter().filter_map(|one| fleet.component_data(one.component?));
    let mut types: Vec<(PartId, Option<String>)> =
        parts.map(|data| (data.part, data.batch.as_ref().map(ToString::to_string))).collect();
    types.sort();
    types.dedup();
    let is_covered = |part: PartId, batch: &Option<String>| {
        fleet.campaigns().map(|(_, campaign)| &campaign.fact).any(|campaign| {
            campaign.part == part
                && campaign.occurred_at <= as_of
                && campaign.batch.as_ref().is_none_or(|of| Some(of.to_string()) == *batch)
                && campaign
                    .position_kind
                    .as_ref()
                    .is_none_or(|of| Some(of.as_str()) == sort.position_kind.as_deref())
        })
    };
    if types.iter().all(|(part, batch)| is_covered(*part, batch)) {
        return None;
    }
    let covers: Vec<String> = types
        .iter()
        .map(|(part, batch)| {
            let tag = fleet.part(*part).map_or_else(|| part.to_string(), |part| part.fact.tag.to_string());
            batch.as_ref().map_or_else(|| tag.clone(), |batch| format!("{tag}/{batch}"))
        })
        .collect();
    let defects: Vec<String> = recent.iter().map(|one| name_of(one.defect)).collect();
    let at = sort.position_kind.as_ref().map(|kind| format!(" at {kind}")).unwrap_or_default();
    Some(Finding::new(
        "campaign_suggested",
        Severity::Watch,
        covers.join(", "),
        format!("{} on {} models: {}", sort.say(), models.len(), defects.join(", ")),
        format!("open a campaign over {}{at}", covers.join(" and ")),
    ))
}

/// Open defects whose class rises by itself within 7 days or 5 flights.
#[must_use]
pub fn defects_near_limit(fleet: &Fleet, moment: Moment) -> Vec<Finding> {
    let open = fleet.defects().filter(|(_, file)| is_open(fleet, file, moment.as_of));
    open.filter_map(|(_, file)| {
        let open = judge(fleet, file, moment).filter(|open| !open.is_raised())?;
        let days = open.last_on.map(|on| (on - moment.on).num_days()).filter(|days| *days <= NEAR_DAYS);
        let flights = open.flights_left.into_iter().chain(open.within_left).min();
        let flights = flights.filter(|left| *left <= NEAR_FLIGHTS);
        let mut said: Vec<String> = Vec::new();
        said.extend(open.last_on.filter(|_| days.is_some()).map(|on| format!("after {on}")));
        said.extend(flights.map(|left| format!("in {left} flights")));
        let name = open.name();
        (!said.is_empty()).then(|| {
            Finding::new(
                "defect_near_limit",
                Severity::Watch,
                &name,
                format!("{}; its class rises by itself {}", open.defect().text, said.join(" or ")),
                open.clear_by(fleet),
            )
        })
    })
    .collect()
}

/// Open defects of class restrict that nobody has deferred: nothing says what may be flown with them.
#[must_use]
pub fn undeferred_defects(fleet: &Fleet, moment: Moment) -> Vec<Finding> {
    let open = fleet.defects().filter(|(_, file)| is_open(fleet, file, moment.as_of));
    open.filter_map(|(_, file)| {
        let open = judge(fleet, file, moment)?;
        let is_bare = open.deferrals.is_empty() && open.defect().severity == Severity::Restrict;
        is_bare.then(|| {
            let text = format!("{}; no restriction was stated", open.defect().text);
            Finding::new("defect_not_deferred", open.severity, open.name(), text, open.clear_by(fleet))
        })
    })
    .collect()
}
