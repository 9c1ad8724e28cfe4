//! Which checks fall due: by count or by calendar, whichever comes first, and which an event has opened.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    Moment,
    openings::{Opening, RepairHere, openings, repairs_here},
    service::in_service,
    usage::just_after,
};
use crate::{
    facts::{Charge, Group, Inspection, Programme, Recorded},
    fleet::{Fleet, ModelFile, Timeline},
    formulas::{
        forecast::{ForecastDates, counting_rate, days_to_go, forecast_dates},
        interval::{CountInterval, DayInterval, DueDay, Every, next_due_count, next_due_day},
        standing::{CountStanding, DayStanding, DueState, stand_by_count, stand_by_days},
    },
    ids::ModelId,
    time::{Instant, day_of},
    words::{CheckState, Counter, PartKind},
};

/// Days over which a rate of use is counted for the forecast.
pub const FORECAST_WINDOW_DAYS: u32 = 56;

/// The checks of the models asked about, in order of model and programme.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DueList {
    /// The club day asked about.
    pub on: NaiveDate,
    /// One row a check.
    pub items: Vec<DueItem>,
}

/// How one check group of one model stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DueItem {
    /// Tag of the model.
    pub model: String,
    /// Tag of what the check is on.
    pub subject: String,
    /// Code of the group.
    pub group: String,
    /// Name of the group.
    pub name: String,
    /// How it stands.
    pub state: CheckState,
    /// What its interval counts; null without a count.
    pub counter: Option<Counter>,
    /// The counter when it was done last.
    pub done_at_count: Option<i64>,
    /// The counter now.
    pub now_at_count: Option<i64>,
    /// The counter at which it falls due.
    pub due_at_count: Option<i64>,
    /// Left until that; 0 at or past it.
    pub count_left: Option<i64>,
    /// Past that; 0 before it.
    pub count_over: Option<i64>,
    /// Tolerance of the count: a planning aid, no extra life.
    pub tolerance_count: Option<u32>,
    /// Club day on which it was done last.
    pub done_on: Option<NaiveDate>,
    /// Day on which it falls due by the calendar.
    pub due_on: Option<NaiveDate>,
    /// Days left until that from the day asked about; 0 on or past it.
    pub days_left: Option<i64>,
    /// Days past that; 0 before it.
    pub days_over: Option<i64>,
    /// Tolerance in days: a planning aid, no extra life.
    pub tolerance_days: Option<u32>,
    /// Day on which it will fall due by count or calendar at the rate of the last weeks.
    pub forecast_on: Option<NaiveDate>,
    /// The same at the upper 90 % bound of the rate.
    pub forecast_from: Option<NaiveDate>,
    /// The same at the lower 90 % bound of the rate.
    pub forecast_to: Option<NaiveDate>,
    /// How the forecast was made.
    pub forecast_method: Option<String>,
    /// What opened an event group.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub opened_by: Vec<OpenedBy>,
    /// What the reader should know, such as a counter that nobody logs.
    pub note: Option<String>,
}

/// What opened an event group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OpenedBy {
    /// Stable code.
    pub code: String,
    /// Tag of the flight, part or repair.
    pub subject: String,
    /// When.
    pub at: Instant,
    /// Not before this moment, where something cures.
    pub not_before: Option<Instant>,
    /// What happened.
    pub text: String,
    /// The items that have to be passed; left out: the whole group.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub items: Vec<String>,
}

impl From<Opening> for OpenedBy {
    fn from(opening: Opening) -> Self {
        Self {
            code: opening.code.to_owned(),
            subject: opening.subject,
            at: opening.at,
            not_before: opening.not_before,
            text: opening.text,
            items: opening.items,
        }
    }
}

impl DueItem {
    /// Flights left until the check is overdue, where flights are what it counts.
    #[must_use]
    pub fn flights_left(&self) -> Option<i64> {
        let counts_flights = self.counter == Some(Counter::Flights);
        let due = self.due_at_count.filter(|_| counts_flights)?;
        Some((due + i64::from(self.tolerance_count.unwrap_or(0)) - self.now_at_count?).max(0))
    }

    /// Whether an event asks for the whole group, not for single items of it.
    pub(crate) fn is_opened_as_a_whole(&self) -> bool {
        self.opened_by.iter().any(|opened| opened.items.is_empty())
    }

