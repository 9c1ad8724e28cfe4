//! Event groups: what opened a check that has no interval, and whether it was passed since.
//!
//! After-flight, day and rigging checks are asked on the day itself and open nothing here, except that a
//! landing graded hard opens its own check.

use super::model_now::ModelNow;
use crate::{
    facts::{Group, Inspection},
    fleet::{Fitted, FlightRow},
    time::Instant,
    words::{EventKind, ItemResult, Landing, Opener, PartKind},
    worksheets::worksheet,
};

/// What opened a check, and when.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Opening {
    /// When.
    pub at: Instant,
    /// Stable code.
    pub code: &'static str,
    /// Tag of what it sits on.
    pub subject: String,
    /// What happened.
    pub text: String,
    /// Until when it cannot be done, where something cures.
    pub not_before: Option<Instant>,
    /// The items that are asked for; empty: the whole group.
    pub items: Vec<String>,
}

/// The events since the last pass of a group that hold it open, oldest first.
pub(crate) fn openings(now: &ModelNow<'_>, group: &Group) -> Vec<Opening> {
    let is_opened = group.opened_by.is_some() || RETURN_GROUPS.contains(&group.code.as_str());
    if !is_opened && now.repairs().is_empty() {
        return Vec::new();
    }
    let passed = now.file.inspections.done_until(now.fleet, &group.code, now.as_of).next();
    let since = |at: Instant| passed.is_none_or(|passed| at > passed.at);
    let mut list = opened_by_events(now, group, since);
    list.extend(after_repairs(now, group).into_iter().filter(|opening| since(opening.at)));
    list
}

fn opened_by_events(now: &ModelNow<'_>, group: &Group, since: impl Fn(Instant) -> bool) -> Vec<Opening> {
    match group.opened_by {
        Some(Opener::HardLanding) => hard_landings(now, since).collect(),
        // What came in inside a panel is covered by the panel.
        Some(Opener::PartSwap) => changes(now, since, "swap_unchecked", |fitted, kind| {
            kind.opens_swap_check() && !fitted.occupant.span.is_start_of_record
        }),
        // A receiver that came in inside its fuselage is a change of receiver all the same.
        Some(Opener::RadioChange) => {
            let mut list = changes(now, &since, "radio_change_unchecked", |fitted, kind| {
                kind == PartKind::Receiver && !fitted.is_start_of_record
            });
            list.extend(events(now, &[EventKind::RadioChange], "radio_change_unchecked", since));
            list
        }
        Some(Opener::Transport) => {
            let kinds = [EventKind::Transport, EventKind::CaseFallen];
            events(now, &kinds, "transport_unchecked", since).collect()
        }
        Some(Opener::Repair) => open_repairs(now),
        None if RETURN_GROUPS.contains(&group.code.as_str()) => {
            events(now, &[EventKind::ReturnedToFlying], "return_unchecked", since).collect()
        }
        // Opened by facts that other nouns will bring, or asked on the day itself.
        Some(Opener::ContestEntry | Opener::EachFlight | Opener::EachFlyingDay | Opener::EachRigging)
        | None => Vec::new(),
    }
}

/// Groups that a model has to pass anew when it comes back from being laid up (common practice, no source).
const RETURN_GROUPS: [&str; 2] = ["N25", "PK20"];

/// Events of the given kinds on a model since some moment, oldest first.
fn events<'a>(
    now: &'a ModelNow<'_>,
    kinds: &'a [EventKind],
    code: &'static str,
    since: impl Fn(Instant) -> bool + 'a,
) -> impl Iterator<Item = Opening> + 'a {
    let all = now.file.events.until(now.as_of).iter().map(|event| &event.fact);
    let wanted = all.filter(move |event| kinds.contains(&event.kind) && since(event.occurred_at));
    wanted.map(move |fact| {
        let tag = fact.tag.as_ref().map_or_else(|| now.fleet.model_tag(now.model), ToString::to_string);
        let note = fact.note.as_ref().map(|note| format!(": {note}")).unwrap_or_default();
        Opening {
            at: fact.occurred_at,
            code,
            subject: tag,
            text: format!("{} at {}{note}", fact.kind.as_str().replace('_', " "), fact.occurred_at),
            not_before: None,
            items: Vec::new(),
        }
    })
}

