//! `POST /compute/interval`: when a check falls due by count, by days, whichever first; how it stands now; where the
//! next due point falls; and when the count will be reached, by a rate and by a plan.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use crate::formulas::forecast::{
    CountingRate, DaysToGo, ForecastDates, ForecastError, counting_rate, days_to_go, forecast_dates,
};
use crate::formulas::interval::{
    CountInterval, DayInterval, Every, IntervalError, Rebasing, next_due_count, next_due_day,
};
use crate::formulas::planned::{PlannedDay, PlannedReach, planned_reach};
use crate::formulas::standing::{
    CountStanding, DayStanding, DueState, stand_by_count, stand_by_days, whichever_first,
};

const METHOD: &str = "count and days each re-based by the policy, whichever comes first; tolerance moves no due point. \
                      Rate k/d with 90 % bounds by χ²: for the rate, the scatter of the coming events comes on top";

/// An interval in a count, in days or months, or in both, and when the check was done last.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct IntervalQuestion {
    /// The day from which it is looked at.
    pub today_on: NaiveDate,
    /// The interval in a count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count: Option<CountQuestion>,
    /// The interval of the calendar.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub days: Option<DaysQuestion>,
    /// From where the next due point counts.
    #[serde(default)]
    pub policy: Rebasing,
    /// What was counted lately; asks for a forecast of the count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub counted: Option<CountedQuestion>,
    /// What is planned; asks for the day on which the plan reaches the due count.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub plan: Vec<PlannedDay>,
}

/// An interval in whole numbers of one unit: flights, cycles, tenths of an hour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CountQuestion {
    /// Every so many.
    pub every_count: u32,
    /// Tolerance, below the interval.
    #[serde(default)]
    pub tolerance_count: u32,
    /// The count at which it was done last.
    pub done_at_count: i64,
    /// The count at which it was due then; without it, the next due point counts from when it was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub was_due_at_count: Option<i64>,
    /// The count now.
    pub now_at_count: i64,
}

/// An interval of days or of calendar months.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DaysQuestion {
    /// Every so many days. Give this or `every_months`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub every_days: Option<u32>,
    /// Every so many calendar months, pinned to the month's end. Give this or `every_days`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub every_months: Option<u32>,
    /// Tolerance in days, below the interval.
    #[serde(default)]
    pub tolerance_days: u32,
    /// The day on which it was done last.
    pub done_on: NaiveDate,
    /// The day on which it was due then; without it, the next due day counts from when it was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub was_due_on: Option<NaiveDate>,
}

/// Events counted over the last days.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CountedQuestion {
    /// How many.
    pub events: u32,
    /// In how many days.
    pub days: u32,
}

/// Due points, standing, and forecasts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct IntervalAnswer {
    /// The worse of both measures.
    pub state: DueState,
    /// By count.
    pub by_count: Option<CountAnswer>,
    /// By days.
    pub by_days: Option<DaysAnswer>,
    /// When the count will be reached by the rate of the last days.
    pub forecast: Option<ForecastAnswer>,
    /// When the count will be reached by the plan.
    pub planned: Option<PlannedReach>,
    /// How it was computed.
    pub method: String,
}

/// How it stands by count, and where the next due point falls if it is done now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CountAnswer {
    /// How it stands.
    #[serde(flatten)]
    pub standing: CountStanding,
    /// From this count on it is inside tolerance.
    pub window_from_count: i64,
    /// Until this count it is inside tolerance.
    pub window_to_count: i64,
    /// The due count after that, if it is done at the count now.
    pub next_due_at_count: i64,
}

/// How it stands by days, and where the next due day falls if it is done today.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DaysAnswer {
    /// How it stands.
    #[serde(flatten)]
    pub standing: DayStanding,
    /// From this day on it is inside tolerance.
    pub window_from_on: NaiveDate,
    /// Until this day it is inside tolerance.
    pub window_to_on: NaiveDate,
    /// The due day after that, if it is done today.
    pub next_due_on: NaiveDate,
}

/// A forecast from a counting rate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ForecastAnswer {
    /// The rate and its 90 % bounds.
    pub rate: CountingRate,
    /// Days until the due count.
    pub to_go: DaysToGo,
    /// The same as days of the calendar.
    #[serde(flatten)]
    pub dates: ForecastDates,
}

