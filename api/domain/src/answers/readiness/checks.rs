//! Which checks fall due before the last round, and what doing one early brings. Tolerance is no extra life across a
//! contest: what reaches its due point by then is to be done before.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    super::due::{DueItem, OpenedBy},
    ahead::{Ahead, Habit},
    told::{ReadinessFinding, ReadyTask},
};
use crate::{
    facts::Group,
    finding::Finding,
    fleet::Fleet,
    formulas::{
        calendar::add_days,
        interval::{CountInterval, DayInterval, Every, next_due_count, next_due_day},
    },
    text_enum,
    time::day_of,
    words::{CheckState, Counter, Severity},
};

text_enum! {
    /// Why a check falls due before the last round.
    DueCause { ByCount = "by_count", ByCalendar = "by_calendar", Opened = "opened", NeverDone = "never_done" }
}

/// A check and the last round.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CheckAhead {
    /// Code of the group.
    pub group: String,
    /// Name of the group.
    pub name: String,
    /// How it stands today.
    pub state: CheckState,
    /// Whether it falls due at or before the last round in the worst case.
    pub falls_due: bool,
    /// Why.
    pub causes: Vec<DueCause>,
    /// Whether it is past its due point already.
    pub is_late: bool,
    /// What its interval counts; null without a count.
    pub counter: Option<Counter>,
    /// The counter now.
    pub now_at_count: Option<i64>,
    /// The counter at which it falls due.
    pub due_at_count: Option<i64>,
    /// The counter at the last round in the worst case.
    pub last_round_count: Option<i64>,
    /// What that rests on.
    pub assumption: Option<String>,
    /// Day on which it falls due by the calendar.
    pub due_on: Option<NaiveDate>,
    /// Day on which it falls due at the rate of the last weeks, and by the calendar.
    pub forecast_on: Option<NaiveDate>,
    /// The same at the upper 90 % bound of the rate.
    pub forecast_from: Option<NaiveDate>,
    /// The same at the lower 90 % bound of the rate.
    pub forecast_to: Option<NaiveDate>,
    /// What doing it before the contest brings; null for what falls not due, and for what only an event opens.
    pub do_early: Option<DoEarly>,
}

/// What doing a check before the contest brings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DoEarly {
    /// Done today.
    pub today: DoneThen,
    /// Done at the last moment, all training flown.
    pub at_last: DoneThen,
    /// The lowest counter from which on once is enough; null without a count, and where once is never enough.
    pub from_count: Option<i64>,
    /// Whether doing it once before the contest is enough.
    pub is_once_enough: bool,
    /// In one sentence.
    pub text: String,
}

/// A check done on a day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DoneThen {
    /// The day.
    pub on: NaiveDate,
    /// The counter by then.
    pub at_count: Option<i64>,
    /// When it falls due next by count.
    pub next_due_at_count: Option<i64>,
    /// When it falls due next by the calendar.
    pub next_due_on: Option<NaiveDate>,
    /// Whether that is at or before the last round.
    pub falls_due_again: bool,
}

/// A check and the last round.
pub(super) fn check_ahead(
    item: &DueItem,
    group: Option<&Group>,
    ahead: &Ahead<'_>,
    habit: &Habit,
    today: NaiveDate,
) -> CheckAhead {
    let coming = item.counter.filter(|_| item.due_at_count.is_some()).map(|counter| habit.coming(counter));
    let now = item.now_at_count;
    let last = coming
        .as_ref()
        .zip(now)
        .map(|((training, rounds, _), now)| now.saturating_add(*training).saturating_add(*rounds));
    let mut causes = Vec::new();
    if item.due_at_count.zip(last).is_some_and(|(due, last)| due <= last) {
        causes.push(DueCause::ByCount);
    }
    if item.due_on.is_some_and(|due| due <= ahead.last_on) {
        causes.push(DueCause::ByCalendar);
    }
    if !item.opened_by.is_empty() {
        causes.push(DueCause::Opened);
    }
    if item.state == CheckState::NeverDone {
        causes.push(DueCause::NeverDone);
    }
    let falls_due = !causes.is_empty();
    let is_late = item.due_on.is_some_and(|due| due < today)
        || item.due_at_count.zip(now).is_some_and(|(due, now)| now > due);
    let training = coming.as_ref().map_or(0, |(training, _, _)| *training);
    CheckAhead {
        group: item.group.clone(),
        name: item.name.clone(),
        state: item.state,
        falls_due,
        causes,
        is_late,
        counter: item.counter,
        now_at_count: now,
        due_at_count: item.due_at_count,
        last_round_count: last,
        assumption: coming.map(|(_, _, assumption)| assumption),
        due_on: item.due_on,
        forecast_on: item.forecast_on,
        forecast_from: item.forecast_from,
        forecast_to: item.forecast_to,
        do_early: group.filter(|_| falls_due).and_then(|group| {
            let look = Look { item, group, last, last_on: ahead.last_on };
            do_early(&look, training, today, ahead.ready_on.max(today))
        }),
    }
}