    /// How it stands by its interval alone, whatever opened it; `None` for a group without one.
    pub(crate) fn by_interval_alone(&self, programme: &Programme) -> Option<CheckState> {
        if self.opened_by.is_empty() {
            return Some(self.state);
        }
        programme.groups.iter().find(|group| group.code.as_str() == self.group && has_interval(group))?;
        let beyond = |over: Option<i64>, tolerance: Option<u32>| {
            over.is_some_and(|over| over > i64::from(tolerance.unwrap_or(0)))
        };
        if self.due_at_count.is_none() && self.due_on.is_none() {
            return Some(CheckState::NeverDone);
        }
        Some(
            if beyond(self.count_over, self.tolerance_count) || beyond(self.days_over, self.tolerance_days) {
                CheckState::Overdue
            } else if self.count_left == Some(0) || self.days_left == Some(0) {
                CheckState::Due
            } else {
                CheckState::Clear
            },
        )
    }
}

/// All checks of all models.
#[must_use]
pub fn due(fleet: &Fleet, moment: Moment) -> DueList {
    let items = in_service(fleet, moment)
        .into_iter()
        .flat_map(|(_, model)| due_of_model(fleet, model, moment))
        .collect();
    DueList { on: moment.on, items }
}

/// All checks of one model, in the order of its programme. Groups that cannot apply to its design, and event
/// groups that nothing has opened, are left out.
#[must_use]
pub fn due_of_model(fleet: &Fleet, model: ModelId, moment: Moment) -> Vec<DueItem> {
    let here = repairs_here(fleet, model, &fleet.fitted(model, moment.as_of), moment.as_of);
    due_with_repairs(fleet, model, &here, moment)
}

/// The same where the repairs on the model and on what it carries are known.
pub(crate) fn due_with_repairs(
    fleet: &Fleet,
    model: ModelId,
    here: &[RepairHere<'_>],
    moment: Moment,
) -> Vec<DueItem> {
    let (Some(programme), Some(file)) = (fleet.programme_of(Some(model)), fleet.model(model)) else {
        return Vec::new();
    };
    programme
        .fact
        .groups
        .iter()
        .filter(|group| applies(fleet, model, group, moment.as_of))
        .filter_map(|group| {
            let item = blank(fleet, model, group);
            let opened = openings(fleet, model, group, moment.as_of, here);
            if has_interval(group) {
                Some(by_interval(fleet, model, file, group, moment, item, opened))
            } else if opened.is_empty() {
                None
            } else {
                let done = checks_that_count(fleet, model, file, group, moment.as_of)
                    .last()
                    .map(|i| i.fact.occurred_at);
                let done_on = done.map(|at| day_of(at, fleet.club().zone));
                let opened_by = opened.into_iter().map(OpenedBy::from).collect();
                Some(DueItem { state: CheckState::Overdue, done_on, opened_by, ..item })
            }
        })
        .collect()
}

const fn has_interval(group: &Group) -> bool {
    group.every_count.is_some() || group.every_days.is_some() || group.every_months.is_some()
}

/// A group applies where the design has a position for its kind of part; a pack check needs a fitted pack.
pub(super) fn applies(fleet: &Fleet, model: ModelId, group: &Group, as_of: Instant) -> bool {
    let Some(kind) = group.applies_to else { return true };
    if kind == PartKind::Pack {
        return !fitted_packs(fleet, model, as_of).is_empty();
    }
    fleet
        .design_of(model)
        .is_some_and(|design| design.positions.iter().any(|position| position.accepts == kind))
}

/// Fitted packs, and since when each is in the model; from the start of the record: since ever.
pub(crate) fn fitted_packs(
    fleet: &Fleet,
    model: ModelId,
    as_of: Instant,
) -> Vec<(crate::ids::ComponentId, Instant)> {
    fleet
        .fitted(model, as_of)
        .into_iter()
        .filter(|fitted| fleet.part_of(fitted.id).is_some_and(|part| part.kind == PartKind::Pack))
        .map(|fitted| (fitted.id, fitted.in_model_since))
        .collect()
}

fn blank(fleet: &Fleet, model: ModelId, group: &Group) -> DueItem {
    let tag = fleet.model_tag(model);
    DueItem {
        subject: tag.clone(),
        model: tag,
        group: group.code.to_string(),
        name: group.name.to_string(),
        state: CheckState::NeverDone,
        counter: group.counter,
        done_at_count: None,
        now_at_count: None,
        due_at_count: None,
        count_left: None,
        count_over: None,
        tolerance_count: None,
        done_on: None,
        due_on: None,
        days_left: None,
        days_over: None,
        tolerance_days: None,
        forecast_on: None,
        forecast_from: None,
        forecast_to: None,
        forecast_method: None,
        opened_by: Vec::new(),
        note: None,
    }
}

/// Checks of a group that were not failed, oldest first. A pack check counts for the packs that are fitted now:
/// done in this model since the pack came in, or on the pack itself.
fn checks_that_count<'a>(
    fleet: &'a Fleet,
    model: ModelId,
    file: &'a ModelFile,
    group: &Group,
    as_of: Instant,
) -> Vec<&'a Recorded<Inspection>> {
    let counts = |inspection: &&Recorded<Inspection>| {
        inspection.fact.group == group.code && fleet.is_done(&inspection.fact)
    };
    let on_model = file.inspections.until(as_of).iter().filter(counts);
    if group.applies_to != Some(PartKind::Pack) {
        return on_model.collect();
    }
    let packs = fitted_packs(fleet, model, as_of);
    let newest_pack_at = packs.iter().map(|(_, since)| *since).max();
    let since_pack =
        on_model.filter(|inspection| newest_pack_at.is_none_or(|since| inspection.fact.occurred_at >= since));
    let on_packs = packs
        .iter()
        .filter_map(|(pack, _)| fleet.component(*pack))
        .flat_map(|pack| pack.inspections.until(as_of).iter().filter(counts));
    let mut list: Vec<_> = since_pack.chain(on_packs).collect();
    list.sort_by_key(|inspection| (inspection.fact.occurred_at, inspection.fact.id));
    list.dedup_by_key(|inspection| inspection.fact.id);
    list
}