/// Answers an interval question.
///
/// # Errors
/// Neither a count nor days; both or neither of days and months; a forecast or a plan without a count; and whatever
/// the formulas refuse. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{IntervalQuestion, compute_interval};
/// let question: IntervalQuestion = serde_json::from_value(serde_json::json!({
///     "today_on": "2026-05-21",
///     "count": {"every_count": 25, "tolerance_count": 2, "done_at_count": 412, "now_at_count": 440},
///     "days": {"every_days": 60, "tolerance_days": 7, "done_on": "2026-04-11"}
/// }))?;
/// let answer = compute_interval(&question)?;
/// let by_count = answer.by_count.ok_or("asked for")?;
/// assert_eq!((by_count.standing.due_at_count, by_count.standing.count_over), (437, 3));
/// assert_eq!(answer.by_days.map(|days| days.standing.days_left), Some(20));
/// assert_eq!(serde_json::to_value(answer.state)?, "overdue");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_interval(question: &IntervalQuestion) -> Result<IntervalAnswer, BadQuestion> {
    let by_count = question.count.map(|count| by_count(count, question.policy)).transpose()?;
    let by_days = question.days.map(|days| by_days(days, question.policy, question.today_on)).transpose()?;
    let standing = whichever_first(by_count.map(|count| count.standing), by_days.map(|days| days.standing));
    let left = || {
        let count = by_count.ok_or_else(|| {
            BadQuestion::at("/count", "a forecast and a plan need an interval in a count to be reached")
        })?;
        u32::try_from(count.standing.count_left)
            .map_err(|_too_large| BadQuestion::at("/count/every_count", "too much is left to be forecast"))
    };
    let forecast = |counted| forecast(counted, left()?, question.today_on);
    Ok(IntervalAnswer {
        state: standing.map_err(|why| BadQuestion::at("/count", &why))?.state,
        forecast: question.counted.map(forecast).transpose()?,
        planned: if question.plan.is_empty() {
            None
        } else {
            Some(planned_reach(question.today_on, left()?, &question.plan))
        },
        by_count,
        by_days,
        method: METHOD.to_owned(),
    })
}

fn by_count(count: CountQuestion, policy: Rebasing) -> Result<CountAnswer, BadQuestion> {
    let interval = CountInterval { every: count.every_count, tolerance: count.tolerance_count };
    let refuse = |why: IntervalError| BadQuestion::at("/count", &why);
    if count.now_at_count < count.done_at_count {
        return Err(BadQuestion::at(
            "/count/now_at_count",
            "the count now cannot lie below the one at which it was done",
        ));
    }
    let due =
        next_due_count(count.was_due_at_count, count.done_at_count, interval, policy).map_err(refuse)?;
    let tolerance = i64::from(count.tolerance_count);
    Ok(CountAnswer {
        standing: stand_by_count(due, count.tolerance_count, count.now_at_count),
        window_from_count: due - tolerance,
        window_to_count: due.saturating_add(tolerance),
        next_due_at_count: next_due_count(Some(due), count.now_at_count, interval, policy).map_err(refuse)?,
    })
}

fn by_days(days: DaysQuestion, policy: Rebasing, today_on: NaiveDate) -> Result<DaysAnswer, BadQuestion> {
    let every = match (days.every_days, days.every_months) {
        (Some(days), None) => Every::Days(days),
        (None, Some(months)) => Every::Months(months),
        _ => {
            return Err(BadQuestion::at("/days/every_days", "give either `every_days` or `every_months`"));
        }
    };
    if today_on < days.done_on {
        return Err(BadQuestion::at("/today_on", "today cannot lie before the day on which it was done"));
    }
    let interval = DayInterval { every, tolerance_days: days.tolerance_days };
    let refuse = |why: IntervalError| BadQuestion::at("/days", &why);
    let due =
        next_due_day(days.was_due_on.map(Into::into), days.done_on, interval, policy).map_err(refuse)?;
    let shifted = |by: i64| {
        crate::formulas::calendar::add_days(due.due_on, by).map_err(|why| BadQuestion::at("/days", &why))
    };
    let tolerance = i64::from(days.tolerance_days);
    Ok(DaysAnswer {
        standing: stand_by_days(due.due_on, days.tolerance_days, today_on),
        window_from_on: shifted(-tolerance)?,
        window_to_on: shifted(tolerance)?,
        next_due_on: next_due_day(Some(due), today_on, interval, policy).map_err(refuse)?.due_on,
    })
}

