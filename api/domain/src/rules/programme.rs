//! Inspection programmes.

use std::collections::BTreeSet;

use super::Verdict;
use crate::{
    facts::{Limit, Programme},
    fleet::Fleet,
    words::Direction,
};

pub(super) fn check(fleet: &Fleet, programme: &Programme, verdict: &mut Verdict) {
    if let Some(design) = programme.design {
        verdict.design(fleet, "/design", design);
    }
    if let Some(model) = programme.model {
        verdict.model(fleet, "/model", model);
    }
    if programme.groups.is_empty() {
        verdict.value("no_group", "/groups", "a programme has at least one group");
    }
    let mut codes = BTreeSet::new();
    for (index, group) in programme.groups.iter().enumerate() {
        let at = format!("/groups/{index}");
        if !codes.insert(&group.code) {
            verdict.value("code_twice", format!("{at}/code"), format!("group `{}` stands twice", group.code));
        }
        if group.counter.is_some() != group.every_count.is_some() {
            verdict.value(
                "half_an_interval",
                format!("{at}/every_count"),
                "give both what is counted and every how many",
            );
        }
        for (name, every) in [
            ("every_count", group.every_count),
            ("every_days", group.every_days),
            ("every_months", group.every_months),
        ] {
            if let Some(every) = every {
                verdict.range(&format!("{at}/{name}"), f64::from(every), 1.0, 100_000.0, "");
            }
        }
        // The formulas give no due point for these, and a check without one would never ask for anything.
        if group.every_count.is_some_and(|every| group.tolerance_count >= every) {
            verdict.value(
                "tolerance_too_long",
                format!("{at}/tolerance_count"),
                "the tolerance must be smaller than the interval",
            );
        }
        let every_days = group.every_days.or(group.every_months.map(|months| months.saturating_mul(28)));
        if every_days.is_some_and(|every| group.tolerance_days >= every) {
            verdict.value(
                "tolerance_too_long",
                format!("{at}/tolerance_days"),
                "the tolerance must be smaller than the interval",
            );
        }
        if group.every_days.is_some() && group.every_months.is_some() {
            verdict.value("two_calendars", format!("{at}/every_days"), "give days or months, not both");
        }
    }
    let mut items = BTreeSet::new();
    for (index, item) in programme.items.iter().enumerate() {
        let at = format!("/items/{index}");
        if !items.insert(&item.code) {
            verdict.value("code_twice", format!("{at}/code"), format!("item `{}` stands twice", item.code));
        }
        if !codes.contains(&item.group) {
            verdict.value(
                "unknown_group",
                format!("{at}/group"),
                format!("there is no group `{}`", item.group),
            );
        }
        for (limit_index, limit) in item.limits.iter().enumerate() {
            check_limit(limit, &format!("{at}/limits/{limit_index}"), verdict);
        }
    }
}

/// The classes lie in order on the side of the trouble.
pub(super) fn check_limit(limit: &Limit, at: &str, verdict: &mut Verdict) {
    let classes: Vec<f64> = [limit.watch, limit.restrict, limit.ground].into_iter().flatten().collect();
    if classes.is_empty() {
        verdict.value("no_limit", at, "give at least one of watch, restrict and ground");
    }
    for class in &classes {
        verdict.range(at, *class, -1e6, 1e6, limit.unit.as_str());
    }
    let in_order = classes.windows(2).all(|pair| match (pair, limit.direction) {
        ([milder, harder], Direction::AtOrAbove | Direction::Above) => milder <= harder,
        ([milder, harder], Direction::AtOrBelow | Direction::Below) => milder >= harder,
        _ => true,
    });
    if !in_order {
        verdict.value(
            "limits_out_of_order",
            at,
            "watch comes before restrict, and restrict before ground, on the side of the trouble",
        );
    }
}
