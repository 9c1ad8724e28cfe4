//! How the checks of a model stand, in states and numbers: the one rule behind the due list and the board, without the texts,
//! days and forecasts that are told of it.

use chrono::NaiveDate;
use either::Either;

use super::{
    Moment,
    model_now::{ModelNow, repairs_by_model},
    openings::{Opening, openings},
    service::files_in_service,
    usage::just_after,
};
use crate::{
    facts::{Charge, Group},
    fleet::{Done, Fleet, Reached, Timeline},
    formulas::{
        interval::{CountInterval, DayInterval, Every, due_count_after, due_day_after},
        standing::{CountStanding, DayStanding, stand_by_count, stand_by_days},
    },
    ids::ModelId,
    time::{Instant, day_of},
    words::{CheckState, Counter, PartKind},
};

/// The checks of one model.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelDue<'a> {
    /// Which model.
    pub model: ModelId,
    /// Its groups in the order of its programme; those that cannot apply to its design, and event groups that nothing
    /// has opened, are left out.
    pub groups: Vec<GroupDue<'a>>,
}

/// How one group stands.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupDue<'a> {
    /// Which group.
    pub group: &'a Group,
    /// By its interval alone; `None` for an event group.
    pub by_interval: Option<CheckState>,
    /// What its count interval counts; `None` without one, or where nobody logs it.
    pub counted: Option<Counted>,
    /// How it stands by the calendar; `None` if it was never done or has no calendar interval.
    pub by_days: Option<DayStanding>,
    /// Club day on which it was done last.
    pub done_on: Option<NaiveDate>,
    /// What holds it open, whatever its interval says.
    pub(crate) opened: Vec<Opening>,
}

impl GroupDue<'_> {
    /// How it stands: overdue where an event holds it open.
    #[must_use]
    pub fn state(&self) -> CheckState {
        let alone = self.by_interval.filter(|_| self.opened.is_empty());
        alone.unwrap_or(CheckState::Overdue)
    }
}

/// The count of a group.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counted {
    /// What is counted.
    pub counter: Counter,
    /// The counter now.
    pub now: i64,
    /// The counter when it was done last.
    pub done: Option<i64>,
    /// How it stands by count; `None` if it was never done.
    pub standing: Option<CountStanding>,
}

/// Models that are still of the fleet, by tag, ready to be asked for their checks.
pub(crate) fn models_now(fleet: &Fleet, moment: Moment) -> impl Iterator<Item = ModelNow<'_>> {
    let mut repairs = repairs_by_model(fleet, moment.as_of);
    files_in_service(fleet, moment).into_iter().map(move |(_, model, file)| {
        let here = repairs.remove(&model).unwrap_or_default();
        ModelNow::of(fleet, model, file, moment.as_of).with_repairs(here)
    })
}

/// How all checks of all models stand, in order of tags.
#[must_use]
pub fn due_states(fleet: &Fleet, moment: Moment) -> Vec<ModelDue<'_>> {
    models_now(fleet, moment)
        .map(|now| {
            let mut groups = Vec::with_capacity(now.programme.map_or(0, |programme| programme.groups.len()));
            groups.extend(groups_due(&now, moment.on));
            ModelDue { model: now.model, groups }
        })
        .collect()
}

/// How the checks of one model stand on a day, in the order of its programme.
pub(crate) fn groups_due<'a>(now: &ModelNow<'a>, on: NaiveDate) -> impl Iterator<Item = GroupDue<'a>> {
    let groups = now.programme.map_or(&[][..], |programme| programme.groups.as_slice());
    groups.iter().filter(|group| applies(now, group)).filter_map(move |group| {
        let opened = openings(now, group);
        if has_interval(group) {
            Some(by_interval(now, group, on, opened))
        } else if opened.is_empty() {
            None
        } else {
            let done_on = done_newest_first(now, group).next().map(|done| done.on);
            Some(GroupDue { group, by_interval: None, counted: None, by_days: None, done_on, opened })
        }
    })
}

pub(super) const fn has_interval(group: &Group) -> bool {
    group.every_count.is_some() || group.every_days.is_some() || group.every_months.is_some()
}

/// A group applies where the design has a position for its kind of part; a pack check needs a fitted pack.
pub(super) fn applies(now: &ModelNow<'_>, group: &Group) -> bool {
    let Some(kind) = group.applies_to else { return true };
    if kind == PartKind::Pack {
        return !now.packs().is_empty();
    }
    let design = now.fleet.design_of(now.model);
    design.is_some_and(|design| design.positions.iter().any(|position| position.accepts == kind))
}

