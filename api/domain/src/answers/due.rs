//! Which checks fall due: by count or by calendar, whichever comes first, and which an event has opened.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    Moment,
    due_states::{GroupDue, count_before, groups_due, has_interval, models_now},
    model_now::ModelNow,
    openings::Opening,
};
use crate::{
    facts::Programme,
    fleet::Fleet,
    formulas::forecast::{ForecastDates, counting_rate, days_to_go, forecast_dates},
    ids::ModelId,
    time::{Instant, day_of},
    words::{CheckState, Counter},
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
    let items = models_now(fleet, moment).flat_map(|now| due_now(&now, moment.on)).collect();
    DueList { on: moment.on, items }
}

/// All checks of one model, in the order of its programme. Groups that cannot apply to its design, and event
/// groups that nothing has opened, are left out.
#[must_use]
pub fn due_of_model(fleet: &Fleet, model: ModelId, moment: Moment) -> Vec<DueItem> {
    ModelNow::new(fleet, model, moment.as_of).map_or_else(Vec::new, |now| due_now(&now, moment.on))
}

/// The same of a model at hand.
pub(crate) fn due_now(now: &ModelNow<'_>, on: NaiveDate) -> Vec<DueItem> {
    let tag = now.fleet.model_tag(now.model);
    groups_due(now, on).map(|stands| item(now, &tag, stands)).collect()
}

/// What is told of a group that stands like that.
fn item(now: &ModelNow<'_>, tag: &str, stands: GroupDue<'_>) -> DueItem {
    let (group, state) = (stands.group, stands.state());
    let by_count = stands.counted.and_then(|counted| counted.standing);
    let by_days = stands.by_days;
    let is_uncounted = group.counter == Some(Counter::Charges) && stands.counted.is_none();
    let mut item = DueItem {
        model: tag.to_owned(),
        subject: tag.to_owned(),
        group: group.code.to_string(),
        name: group.name.to_string(),
        state,
        counter: group.counter,
        done_at_count: stands.counted.and_then(|counted| counted.done),
        now_at_count: stands.counted.map(|counted| counted.now),
        due_at_count: by_count.map(|count| count.due_at_count),
        count_left: by_count.map(|count| count.count_left),
        count_over: by_count.map(|count| count.count_over),
        tolerance_count: by_count.map(|count| count.tolerance_count),
        done_on: stands.done_on,
        due_on: by_days.map(|days| days.due_on),
        days_left: by_days.map(|days| days.days_left),
        days_over: by_days.map(|days| days.days_over),
        tolerance_days: by_days.map(|days| days.tolerance_days),
        forecast_on: None,
        forecast_from: None,
        forecast_to: None,
        forecast_method: None,
        opened_by: stands.opened.into_iter().map(OpenedBy::from).collect(),
        note: Some("charges not counted: runs by the calendar alone".to_owned())
            .filter(|_| is_uncounted && has_interval(group)),
    };
    if stands.by_interval == Some(CheckState::Clear) {
        let (from, reached) = now.window();
        let used = stands.counted.and_then(|counted| {
            Some((counted.counter, counted.now - count_before(now, counted.counter, from, reached)?))
        });
        forecast(&mut item, used, day_of(now.as_of, now.fleet.club().zone));
    }
    item
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