/// What doing a check early is judged by.
struct Look<'a> {
    item: &'a DueItem,
    group: &'a Group,
    last: Option<i64>,
    last_on: NaiveDate,
}

impl Look<'_> {
    fn done(&self, on: NaiveDate, at_count: Option<i64>) -> DoneThen {
        let group = self.group;
        let next_count = group.every_count.zip(at_count).and_then(|(every, at)| {
            let interval = CountInterval { every, tolerance: group.tolerance_count };
            next_due_count(self.item.due_at_count, at, interval, group.rebasing).ok()
        });
        let every = group.every_days.map(Every::Days).or(group.every_months.map(Every::Months));
        let next_on = every.and_then(|every| {
            let interval = DayInterval { every, tolerance_days: group.tolerance_days };
            let due = self.item.due_on.map(Into::into);
            next_due_day(due, on, interval, group.rebasing).ok().map(|next| next.due_on)
        });
        DoneThen {
            on,
            at_count,
            next_due_at_count: next_count,
            next_due_on: next_on,
            falls_due_again: next_count.zip(self.last).is_some_and(|(next, last)| next <= last)
                || next_on.is_some_and(|next| next <= self.last_on),
        }
    }
}

fn do_early(look: &Look<'_>, training: i64, today: NaiveDate, ready_on: NaiveDate) -> Option<DoEarly> {
    let group = look.group;
    if group.every_count.is_none() && group.every_days.is_none() && group.every_months.is_none() {
        return None;
    }
    let now = look.item.now_at_count;
    let first = look.done(today, now);
    let at_last = look.done(ready_on, now.map(|now| now.saturating_add(training)));
    let is_once_enough = !first.falls_due_again || !at_last.falls_due_again;
    let counted = now.filter(|_| first.next_due_at_count.is_some());
    let from_count = counted.and_then(|now| {
        (now..=now.saturating_add(training.clamp(0, 2_000)))
            .find(|count| !look.done(ready_on, Some(*count)).falls_due_again)
    });
    let code = &look.item.group;
    let text = if !first.falls_due_again {
        format!("{code} done today does not fall due again before the last round")
    } else if let Some(from) = from_count.filter(|_| is_once_enough) {
        format!(
            "{code} done today would fall due again before the last round; done from {from} on it does not"
        )
    } else if is_once_enough {
        format!(
            "{code} done today would fall due again before the last round; done on {ready_on} it does not"
        )
    } else {
        format!(
            "{code} falls due again before the last round whenever it is done: do it again during the contest"
        )
    };
    Some(DoEarly { today: first, at_last, from_count, is_once_enough, text })
}