fn forecast(counted: CountedQuestion, left: u32, today_on: NaiveDate) -> Result<ForecastAnswer, BadQuestion> {
    let refuse = |why: ForecastError| BadQuestion::at("/counted", &why);
    let rate = counting_rate(counted.events, counted.days).map_err(refuse)?;
    let to_go = days_to_go(&rate, left).map_err(refuse)?;
    Ok(ForecastAnswer { rate, to_go, dates: forecast_dates(today_on, &to_go).map_err(refuse)? })
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(question: Value) -> Result<IntervalAnswer, BadQuestion> {
        compute_interval(&serde_json::from_value(question).expect("the shape of a question"))
    }

    fn flights(done: i64, was_due: Option<i64>, now: i64) -> Value {
        json!({"every_count": 25, "tolerance_count": 2, "done_at_count": done, "was_due_at_count": was_due,
            "now_at_count": now})
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |question: Value, pointer: &str| {
            assert_eq!(
                ask(question.clone()).map_err(|bad| bad.pointer),
                Err(pointer.to_owned()),
                "{question}"
            );
        };
        let on = "2026-05-21";
        check(json!({"today_on": on}), "/count");
        check(json!({"today_on": on, "count": flights(412, None, 411)}), "/count/now_at_count");
        check(json!({"today_on": on, "days": {"done_on": "2026-04-11"}}), "/days/every_days");
        check(json!({"today_on": on, "days": {"done_on": "2026-06-11", "every_days": 60}}), "/today_on");
        check(json!({"today_on": on, "days": {"done_on": "2026-04-11", "every_months": 0}}), "/days");
        check(
            json!({"today_on": on, "count": flights(412, None, 420), "counted": {"events": 0, "days": 56}}),
            "/counted",
        );
        let plan = json!([{"on": on, "expected_count": 5}]);
        check(
            json!({"today_on": on, "days": {"done_on": "2026-04-11", "every_days": 60}, "plan": plan}),
            "/count",
        );
    }

    #[test]
    fn the_policy_decides_early_inside_and_late() {
        let next = |done: i64, policy: &str| {
            let question =
                json!({"today_on": "2026-05-21", "count": flights(done, Some(437), done), "policy": policy});
            ask(question).expect("answered").by_count.expect("asked for").standing.due_at_count
        };
        // Due at 437: inside tolerance, late, early.
        let each = |policy: &str| [438, 441, 430].map(|done| next(done, policy));
        assert_eq!(each("due_point_inside_tolerance"), [462, 466, 455]);
        assert_eq!(each("from_done"), [463, 466, 455]);
        assert_eq!(each("due_point_when_late"), [462, 462, 455]);
    }

    #[test]
    fn a_rate_and_a_plan_both_say_when() {
        let plan =
            json!([{"on": "2026-05-23", "expected_count": 8}, {"on": "2026-05-30", "expected_count": 12}]);
        let question = json!({"today_on": "2026-05-21", "count": flights(412, None, 419),
            "counted": {"events": 46, "days": 56}, "plan": plan});
        let answer = ask(question).expect("answered");
        let dates = answer.forecast.expect("asked for").dates;
        let days = [dates.on, dates.earliest_on, dates.latest_on].map(|on| on.to_string());
        assert_eq!(days, ["2026-06-11", "2026-06-07", "2026-06-18"]);
        let planned = answer.planned.expect("asked for");
        assert_eq!(planned.reached_on.map(|on| on.to_string()).as_deref(), Some("2026-05-30"));
    }

    #[test]
    fn months_keep_their_window() {
        let question = json!({"today_on": "1999-01-20", "policy": "window",
            "days": {"every_months": 6, "tolerance_days": 18, "done_on": "1998-07-31"}});
        let days = ask(question).expect("answered").by_days.expect("asked for");
        let seen = [days.standing.due_on, days.window_from_on, days.window_to_on, days.next_due_on];
        assert_eq!(seen.map(|on| on.to_string()), ["1999-01-31", "1999-01-13", "1999-02-18", "1999-07-31"]);
    }
}
