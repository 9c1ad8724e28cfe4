//! Which checks fall due, in the plain words of the rule: whichever comes first; done inside tolerance the next
//! due point counts from the due point, done early or late from when it was done.

use chrono::{Datelike, Days, NaiveDate};
use preen_domain::{
    facts::{Group, Inspection, Programme},
    ids::{ComponentId, ModelId},
    time::{Instant, day_of},
    words::{CheckResult, CheckState, Counter, EventKind, ItemResult, Landing, Opener, PartKind},
};

use super::{
    Asked, Book, each,
    places::{carried, kind_of},
    readings, repairs, usage,
};

#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    pub group: String,
    pub state: CheckState,
    pub counts_flights: bool,
    pub done_at_count: Option<i64>,
    pub now_at_count: Option<i64>,
    pub due_at_count: Option<i64>,
    pub tolerance_count: i64,
    pub tolerance_days: u32,
    pub done_on: Option<NaiveDate>,
    pub due_on: Option<NaiveDate>,
    /// Code, subject and, where something cures, until when.
    pub opened_by: Vec<(&'static str, String, Option<Instant>)>,
    /// How it stands by its interval; nothing for a group without one.
    pub by_interval: Option<CheckState>,
}

/// All checks of a model, in the order of its programme.
pub fn of_model(book: &Book, model: ModelId, asked: Asked) -> Vec<Check> {
    let Some(programme) = book.programme(model) else { return Vec::new() };
    let mut list = Vec::new();
    for group in &programme.groups {
        if !applies(book, model, group, asked.as_of) {
            continue;
        }
        let opened = opened_by(book, model, group, asked.as_of);
        let has_interval =
            group.every_count.is_some() || group.every_days.is_some() || group.every_months.is_some();
        if !has_interval && opened.is_empty() {
            continue;
        }
        let mut check = by_interval(book, model, group, asked);
        check.by_interval = has_interval.then_some(check.state);
        if !opened.is_empty() {
            check.state = CheckState::Overdue;
        }
        check.opened_by = opened;
        list.push(check);
    }
    list
}

/// Opened by a repair for single items, which leaves the group where it stands by its interval.
pub const REINSPECTION: &str = "reinspection_after_repair";

/// The programme that a check was done by.
pub fn programme_of_check<'a>(book: &'a Book, check: &Inspection) -> Option<&'a Programme> {
    match (check.programme, check.model) {
        (Some(named), _) => book.newest_programme(named),
        (None, Some(model)) => book.programme(model),
        (None, None) => readings::programme_for(book, None),
    }
}

/// Not failed, and nothing of its group left unlooked at.
pub fn is_done(book: &Book, check: &Inspection) -> bool {
    if check.result == CheckResult::Fail {
        return false;
    }
    if check.is_summary || check.result == CheckResult::Pass {
        return true;
    }
    let mut is_whole = true;
    for asked in programme_of_check(book, check).map_or(&[][..], |programme| programme.items.as_slice()) {
        if asked.group == check.group {
            let mut seen = false;
            for done in &check.items {
                seen |= done.item == asked.code && done.result != ItemResult::NotLookedAt;
            }
            is_whole &= seen;
        }
    }
    is_whole
}

/// Packs that are fitted, and since when each is in the model.
pub fn packs(book: &Book, model: ModelId, at: Instant) -> Vec<(ComponentId, Instant)> {
    let fitted = carried(book, model, at).into_iter();
    fitted.filter(|c| kind_of(book, c.component) == PartKind::Pack).map(|c| (c.component, c.since)).collect()
}

/// Only where the design has such a position; a pack check only where a pack is fitted.
pub fn applies(book: &Book, model: ModelId, group: &Group, at: Instant) -> bool {
    match group.applies_to {
        None => true,
        Some(PartKind::Pack) => !packs(book, model, at).is_empty(),
        Some(kind) => book
            .design(book.model(model).design)
            .is_some_and(|design| design.positions.iter().any(|position| position.accepts == kind)),
    }
}

/// Checks of a group that count, oldest first: not failed; a pack check for the packs that are fitted now.
fn done<'a>(book: &'a Book, model: ModelId, group: &Group, as_of: Instant) -> Vec<&'a Inspection> {
    let packs = packs(book, model, as_of);
    let is_pack_check = group.applies_to == Some(PartKind::Pack);
    let mut list: Vec<&Inspection> = each!(book, Inspection)
        .filter(|inspection| {
            let on_model = inspection.model == Some(model)
                && (!is_pack_check || packs.iter().all(|(_, since)| inspection.occurred_at >= *since));
            let on_pack = is_pack_check && packs.iter().any(|(pack, _)| inspection.component == Some(*pack));
            inspection.group == group.code
                && is_done(book, inspection)
                && inspection.occurred_at <= as_of
                && (on_model || on_pack)
        })
        .collect();
    list.sort_by_key(|inspection| (inspection.occurred_at, inspection.id));
    list
}