/// The counter of a model before a moment; `None` where nobody logs it. Charges are those of the packs that are
/// fitted at `as_of`.
fn count_before(fleet: &Fleet, model: ModelId, counter: Counter, at: Instant, as_of: Instant) -> Option<i64> {
    let file = fleet.model(model)?;
    let usage = file.flights.usage_before(at);
    let count = match counter {
        Counter::Flights => usage.flights,
        Counter::Launches => usage.launches,
        Counter::AirtimeH => usage.airtime_s / 3600,
        Counter::MotorS => usage.motor_s,
        // Connectors are plugged at each assembly unless an exception is recorded.
        Counter::Riggings | Counter::Matings => file.riggings.count_before(at),
        Counter::Charges => return charges_before(fleet, model, at, as_of),
    };
    i64::try_from(count).ok()
}

/// Charges of the fitted packs before a moment; `None` if none was ever logged for them.
fn charges_before(fleet: &Fleet, model: ModelId, at: Instant, as_of: Instant) -> Option<i64> {
    let packs = fitted_packs(fleet, model, as_of);
    let logs: Vec<_> =
        packs.iter().filter_map(|(id, _)| fleet.component(*id)).map(|pack| &pack.charges).collect();
    let before = |log: &Timeline<Charge>| log.iter().filter(|charge| charge.fact.occurred_at < at).count();
    let is_logged = logs.iter().any(|log| !log.until(as_of).is_empty());
    is_logged.then(|| logs.into_iter().map(before).sum::<usize>()).and_then(|count| i64::try_from(count).ok())
}