/// Checks of a group that count, the newest first. A pack check counts for the packs that are fitted now: done in this
/// model since the pack came in, or on the pack itself.
fn done_newest_first<'a>(now: &ModelNow<'a>, group: &Group) -> impl Iterator<Item = Done> + Clone + use<'a> {
    let on_model = now.file.inspections.done_until(now.fleet, &group.code, now.as_of);
    if group.applies_to == Some(PartKind::Pack) {
        Either::Left(done_on_packs(now, group, on_model).into_iter())
    } else {
        Either::Right(on_model)
    }
}

/// Of checks in the model those done since the pack came in, and those on the pack itself.
fn done_on_packs(now: &ModelNow<'_>, group: &Group, on_model: impl Iterator<Item = Done>) -> Vec<Done> {
    let newest_at = now.packs().iter().map(|(_, since)| *since).max();
    let mut list: Vec<_> = on_model.filter(|done| newest_at.is_none_or(|since| done.at >= since)).collect();
    for pack in now.packs().iter().filter_map(|(pack, _)| now.fleet.component(*pack)) {
        let own = pack.inspections.until(now.as_of).iter().map(|check| &check.fact);
        let counts = own.filter(|check| check.group == group.code && now.fleet.is_done(check));
        list.extend(counts.map(|check| {
            let at = check.occurred_at;
            Done { at, id: check.id.0, reached: now.file.reached(at), on: day_of(at, now.fleet.club().zone) }
        }));
    }
    // A check may name the model and the pack.
    list.sort_unstable_by(|a, b| b.cmp(a));
    list.dedup_by_key(|done| done.id);
    list
}

/// The counter of a model before a moment, before which so much of its log lies; `None` where nobody logs it. Charges are
/// those of the packs that are fitted now.
pub(super) fn count_before(
    now: &ModelNow<'_>,
    counter: Counter,
    at: Instant,
    reached: Reached,
) -> Option<i64> {
    let flown = || now.file.flights.usage_of_first(reached.flights);
    let count = match counter {
        Counter::Flights => return i64::try_from(reached.flights).ok(),
        Counter::Launches => flown().launches,
        Counter::AirtimeH => flown().airtime_s / 3600,
        Counter::MotorS => flown().motor_s,
        // Connectors are plugged at each assembly unless an exception is recorded.
        Counter::Riggings | Counter::Matings => now.file.riggings.count_of_first(reached.riggings),
        Counter::Charges => return charges_before(now, at),
    };
    i64::try_from(count).ok()
}

/// Charges of the fitted packs before a moment; `None` if none was ever logged for them.
fn charges_before(now: &ModelNow<'_>, at: Instant) -> Option<i64> {
    let packs = now.packs().iter().filter_map(|(id, _)| now.fleet.component(*id));
    let logs: Vec<_> = packs.map(|pack| &pack.charges).collect();
    let before = |log: &Timeline<Charge>| log.iter().filter(|charge| charge.fact.occurred_at < at).count();
    let is_logged = logs.iter().any(|log| !log.until(now.as_of).is_empty());
    is_logged.then(|| logs.into_iter().map(before).sum::<usize>()).and_then(|count| i64::try_from(count).ok())
}

fn by_interval<'a>(
    now: &ModelNow<'a>,
    group: &'a Group,
    on: NaiveDate,
    opened: Vec<Opening>,
) -> GroupDue<'a> {
    let mut done = done_newest_first(now, group).peekable();
    let done_on = done.peek().map(|done| done.on);
    let counted = group.counter.zip(group.every_count).and_then(|(counter, every)| {
        let interval = CountInterval { every, tolerance: group.tolerance_count };
        let count = count_before(now, counter, just_after(now.as_of), now.reached())?;
        let mut done =
            done.clone().filter_map(|done| count_before(now, counter, done.at, done.reached)).peekable();
        let newest = done.peek().copied();
        let due = due_count_after(done, interval, group.rebasing);
        let standing = due.map(|due| stand_by_count(due, group.tolerance_count, count));
        Some(Counted { counter, now: count, done: newest, standing })
    });
    let calendar = group.every_days.map(Every::Days).or(group.every_months.map(Every::Months));
    let by_days = calendar.and_then(|every| {
        let interval = DayInterval { every, tolerance_days: group.tolerance_days };
        let due = due_day_after(done.map(|done| done.on), interval, group.rebasing)?;
        Some(stand_by_days(due.due_on, group.tolerance_days, on))
    });
    let by_count = counted.and_then(|counted| counted.standing);
    let worse = by_count.map(|count| count.state).max(by_days.map(|days| days.state));
    let by_interval = Some(worse.map_or(CheckState::NeverDone, CheckState::from));
    GroupDue { group, by_interval, counted, by_days, done_on, opened }
}