/// A counter of a model over the events for which a condition on their moment holds. Charges are those of the packs
/// fitted now, and nobody counts them while none was ever logged.
fn count(
    book: &Book,
    model: ModelId,
    counter: Counter,
    as_of: Instant,
    counts: impl Fn(Instant) -> bool,
) -> Option<i64> {
    if counter == Counter::Charges {
        let packs = packs(book, model, as_of);
        let of_these =
            || each!(book, Charge).filter(|charge| packs.iter().any(|(pack, _)| *pack == charge.component));
        let is_logged = of_these().any(|charge| charge.occurred_at <= as_of);
        return is_logged
            .then(|| i64::try_from(of_these().filter(|charge| counts(charge.occurred_at)).count()).unwrap());
    }
    let used = usage::of_model(book, model, counts);
    let number = match counter {
        Counter::Flights => used.flights,
        Counter::Launches => used.launches,
        Counter::AirtimeH => (used.airtime_min / 60.0 + 1e-9).floor() as u64,
        Counter::MotorS => used.motor_s,
        Counter::Riggings | Counter::Matings => used.riggings,
        Counter::Charges => unreachable!("counted above"),
    };
    i64::try_from(number).ok()
}

fn last_day_of_month(year: i32, month: u32) -> u32 {
    (28..=31).rev().find(|day| NaiveDate::from_ymd_opt(year, month, *day).is_some()).unwrap()
}

/// The day so many months after another, at the month's end where it has no such day.
pub fn months_after(day: NaiveDate, months: u32) -> NaiveDate {
    let index = day.year() * 12 + i32::try_from(day.month0() + months).unwrap();
    let (year, month) = (index.div_euclid(12), u32::try_from(index.rem_euclid(12)).unwrap() + 1);
    NaiveDate::from_ymd_opt(year, month, day.day().min(last_day_of_month(year, month))).unwrap()
}

fn by_interval(book: &Book, model: ModelId, group: &Group, asked: Asked) -> Check {
    let is_counted = |counter: &Counter| count(book, model, *counter, asked.as_of, |_| true).is_some();
    let counted = group.counter.filter(is_counted).zip(group.every_count);
    let tolerance_count = i64::from(group.tolerance_count);
    let mut check = Check {
        group: group.code.to_string(),
        state: CheckState::NeverDone,
        counts_flights: group.counter == Some(Counter::Flights),
        done_at_count: None,
        now_at_count: None,
        due_at_count: None,
        tolerance_count,
        tolerance_days: group.tolerance_days,
        done_on: None,
        due_on: None,
        opened_by: Vec::new(),
        by_interval: None,
    };
    // The day that a series of months counts from, and how many intervals have gone since.
    let mut series: Option<(NaiveDate, u32)> = None;
    for inspection in done(book, model, group, asked.as_of) {
        if let Some((counter, every)) = counted {
            let done = count(book, model, counter, asked.as_of, |at| at < inspection.occurred_at).unwrap();
            let base = match check.due_at_count {
                Some(due) if done >= due && done <= due + tolerance_count => due,
                _ => done,
            };
            check.due_at_count = Some(base + i64::from(every));
            check.done_at_count = Some(done);
        }
        let done_on = day_of(inspection.occurred_at, book.zone);
        check.done_on = Some(done_on);
        if group.every_days.is_some() || group.every_months.is_some() {
            let inside = check.due_on.is_some_and(|due| {
                done_on >= due && done_on <= due + Days::new(u64::from(group.tolerance_days))
            });
            let (anchor, gone) = match series {
                Some((anchor, gone)) if inside => (anchor, gone + 1),
                _ => (done_on, 1),
            };
            series = Some((anchor, gone));
            check.due_on = Some(match (group.every_days, group.every_months) {
                (Some(days), _) => anchor + Days::new(u64::from(days) * u64::from(gone)),
                (None, Some(months)) => months_after(anchor, months * gone),
                (None, None) => unreachable!("one of the two is given"),
            });
        }
    }
    if let Some((counter, _)) = counted {
        check.now_at_count = count(book, model, counter, asked.as_of, |at| at <= asked.as_of);
    }
    let mut is_due = false;
    let mut is_over = false;
    if let (Some(due), Some(now)) = (check.due_at_count, check.now_at_count) {
        is_due |= now >= due;
        is_over |= now > due + tolerance_count;
    }
    if let Some(due_on) = check.due_on {
        is_due |= asked.on >= due_on;
        is_over |= asked.on > due_on + Days::new(u64::from(group.tolerance_days));
    }
    check.state = match (check.due_at_count.is_some() || check.due_on.is_some(), is_due, is_over) {
        (false, _, _) => CheckState::NeverDone,
        (true, _, true) => CheckState::Overdue,
        (true, true, false) => CheckState::Due,
        (true, false, false) => CheckState::Clear,
    };
    check
}