fn by_interval(
    fleet: &Fleet,
    model: ModelId,
    file: &ModelFile,
    group: &Group,
    moment: Moment,
    mut item: DueItem,
    opened: Vec<Opening>,
) -> DueItem {
    let zone = fleet.club().zone;
    let now_after = just_after(moment.as_of);
    let count = |counter, at| count_before(fleet, model, counter, at, moment.as_of);
    let counted =
        group.counter.zip(group.every_count).filter(|(counter, _)| count(*counter, now_after).is_some());
    if group.counter == Some(Counter::Charges) && counted.is_none() {
        item.note = Some("charges not counted: runs by the calendar alone".to_owned());
    }
    let calendar = group.every_days.map(Every::Days).or(group.every_months.map(Every::Months));
    let mut due_count: Option<i64> = None;
    let mut due_day: Option<DueDay> = None;
    for check in checks_that_count(fleet, model, file, group, moment.as_of) {
        let at = check.fact.occurred_at;
        if let Some((counter, every)) = counted {
            let interval = CountInterval { every, tolerance: group.tolerance_count };
            item.done_at_count = count(counter, at);
            due_count = item
                .done_at_count
                .and_then(|done| next_due_count(due_count, done, interval, group.rebasing).ok());
        }
        item.done_on = Some(day_of(at, zone));
        if let (Some(every), Some(done_on)) = (calendar, item.done_on) {
            let interval = DayInterval { every, tolerance_days: group.tolerance_days };
            due_day = next_due_day(due_day, done_on, interval, group.rebasing).ok();
        }
    }
    let now = counted.and_then(|(counter, _)| count(counter, now_after));
    item.now_at_count = now;
    let by_count = due_count.zip(now).map(|(due, now)| stand_by_count(due, group.tolerance_count, now));
    let by_days = due_day.map(|due| stand_by_days(due.due_on, group.tolerance_days, moment.on));
    state_both(&mut item, by_count, by_days);
    if item.state == CheckState::Clear {
        let from = just_after(moment.as_of.plus_days(-i64::from(FORECAST_WINDOW_DAYS)));
        let used = counted
            .and_then(|(counter, _)| Some((counter, count(counter, now_after)? - count(counter, from)?)));
        forecast(&mut item, used, day_of(moment.as_of, zone));
    }
    if !opened.is_empty() {
        item.state = CheckState::Overdue;
        item.opened_by = opened.into_iter().map(OpenedBy::from).collect();
    }
    item
}

fn state_both(item: &mut DueItem, by_count: Option<CountStanding>, by_days: Option<DayStanding>) {
    if let Some(count) = by_count {
        item.due_at_count = Some(count.due_at_count);
        item.count_left = Some(count.count_left);
        item.count_over = Some(count.count_over);
        item.tolerance_count = Some(count.tolerance_count);
    }
    if let Some(days) = by_days {
        item.due_on = Some(days.due_on);
        item.days_left = Some(days.days_left);
        item.days_over = Some(days.days_over);
        item.tolerance_days = Some(days.tolerance_days);
    }
    let worse = by_count.map(|count| count.state).max(by_days.map(|days| days.state));
    item.state = match worse {
        None => CheckState::NeverDone,
        Some(DueState::Clear) => CheckState::Clear,
        Some(DueState::Due) => CheckState::Due,
        Some(DueState::Overdue) => CheckState::Overdue,
    };
}

/// From the rate of the last weeks and from the calendar, whichever comes first.
fn forecast(item: &mut DueItem, used: Option<(Counter, i64)>, today: NaiveDate) {
    let by_rate = used.zip(item.count_left).filter(|(_, left)| *left > 0).and_then(|((counter, used), left)| {
        let rate = counting_rate(u32::try_from(used).ok()?, FORECAST_WINDOW_DAYS).ok()?;
        let to_go = days_to_go(&rate, u32::try_from(left).ok()?).ok()?;
        let dates = forecast_dates(today, &to_go).ok()?;
        let method = format!(
            "{used} {counter} in {FORECAST_WINDOW_DAYS} days, {left} left: {:.1} days ({:.1} to {:.1}); the bounds are 90 % for the rate, the scatter of the coming ones comes on top",
            to_go.days, to_go.earliest_days, to_go.latest_days
        );
        Some((dates, method))
    });
    let calendar = item.due_on.filter(|due| *due > today);
    let cap = |on: NaiveDate| calendar.map_or(on, |due| on.min(due));
    match (by_rate, calendar) {
        (Some((ForecastDates { on, earliest_on, latest_on }, method)), _) => {
            item.forecast_on = Some(cap(on));
            item.forecast_from = Some(cap(earliest_on));
            item.forecast_to = Some(cap(latest_on));
            item.forecast_method = Some(match calendar {
                Some(due) if due <= latest_on => format!("{method}; by the calendar on {due}"),
                _ => method,
            });
        }
        (None, Some(due)) if item.count_left.is_none_or(|left| left > 0) => {
            item.forecast_on = Some(due);
            item.forecast_from = Some(due);
            item.forecast_to = Some(due);
            item.forecast_method = Some("by the calendar".to_owned());
        }
        (None, _) => {}
    }
}