/// What a check that falls due before the last round says against going.
pub(super) fn check_findings(
    fleet: &Fleet,
    item: &DueItem,
    check: &CheckAhead,
    ahead: &Ahead<'_>,
    today: NaiveDate,
) -> Vec<ReadinessFinding> {
    if !check.falls_due {
        return Vec::new();
    }
    if !item.opened_by.is_empty() {
        return item.opened_by.iter().map(|opened| opened_finding(fleet, item, opened, ahead)).collect();
    }
    let (code, severity) = match check.state {
        CheckState::NeverDone => ("check_never_done", Severity::Ground),
        CheckState::Overdue => ("check_overdue", Severity::Ground),
        CheckState::Due => ("check_due", beyond_tolerance(item, check, ahead)),
        CheckState::Clear => ("check_falls_due", beyond_tolerance(item, check, ahead)),
    };
    let clear_by = format!("do {} ({}) before the contest", item.group, item.name);
    let mut text = vec![format!("{} ({}): {}", item.group, item.name, how_it_falls(item, check, ahead))];
    text.extend(check.do_early.as_ref().map(|early| early.text.clone()));
    let latest_on =
        item.due_on.filter(|due| (today..=ahead.ready_on).contains(due)).unwrap_or(ahead.ready_on);
    let found = Finding::new(code, severity, &item.group, text.join("; "), clear_by);
    let mut found = ReadinessFinding::of(ReadyTask::DoCheck, &item.model, found).by(latest_on);
    found.before_flights = item.count_left.filter(|_| check.counter == Some(Counter::Flights));
    vec![found]
}

/// How it would stand at the last round if nothing were done.
fn beyond_tolerance(item: &DueItem, check: &CheckAhead, ahead: &Ahead<'_>) -> Severity {
    let by_count = item
        .due_at_count
        .zip(check.last_round_count)
        .is_some_and(|(due, last)| last > due.saturating_add(i64::from(item.tolerance_count.unwrap_or(0))));
    let by_day = item.due_on.is_some_and(|due| {
        add_days(due, i64::from(item.tolerance_days.unwrap_or(0))).is_ok_and(|end| ahead.last_on > end)
    });
    if by_count || by_day { Severity::Ground } else { Severity::Restrict }
}

fn how_it_falls(item: &DueItem, check: &CheckAhead, ahead: &Ahead<'_>) -> String {
    let mut parts = Vec::new();
    let counter = check.counter.map_or_else(String::new, |counter| counter.as_str().replace('_', " "));
    if let Some((due, last)) = item.due_at_count.zip(check.last_round_count).filter(|(due, last)| due <= last)
    {
        let now = check.now_at_count.unwrap_or_default();
        parts.push(format!("due at {due} {counter}, now {now}, {last} at the last round"));
    }
    if let Some(due) = item.due_on.filter(|due| *due <= ahead.last_on) {
        parts.push(format!("due on {due} by the calendar"));
    }
    if check.state == CheckState::NeverDone {
        parts.push("never done: unknown is not good".to_owned());
    }
    let tolerance = [
        item.tolerance_count.filter(|count| *count > 0).map(|count| format!("{count} {counter}")),
        item.tolerance_days.filter(|days| *days > 0).map(|days| format!("{days} days")),
    ];
    let tolerance: Vec<String> = tolerance.into_iter().flatten().collect();
    if ahead.is_contest && !tolerance.is_empty() {
        parts.push(format!("its tolerance ({}) is not used across a contest", tolerance.join(", ")));
    }
    parts.join(", ")
}

fn opened_finding(fleet: &Fleet, item: &DueItem, opened: &OpenedBy, ahead: &Ahead<'_>) -> ReadinessFinding {
    let is_repair = opened.code == "repair_unreleased";
    let (task, subject, clear_by) = if is_repair {
        let wait = opened.not_before.map(|until| format!("wait until {until}, then ")).unwrap_or_default();
        let clear = format!("{wait}pass {} ({}) and release {}", item.group, item.name, opened.subject);
        (ReadyTask::ReleaseRepair, opened.subject.as_str(), clear)
    } else {
        (ReadyTask::DoCheck, item.group.as_str(), format!("pass {} ({})", item.group, item.name))
    };
    let text = format!("{}; {} not passed since", opened.text, item.group);
    let found = Finding::new(&opened.code, Severity::Ground, subject, text, clear_by);
    let mut found = ReadinessFinding::of(task, &item.model, found).by(ahead.ready_on);
    found.not_before_on = opened.not_before.map(|until| day_of(until, fleet.club().zone));
    if !is_repair && opened.subject != item.model {
        found.parts = vec![opened.subject.clone()];
    }
    found
}