fn hard_landings<'a>(
    now: &'a ModelNow<'_>,
    since: impl Fn(Instant) -> bool + 'a,
) -> impl Iterator<Item = Opening> + 'a {
    let log = &now.file.flights;
    // From the newest flight back to the last pass, however many lie before it.
    let rows = log.until(now.as_of).rev();
    let hard: Vec<FlightRow> =
        rows.take_while(|row| since(row.at)).filter(|row| row.landing == Landing::Hard).collect();
    hard.into_iter().rev().map(move |row| {
        let tag = log.hard_tag(row.id);
        let subject = tag.map_or_else(|| now.fleet.model_tag(now.model), ToString::to_string);
        let silent = if row.is_post_flight_logged { "" } else { " and no after-flight check was logged" };
        Opening {
            at: row.at,
            code: "hard_landing_unchecked",
            text: format!("hard landing {subject} at {}{silent}", row.at),
            subject,
            not_before: None,
            items: Vec::new(),
        }
    })
}

/// Parts that came into the model since some moment, at any level, of those asked for; the start of the record opens
/// nothing.
fn changes(
    now: &ModelNow<'_>,
    since: impl Fn(Instant) -> bool,
    code: &'static str,
    asked: impl Fn(&Fitted<'_>, PartKind) -> bool,
) -> Vec<Opening> {
    let came_in = now.fitted().iter().filter(|fitted| since(fitted.in_model_since));
    let mut list: Vec<Opening> = came_in
        .filter(|fitted| now.fleet.part_of(fitted.id).is_some_and(|part| asked(fitted, part.kind)))
        .map(|fitted| {
            let subject = now.fleet.component_tag(fitted.id);
            Opening {
                at: fitted.in_model_since,
                code,
                text: format!("{subject} came into {} at {}", fitted.path, fitted.in_model_since),
                subject,
                not_before: None,
                items: Vec::new(),
            }
        })
        .collect();
    list.sort_by(|a, b| (a.at, &a.subject).cmp(&(b.at, &b.subject)));
    list
}

/// Repairs that are not released yet.
fn open_repairs(now: &ModelNow<'_>) -> Vec<Opening> {
    let as_of = now.as_of;
    let mut list: Vec<Opening> = now
        .repairs()
        .iter()
        .filter(|(file, _)| !file.is_released_at(as_of))
        .map(|(file, repair)| {
            let subject = repair.name();
            Opening {
                at: repair.occurred_at,
                code: "repair_unreleased",
                text: format!("{subject}: {}", repair.text),
                subject,
                not_before: file.cure_until(as_of),
                items: Vec::new(),
            }
        })
        .collect();
    list.sort_by(|a, b| (a.at, &a.subject).cmp(&(b.at, &b.subject)));
    list
}

/// What the sheets of released repairs ask to be looked at again: single items, from when the work was over, each until
/// it was passed. A repair without a sheet opens nothing: its release stands for what was looked at.
fn after_repairs(now: &ModelNow<'_>, group: &Group) -> Vec<Opening> {
    let (here, as_of) = (now.repairs(), now.as_of);
    if group.opened_by == Some(Opener::Repair) || here.is_empty() {
        return Vec::new();
    }
    let checks = now.file.inspections.until(as_of);
    let of_group: Vec<&Inspection> =
        checks.iter().map(|check| &check.fact).filter(|check| check.group == group.code).collect();
    let mut list: Vec<Opening> = here
        .iter()
        .filter(|(file, _)| file.is_released_at(as_of) && file.keeps_sheet(as_of))
        .filter_map(|(file, repair)| {
            let asked = worksheet(repair.kind).reopens.iter().find(|one| one.means(group.code.as_str()))?;
            let at = file.worked_until(as_of)?;
            let is_open = |item: &&String| !of_group.iter().any(|check| passes(check, item, at));
            let items: Vec<String> = asked.items.iter().filter(is_open).cloned().collect();
            if items.is_empty() {
                return None;
            }
            let subject = repair.name();
            Some(Opening {
                at,
                code: "reinspection_after_repair",
                text: format!("{subject} ({}) asks for {}: {}", repair.kind, group.code, asked.text),
                subject,
                not_before: None,
                items,
            })
        })
        .collect();
    list.sort_by(|a, b| (a.at, &a.subject).cmp(&(b.at, &b.subject)));
    list
}

/// Whether a check passed an item after a moment, whatever became of the rest of its group.
fn passes(check: &Inspection, item: &str, after: Instant) -> bool {
    check.occurred_at > after
        && check.items.iter().any(|done| {
            done.item.as_str() == item && matches!(done.result, ItemResult::Pass | ItemResult::NotApplicable)
        })
}
