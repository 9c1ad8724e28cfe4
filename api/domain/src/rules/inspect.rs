//! Checks that were done. Not looked at is never a pass.

use super::Verdict;
use crate::{
    facts::{Inspection, Item, Programme},
    fleet::Fleet,
    words::{CheckResult, ItemResult},
};

pub(super) fn check(fleet: &Fleet, inspection: &Inspection, verdict: &mut Verdict) {
    if inspection.model.is_none() && inspection.component.is_none() {
        verdict.value("subject_missing", "/model", "name the model or the component that was checked");
    }
    if let Some(model) = inspection.model {
        verdict.model(fleet, "/model", model);
    }
    if let Some(component) = inspection.component {
        verdict.component(fleet, "/component", component);
    }
    let programme = match inspection.programme {
        Some(id) => {
            let known = fleet.programme(id);
            if known.is_none() {
                verdict.value("unknown_reference", "/programme", format!("no programme `{id}` in this club"));
            }
            known
        }
        None => fleet.programme_of(inspection.model),
    };
    if let Some(programme) = programme {
        check_against(&programme.fact, inspection, verdict);
    }
    for (index, item) in inspection.items.iter().enumerate() {
        if let Some(component) = item.component {
            verdict.component(fleet, &format!("/items/{index}/component"), component);
        }
        if let Some(value) = item.value {
            verdict.range(&format!("/items/{index}/value"), value, -1e6, 1e6, "of the item's unit");
        }
    }
}

fn check_against(programme: &Programme, inspection: &Inspection, verdict: &mut Verdict) {
    if !programme.groups.iter().any(|group| group.code == inspection.group) {
        let codes: Vec<&str> = programme.groups.iter().map(|group| group.code.as_str()).collect();
        verdict.value(
            "unknown_group",
            "/group",
            format!(
                "programme {} has no group `{}`: it has {}",
                programme.tag,
                inspection.group,
                codes.join(", ")
            ),
        );
        return;
    }
    if inspection.is_summary {
        if !inspection.items.is_empty() {
            verdict.value(
                "summary_with_items",
                "/items",
                "a summary has no item results: leave one of the two out",
            );
        }
        return;
    }
    let asked: Vec<&Item> = programme.items.iter().filter(|item| item.group == inspection.group).collect();
    let mut not_looked_at: Vec<&str> = Vec::new();
    let mut failed: Vec<&str> = Vec::new();
    for (index, done) in inspection.items.iter().enumerate() {
        if !asked.iter().any(|item| item.code == done.item) {
            verdict.value(
                "unknown_item",
                format!("/items/{index}/item"),
                format!("group {} has no item `{}`", inspection.group, done.item),
            );
        }
        match done.result {
            ItemResult::Fail => failed.push(done.item.as_str()),
            ItemResult::NotLookedAt => not_looked_at.push(done.item.as_str()),
            ItemResult::NotApplicable if done.note.is_none() => verdict.value(
                "reason_missing",
                format!("/items/{index}/note"),
                format!("say why {} is not applicable", done.item),
            ),
            ItemResult::NotApplicable | ItemResult::Pass => {}
        }
    }
    not_looked_at.extend(
        asked
            .iter()
            .filter(|item| !inspection.items.iter().any(|done| done.item == item.code))
            .map(|item| item.code.as_str()),
    );
    if inspection.result == CheckResult::Pass && !(failed.is_empty() && not_looked_at.is_empty()) {
        failed.extend(not_looked_at);
        verdict.value(
            "not_a_pass",
            "/result",
            format!(
                "failed or not looked at: {}; look at them, or record `restrict` or `fail`",
                failed.join(", ")
            ),
        );
    }
}