/// Changes of these kinds of part open the swap check; a pack, an altimeter or a sensor does not.
fn is_control_power_or_structure(kind: PartKind) -> bool {
    !matches!(kind, PartKind::Pack | PartKind::Altimeter | PartKind::Sensor | PartKind::Other)
}

fn opened_by(
    book: &Book,
    model: ModelId,
    group: &Group,
    as_of: Instant,
) -> Vec<(&'static str, String, Option<Instant>)> {
    let tag = book.model(model).tag.to_string();
    let mut last_pass = None;
    for inspection in each!(book, Inspection) {
        let passes =
            inspection.model == Some(model) && inspection.group == group.code && is_done(book, inspection);
        if passes && inspection.occurred_at <= as_of {
            last_pass = last_pass.max(Some(inspection.occurred_at));
        }
    }
    let is_open = |at: Instant| at <= as_of && last_pass.is_none_or(|passed| at > passed);
    let mut list = Vec::new();
    let events = |kinds: &[EventKind], code: &'static str, list: &mut Vec<_>| {
        for event in each!(book, Event) {
            if event.model == model && kinds.contains(&event.kind) && is_open(event.occurred_at) {
                let subject = event.tag.as_ref().map_or_else(|| tag.clone(), ToString::to_string);
                list.push((code, subject, None));
            }
        }
    };
    match group.opened_by {
        Some(Opener::HardLanding) => {
            for flight in each!(book, Flight) {
                if flight.model == model && flight.landing == Landing::Hard && is_open(flight.occurred_at) {
                    let subject = flight.tag.as_ref().map_or_else(|| tag.clone(), ToString::to_string);
                    list.push(("hard_landing_unchecked", subject, None));
                }
            }
        }
        Some(Opener::PartSwap) => {
            for part in carried(book, model, as_of) {
                let matters = is_control_power_or_structure(kind_of(book, part.component));
                if matters && !part.own_is_start && is_open(part.since) {
                    list.push(("swap_unchecked", book.component(part.component).tag.to_string(), None));
                }
            }
        }
        Some(Opener::RadioChange) => {
            for part in carried(book, model, as_of) {
                let is_radio = kind_of(book, part.component) == PartKind::Receiver;
                // A receiver that came in its fuselage is a change of receiver as well.
                if is_radio && !part.bringer_is_start && is_open(part.since) {
                    let subject = book.component(part.component).tag.to_string();
                    list.push(("radio_change_unchecked", subject, None));
                }
            }
            events(&[EventKind::RadioChange], "radio_change_unchecked", &mut list);
        }
        Some(Opener::Transport) => {
            events(&[EventKind::Transport, EventKind::CaseFallen], "transport_unchecked", &mut list);
        }
        Some(Opener::Repair) => {
            for repair in each!(book, Repair) {
                let here = if repair.components.is_empty() {
                    repair.model == model
                } else {
                    carried(book, model, as_of).iter().any(|part| repair.components.contains(&part.component))
                };
                let is_released = each!(book, Release)
                    .any(|release| release.repair == repair.id && release.occurred_at <= as_of);
                if here && repair.occurred_at <= as_of && !is_released {
                    let subject =
                        repair.tag.as_ref().map_or_else(|| repair.id.to_string(), ToString::to_string);
                    list.push(("repair_unreleased", subject, repairs::cures_until(book, repair, as_of)));
                }
            }
        }
        None if ["N25", "PK20"].contains(&group.code.as_str()) => {
            events(&[EventKind::ReturnedToFlying], "return_unchecked", &mut list);
        }
        _ => {}
    }
    for repair in repairs::asking_for(book, model, group, as_of) {
        let over_at = repairs::over_at(book, repair, as_of);
        let is_passed = |item: &str| {
            each!(book, Inspection).any(|check| {
                check.model == Some(model)
                    && check.group == group.code
                    && check.occurred_at > over_at
                    && check.occurred_at <= as_of
                    && check.items.iter().any(|done| {
                        done.item.as_str() == item
                            && (done.result == ItemResult::Pass || done.result == ItemResult::NotApplicable)
                    })
            })
        };
        let are_passed = repairs::items_of(repair, group).iter().all(|item| is_passed(item));
        if is_open(over_at) && !are_passed {
            list.push((REINSPECTION, repairs::name(repair), None));
        }
    }
    list
}
