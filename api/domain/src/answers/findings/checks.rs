//! Checks beyond what the board says today: those that will ground within days, those entered as a summary without a
//! single item, those said to be done on a part that was not in the model, and what parts off any model failed.

use chrono::Days;

use super::{Audit, Family, PlacedFinding};
use crate::{
    answers::{
        due::{DueItem, due_of_model},
        failed_items::failed_items_of_part,
    },
    facts::Inspection,
    finding::Finding,
    fleet::Place,
    ids::ModelId,
    time::day_of,
    words::{CheckState, Severity},
};

/// What grounds within so many days is said beforehand (common practice, no source).
const SAY_BEFORE_DAYS: i64 = 7;

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    for (tag, model) in &audit.models {
        for item in due_of_model(audit.fleet, *model, audit.moment) {
            list.extend(
                grounds_soon(audit, &item).map(|f| PlacedFinding::new(Family::Checks, f).in_model(tag)),
            );
        }
        let said = summaries(audit, *model, tag).into_iter().chain(elsewhere(audit, *model));
        list.extend(said.map(|finding| PlacedFinding::new(Family::Checks, finding).in_model(tag)));
    }
    // What a part in a model failed is said by the board.
    for (part, _) in audit.components() {
        let Some(whereabouts) = audit.whereabouts(part).filter(|place| place.model.is_none()) else {
            continue;
        };
        let failed = failed_items_of_part(audit.fleet, part, audit.moment.as_of);
        list.extend(failed.into_iter().map(|f| PlacedFinding::new(Family::Checks, f).at(&whereabouts)));
    }
}

/// A check that is still inside its tolerance and will be beyond it by the calendar within days.
fn grounds_soon(audit: &Audit<'_>, item: &DueItem) -> Option<Finding> {
    if item.state == CheckState::Overdue || item.state == CheckState::NeverDone || !item.opened_by.is_empty()
    {
        return None;
    }
    let tolerance = u64::from(item.tolerance_days.unwrap_or(0));
    let last_on = item.due_on?.checked_add_days(Days::new(tolerance))?;
    let left = last_on.signed_duration_since(audit.moment.on).num_days();
    (0..=SAY_BEFORE_DAYS).contains(&left).then(|| {
        let from = last_on.succ_opt().unwrap_or(last_on);
        Finding::new(
            "check_grounds_soon",
            Severity::Watch,
            &item.group,
            format!(
                "{} ({}) grounds {} from {from} on: due {}, tolerance {tolerance} days",
                item.group,
                item.name,
                item.model,
                item.due_on.map(|on| on.to_string()).unwrap_or_default()
            ),
            format!("do {} ({}) by {last_on}", item.group, item.name),
        )
    })
}

/// Newest checks of a model that stand as a summary: nobody can tell what was looked at.
fn summaries(audit: &Audit<'_>, model: ModelId, tag: &str) -> Option<Finding> {
    let done = audit.fleet.model(model)?.inspections.until(audit.moment.as_of);
    let mut newest: Vec<&Inspection> = Vec::new();
    for inspection in done.iter().rev().map(|recorded| &recorded.fact) {
        if !newest.iter().any(|known| known.group == inspection.group) {
            newest.push(inspection);
        }
    }
    let mut groups: Vec<&str> =
        newest.iter().filter(|one| one.is_summary).map(|one| one.group.as_str()).collect();
    groups.sort_unstable();
    (!groups.is_empty()).then(|| {
        Finding::new(
            "summary_without_items",
            Severity::Watch,
            tag,
            format!(
                "the newest {} of {tag} {} entered as a whole, without one item: what was looked at is not known",
                groups.join(", "),
                if groups.len() == 1 { "is" } else { "are" }
            ),
            "enter the next check item by item",
        )
    })
}

/// Checks on a part in a model in which it did not sit.
fn elsewhere(audit: &Audit<'_>, model: ModelId) -> Vec<Finding> {
    let fleet = audit.fleet;
    let done = fleet.model(model).map_or(&[][..], |file| file.inspections.until(audit.moment.as_of));
    let mut list = Vec::new();
    for inspection in done.iter().map(|recorded| &recorded.fact) {
        let of_items = inspection.items.iter().filter_map(|item| item.component);
        let mut parts: Vec<_> = inspection.component.into_iter().chain(of_items).collect();
        parts.sort();
        parts.dedup();
        for part in parts {
            let place = fleet.place_at(part, inspection.occurred_at);
            if matches!(place, Place::InModel(holder, _) if holder == model) {
                continue;
            }
            let tag = fleet.component_tag(part);
            let was = match place {
                Place::InModel(other, _) => format!("in {}", fleet.model_tag(other)),
                Place::InPanel(panel, _) => format!("in {}, off any model", fleet.component_tag(panel)),
                Place::Loose => "in no model".to_owned(),
            };
            let on = day_of(inspection.occurred_at, fleet.club().zone);
            let name =
                inspection.tag.as_ref().map_or_else(|| inspection.group.to_string(), ToString::to_string);
            list.push(Finding::new(
                "checked_elsewhere",
                Severity::Watch,
                &name,
                format!(
                    "{} of {on} says {tag} was checked in {}, but it was {was}",
                    inspection.group,
                    fleet.model_tag(model)
                ),
                format!("correct the check, or the record of where {tag} sat"),
            ));
        }
    }
    list
}
