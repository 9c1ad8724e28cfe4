//! Classes, contests and entries.

use std::collections::BTreeSet;

use super::Verdict;
use crate::{
    classes,
    facts::{ClassProfile, Contest, Entry},
    fleet::Fleet,
    words::EntryState,
};

pub(super) fn check_class(fleet: &Fleet, class: &ClassProfile, verdict: &mut Verdict) {
    verdict.range("/measuring_tolerance_pct", class.measuring_tolerance_pct, 0.0, 5.0, "%");
    let mut seen = BTreeSet::new();
    for (index, limit) in class.limits.iter().enumerate() {
        let at = format!("/limits/{index}");
        if !seen.insert(limit.quantity) {
            verdict.value(
                "limit_twice",
                format!("{at}/quantity"),
                format!("`{}` stands twice", limit.quantity),
            );
        }
        for (name, bound) in [("min", limit.min), ("max", limit.max)] {
            if let Some(bound) = bound {
                verdict.range(&format!("{at}/{name}"), bound, 0.0, 1e6, "");
            }
        }
        match (limit.min, limit.max) {
            (None, None) => verdict.value("no_limit", at, "give at least one of min and max"),
            (Some(min), Some(max)) if min > max => {
                verdict.value("limits_out_of_order", at, "min must not lie above max");
            }
            _ => {}
        }
    }
    match (class.confirmed_by, class.confirmed_on) {
        (Some(by), Some(_)) => verdict.member(fleet, "/confirmed_by", by),
        (None, None) => {}
        _ => verdict.value(
            "half_a_confirmation",
            "/confirmed_on",
            "give both who compared the limits with the edition in force and on which day, or neither",
        ),
    }
}

pub(super) fn check(fleet: &Fleet, contest: &Contest, verdict: &mut Verdict) {
    if contest.last_on < contest.first_on {
        verdict.value("out_of_order", "/last_on", "the last day lies before the first");
    }
    if crate::time::day_of(contest.check_in_at, fleet.club().zone) > contest.last_on {
        verdict.value("out_of_order", "/check_in_at", "check-in lies after the last day");
    }
    for (name, count, min, max) in [
        ("/rounds_min", contest.rounds_min.unwrap_or(0), 0.0, 200.0),
        ("/prelim_rounds_max", contest.prelim_rounds_max, 0.0, 100.0),
        ("/flyoff_rounds_max", contest.flyoff_rounds_max, 0.0, 100.0),
        ("/flights_per_round", contest.flights_per_round, 1.0, 100.0),
        ("/training_flights", contest.training_flights, 0.0, 500.0),
    ] {
        verdict.range(name, f64::from(count), min, max, "");
    }
    let rounds_max = contest.prelim_rounds_max.saturating_add(contest.flyoff_rounds_max);
    if contest.rounds_min.is_some_and(|least| least > rounds_max) {
        verdict.value(
            "out_of_order",
            "/rounds_min",
            format!("more rounds at least than at most: {rounds_max} with the fly-off"),
        );
    }
    if rounds_max == 0 {
        verdict.value("no_rounds", "/prelim_rounds_max", "a contest has at least one round");
    }
    if classes::of_tag(fleet, &contest.class).is_none() {
        verdict.value(
            "unknown_reference",
            "/class",
            format!(
                "no class `{}`: enter it, or name one that comes along ({})",
                contest.class,
                classes::tags()
            ),
        );
    }
    let mut asked = contest.permissions.clone();
    asked.sort();
    asked.dedup();
    if asked.len() != contest.permissions.len() {
        verdict.value("permission_twice", "/permissions", "name each kind of permission once");
    }
}

/// Two entries may claim one model or part: who has it is settled between people, and readiness tells of it.
pub(super) fn check_entry(fleet: &Fleet, entry: &Entry, verdict: &mut Verdict) {
    if fleet.contest(entry.contest).is_none() {
        verdict.value(
            "unknown_reference",
            "/contest",
            format!("no contest `{}` in this club", entry.contest),
        );
    }
    verdict.member(fleet, "/pilot", entry.pilot);
    verdict.model(fleet, "/model", entry.model);
    let mut models = BTreeSet::from([entry.model]);
    for (index, model) in entry.reserves.iter().enumerate() {
        let at = format!("/reserves/{index}");
        verdict.model(fleet, &at, *model);
        if !models.insert(*model) {
            verdict.value("model_twice", at, "name each model of an entry once");
        }
    }
    let mut parts = BTreeSet::new();
    for (index, part) in entry.parts.iter().enumerate() {
        let at = format!("/parts/{index}");
        verdict.component(fleet, &at, *part);
        if !parts.insert(*part) {
            verdict.value("part_twice", at, "name each part of an entry once");
        }
    }
    if let Some(height) = entry.mark_height_mm {
        verdict.range("/mark_height_mm", height, 1.0, 500.0, "mm");
    }
    let stands_already = fleet.contest_entries().any(|(id, known)| {
        id != entry.id
            && known.fact.contest == entry.contest
            && known.fact.pilot == entry.pilot
            && known.fact.state == EntryState::Entered
    });
    if stands_already && entry.state == EntryState::Entered {
        verdict.record(
            "already_entered",
            "/pilot",
            "this pilot has an entry to that contest already: change that one, or withdraw it first",
        );
    }
}
