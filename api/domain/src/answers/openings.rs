//! Event groups: what opened a check that has no interval, and whether it was passed since.
//!
//! After-flight, day and rigging checks are asked on the day itself and open nothing here, except that a
//! landing graded hard opens its own check.

use crate::{
    facts::{Group, Inspection, Repair},
    fleet::{Fitted, Fleet, FlightRow, RepairFile},
    ids::ModelId,
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

/// The events since the last pass of a group that hold it open, oldest first. `here` are the repairs on the model or on a
/// part that it carries.
pub(crate) fn openings(
    fleet: &Fleet,
    model: ModelId,
    group: &Group,
    as_of: Instant,
    here: &[RepairHere<'_>],
) -> Vec<Opening> {
    let passed_at = last_pass(fleet, model, group, as_of);
    let since = |at: Instant| passed_at.is_none_or(|passed| at > passed);
    let mut list = opened_by_events(fleet, model, group, as_of, here, since);
    let asked = after_repairs(fleet, model, group, as_of, here).into_iter();
    list.extend(asked.filter(|opening| since(opening.at)));
    list
}

fn opened_by_events(
    fleet: &Fleet,
    model: ModelId,
    group: &Group,
    as_of: Instant,
    here: &[RepairHere<'_>],
    since: impl Fn(Instant) -> bool,
) -> Vec<Opening> {
    match group.opened_by {
        Some(Opener::HardLanding) => hard_landings(fleet, model, as_of).filter(|o| since(o.at)).collect(),
        // What came in inside a panel is covered by the panel.
        Some(Opener::PartSwap) => changes(fleet, model, as_of, |fitted, kind| {
            kind.opens_swap_check() && !fitted.occupant.span.is_start_of_record
        })
        .into_iter()
        .filter(|opening| since(opening.at))
        .map(|opening| Opening { code: "swap_unchecked", ..opening })
        .collect(),
        // A receiver that came in inside its fuselage is a change of receiver all the same.
        Some(Opener::RadioChange) => changes(fleet, model, as_of, |fitted, kind| {
            kind == PartKind::Receiver && !fitted.is_start_of_record
        })
        .into_iter()
        .map(|opening| Opening { code: "radio_change_unchecked", ..opening })
        .chain(events(fleet, model, as_of, &[EventKind::RadioChange], "radio_change_unchecked"))
        .filter(|opening| since(opening.at))
        .collect(),
        Some(Opener::Transport) => {
            let kinds = [EventKind::Transport, EventKind::CaseFallen];
            events(fleet, model, as_of, &kinds, "transport_unchecked")
                .filter(|opening| since(opening.at))
                .collect()
        }
        Some(Opener::Repair) => open_repairs(here, as_of),
        None if RETURN_GROUPS.contains(&group.code.as_str()) => {
            let returned = events(fleet, model, as_of, &[EventKind::ReturnedToFlying], "return_unchecked");
            returned.filter(|opening| since(opening.at)).collect()
        }
        // Opened by facts that other nouns will bring, or asked on the day itself.
        Some(Opener::ContestEntry | Opener::EachFlight | Opener::EachFlyingDay | Opener::EachRigging)
        | None => Vec::new(),
    }
}

/// Groups that a model has to pass anew when it comes back from being laid up (common practice, no source).
const RETURN_GROUPS: [&str; 2] = ["N25", "PK20"];

/// Events of the given kinds on a model, oldest first.
fn events<'a>(
    fleet: &'a Fleet,
    model: ModelId,
    as_of: Instant,
    kinds: &'a [EventKind],
    code: &'static str,
) -> impl Iterator<Item = Opening> + 'a {
    let all = fleet.model(model).map_or(&[][..], |file| file.events.until(as_of));
    all.iter().filter(|event| kinds.contains(&event.fact.kind)).map(move |event| {
        let fact = &event.fact;
        let tag = fact.tag.as_ref().map_or_else(|| fleet.model_tag(model), ToString::to_string);
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

fn last_pass(fleet: &Fleet, model: ModelId, group: &Group, as_of: Instant) -> Option<Instant> {
    let file = fleet.model(model)?;
    let done = file
        .inspections
        .until(as_of)
        .iter()
        .rev()
        .find(|inspection| inspection.fact.group == group.code && fleet.is_done(&inspection.fact));
    done.map(|inspection| inspection.fact.occurred_at)
}

fn hard_landings(fleet: &Fleet, model: ModelId, as_of: Instant) -> impl Iterator<Item = Opening> + '_ {
    let log = fleet.model(model).map(|file| &file.flights);
    let rows = log.map_or(&[][..], |log| log.rows());
    let is_hard = move |row: &&FlightRow| row.landing == Landing::Hard && row.at <= as_of;
    rows.iter().filter(is_hard).map(move |row| {
        let tag = log.and_then(|log| log.hard_tag(row.id));
        let subject = tag.map_or_else(|| fleet.model_tag(model), ToString::to_string);
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

/// Parts that came into the model, at any level, of those asked for; the start of the record opens nothing.
fn changes(
    fleet: &Fleet,
    model: ModelId,
    as_of: Instant,
    asked: impl Fn(&Fitted<'_>, PartKind) -> bool,
) -> Vec<Opening> {
    let mut list: Vec<Opening> = fleet
        .fitted(model, as_of)
        .into_iter()
        .filter(|fitted| fleet.part_of(fitted.id).is_some_and(|part| asked(fitted, part.kind)))
        .map(|fitted| {
            let subject = fleet.component_tag(fitted.id);
            Opening {
                at: fitted.in_model_since,
                code: "part_change",
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

/// A repair, with what is kept of it.
pub(crate) type RepairHere<'a> = (&'a RepairFile, &'a Repair);

/// Repairs on the model or on a part that it carries; `fitted` is what it carries at the moment.
pub(crate) fn repairs_here<'a>(
    fleet: &'a Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    as_of: Instant,
) -> Vec<RepairHere<'a>> {
    let own = fleet.model(model).map_or(&[][..], |file| file.repairs.as_slice()).iter().copied();
    let on_parts = fitted.iter().flat_map(|fitted| {
        fleet.component(fitted.id).map_or(&[][..], |file| file.repairs.as_slice()).iter().copied()
    });
    let mut ids: Vec<_> = own.chain(on_parts).collect();
    ids.sort();
    ids.dedup();
    ids.into_iter()
        .filter_map(|id| fleet.repair(id))
        .filter_map(|file| Some((file, &file.repair.as_ref()?.fact)))
        .filter(|(_, repair)| repair.occurred_at <= as_of)
        .collect()
}

/// Repairs that are not released yet.
fn open_repairs(here: &[RepairHere<'_>], as_of: Instant) -> Vec<Opening> {
    let mut list: Vec<Opening> = here
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
fn after_repairs(
    fleet: &Fleet,
    model: ModelId,
    group: &Group,
    as_of: Instant,
    here: &[RepairHere<'_>],
) -> Vec<Opening> {
    if group.opened_by == Some(Opener::Repair) || here.is_empty() {
        return Vec::new();
    }
    let checks = fleet.model(model).map_or(&[][..], |file| file.inspections.until(as_of));
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
