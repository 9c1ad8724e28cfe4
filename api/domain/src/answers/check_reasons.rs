//! What the checks of a model say against flying it.

use super::{
    Moment,
    due::{DueItem, OpenedBy},
    due_states::applies,
    model_now::ModelNow,
};
use crate::{
    facts::{Inspection, Recorded},
    finding::Finding,
    fleet::{Fleet, Place},
    ids::ComponentId,
    time::Instant,
    words::{CheckResult, CheckState, PartKind, Severity},
};

/// A calendar check that falls due within so many days is said beforehand.
const SAY_BEFORE_DAYS: i64 = 7;

/// What the checks say: beyond tolerance, never done, failed or opened grounds; due and soon due is watched.
pub(crate) fn check_reasons(now: &ModelNow<'_>, due: &[DueItem], moment: Moment) -> Vec<Finding> {
    let mut list = failed_checks(now);
    for item in due {
        for opened in &item.opened_by {
            list.push(opened_reason(now.fleet, item, opened, moment));
        }
        // Single items that a repair asks for leave the group where it stands by itself.
        let alone = now.programme.and_then(|known| item.by_interval_alone(known));
        let Some(state) = alone.filter(|_| !item.is_opened_as_a_whole()) else { continue };
        let clear_by = format!("do {} ({})", item.group, item.name);
        match state {
            CheckState::Overdue => list.push(Finding::new(
                "check_overdue",
                Severity::Ground,
                &item.group,
                format!("{} {}", item.group, how_it_stands(item)),
                clear_by,
            )),
            CheckState::NeverDone => list.push(Finding::new(
                "check_never_done",
                Severity::Ground,
                &item.group,
                format!("{} ({}) was never done: unknown is not good", item.group, item.name),
                clear_by,
            )),
            CheckState::Due => list.push(Finding::new(
                "check_due",
                Severity::Watch,
                &item.group,
                format!("{} {}, inside its tolerance", item.group, how_it_stands(item)),
                clear_by,
            )),
            CheckState::Clear => {
                if let Some(days_left) = item.days_left.filter(|days| *days <= SAY_BEFORE_DAYS) {
                    let on = item.due_on.map(|on| on.to_string()).unwrap_or_default();
                    list.push(Finding::new(
                        "check_soon",
                        Severity::Watch,
                        &item.group,
                        format!("{} falls due on {on}, in {}", item.group, of_counter(days_left, "days")),
                        clear_by,
                    ));
                }
            }
        }
    }
    list
}

fn opened_reason(fleet: &Fleet, item: &DueItem, opened: &OpenedBy, moment: Moment) -> Finding {
    let curing = opened.not_before.filter(|until| moment.as_of < *until);
    match curing {
        Some(until) => Finding::new(
            if moment.begins_at(fleet) < until { "repair_curing" } else { "repair_unreleased" },
            Severity::Ground,
            &opened.subject,
            format!("{}; it cures until {until}, then it has to pass {}", opened.text, item.group),
            format!(
                "wait until {until}, then pass {} ({}) and release {}",
                item.group, item.name, opened.subject
            ),
        ),
        None if opened.code == "repair_unreleased" => Finding::new(
            "repair_unreleased",
            Severity::Ground,
            &opened.subject,
            format!("{}; not released", opened.text),
            format!("pass {} ({}) and release {}", item.group, item.name, opened.subject),
        ),
        None => {
            let asked = if opened.items.is_empty() { item.group.clone() } else { opened.items.join(", ") };
            Finding::new(
                &opened.code,
                Severity::Ground,
                &opened.subject,
                format!("{}; {asked} not passed since", opened.text),
                format!("pass {asked} ({})", item.name),
            )
        }
    }
}

/// Groups whose newest check was failed, of whatever kind: done in the model, or on a part of it alone. What asks for a
/// group on the day itself grounds no coming day by being missing; a failed one does, until it is passed.
fn failed_checks(now: &ModelNow<'_>) -> Vec<Finding> {
    let (fleet, as_of) = (now.fleet, now.as_of);
    let checks = now.file.inspections.until(as_of);
    // Few parts were ever looked at alone.
    let alone: Vec<(ComponentId, Vec<&Inspection>)> = now
        .fitted()
        .iter()
        .filter_map(|part| Some((part.id, fleet.component(part.id)?.inspections.until(as_of))))
        .map(|(part, own)| {
            (part, own.iter().map(|own| &own.fact).filter(|own| own.model.is_none()).collect())
        })
        .filter(|(_, own): &(_, Vec<_>)| !own.is_empty())
        .collect();
    let groups = now.programme.map_or(&[][..], |programme| programme.groups.as_slice());
    let mut list = Vec::new();
    for group in groups.iter().filter(|group| applies(now, group)) {
        let mut say = |on: &str, at: Instant| {
            list.push(Finding::new(
                "check_failed",
                Severity::Ground,
                group.code.as_str(),
                format!("{} ({}) was failed{on} at {at}", group.code, group.name),
                format!("mend what failed, then pass {}{on}", group.code),
            ));
        };
        let of_group = |check: &&Recorded<Inspection>| check.fact.group == group.code;
        // What a pack failed in the model went with that pack.
        let since = match group.applies_to {
            Some(PartKind::Pack) => now.packs().iter().map(|(_, since)| *since).max(),
            _ => None,
        };
        let counts =
            |check: &&Recorded<Inspection>| since.is_none_or(|since| check.fact.occurred_at >= since);
        if let Some(newest) = checks.iter().rfind(of_group).filter(counts)
            && newest.fact.result == CheckResult::Fail
        {
            say("", newest.fact.occurred_at);
        }
        for (part, own) in &alone {
            let Some(newest) = own.iter().rfind(|check| check.group == group.code) else { continue };
            // Passed in the model since, with the part in it.
            let mut since = checks.iter().filter(of_group).map(|check| &check.fact);
            let is_passed = since.any(|check| {
                (check.occurred_at, check.id) > (newest.occurred_at, newest.id)
                    && fleet.is_done(check)
                    && matches!(fleet.place_at(*part, check.occurred_at), Place::InModel(holder, _) if holder == now.model)
            });
            if newest.result == CheckResult::Fail && !is_passed {
                say(&format!(" on {}", fleet.component_tag(*part)), newest.occurred_at);
            }
        }
    }
    list
}

/// A count with its plural word, or the singular for one.
fn of_counter(count: i64, plural: &str) -> String {
    match plural.strip_suffix('s') {
        Some(singular) if count == 1 => format!("1 {singular}"),
        _ => format!("{count} {plural}"),
    }
}

fn how_it_stands(item: &DueItem) -> String {
    let mut parts = Vec::new();
    let counter = item.counter.map_or_else(String::new, |counter| counter.as_str().replace('_', " "));
    match (item.count_over, item.count_left, item.tolerance_count) {
        (Some(over), _, Some(tolerance)) if over > 0 => {
            parts.push(format!("over by {} (tolerance {tolerance})", of_counter(over, &counter)));
        }
        (_, Some(left), _) => parts.push(format!("{} left", of_counter(left, &counter))),
        _ => {}
    }
    match (item.days_over, item.days_left, item.due_on, item.tolerance_days) {
        (Some(over), _, Some(on), Some(tolerance)) if over > 0 => {
            parts.push(format!("late by {} since {on} (tolerance {tolerance})", of_counter(over, "days")));
        }
        (_, Some(left), Some(on), _) => parts.push(format!("{} left to {on}", of_counter(left, "days"))),
        _ => {}
    }
    parts.join(", ")
}
