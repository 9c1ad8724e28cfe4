//! What the checks of a model say against flying it.

use super::{
    Moment,
    due::{DueItem, OpenedBy},
};
use crate::{
    finding::Finding,
    fleet::Fleet,
    ids::ModelId,
    time::Instant,
    words::{CheckResult, CheckState, Severity},
};

/// A calendar check that falls due within so many days is said beforehand.
const SAY_BEFORE_DAYS: i64 = 7;

/// What the checks say: beyond tolerance, never done, failed or opened grounds; due and soon due is watched.
pub(crate) fn check_reasons(fleet: &Fleet, model: ModelId, due: &[DueItem], moment: Moment) -> Vec<Finding> {
    let mut list = Vec::new();
    for item in due {
        if let Some(at) = failed_last(fleet, model, item, moment) {
            list.push(Finding::new(
                "check_failed",
                Severity::Ground,
                &item.group,
                format!("{} ({}) was failed at {at}", item.group, item.name),
                format!("mend what failed, then pass {}", item.group),
            ));
        }
        for opened in &item.opened_by {
            list.push(opened_reason(fleet, item, opened, moment));
        }
        if !item.opened_by.is_empty() {
            continue;
        }
        let clear_by = format!("do {} ({})", item.group, item.name);
        match item.state {
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
        None => Finding::new(
            &opened.code,
            Severity::Ground,
            &opened.subject,
            format!("{}; {} not passed since", opened.text, item.group),
            format!("pass {} ({})", item.group, item.name),
        ),
    }
}

/// When the newest check of the group was failed, where no later one was passed.
fn failed_last(fleet: &Fleet, model: ModelId, item: &DueItem, moment: Moment) -> Option<Instant> {
    let inspections = fleet.model(model)?.inspections.until(moment.as_of);
    let newest = inspections.iter().rev().find(|inspection| inspection.fact.group.as_str() == item.group)?;
    (newest.fact.result == CheckResult::Fail).then_some(newest.fact.occurred_at)
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
