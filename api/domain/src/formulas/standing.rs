//! How a check stands against its due points: clear, due or overdue, with what is left and what is over. Where the
//! due points come from lives in `interval`.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::calendar::days_between;
use super::interval::IntervalError;
use crate::words::CheckState;

/// State of a check that has been done at least once, from good to bad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DueState {
    /// Before the due point.
    Clear,
    /// At or past the due point, inside tolerance.
    Due,
    /// Beyond the due point plus tolerance.
    Overdue,
}

impl From<DueState> for CheckState {
    fn from(state: DueState) -> Self {
        match state {
            DueState::Clear => Self::Clear,
            DueState::Due => Self::Due,
            DueState::Overdue => Self::Overdue,
        }
    }
}

/// How a check stands by count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CountStanding {
    /// The due count.
    pub due_at_count: i64,
    /// Tolerance, same unit.
    pub tolerance_count: u32,
    /// Left until the due count; 0 at or past it.
    pub count_left: i64,
    /// Past the due count; 0 before it.
    pub count_over: i64,
    /// Past the due count plus tolerance; 0 inside.
    pub count_beyond_tolerance: i64,
    /// The state by count alone.
    pub state: DueState,
}

/// How a check stands by days.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DayStanding {
    /// The due day.
    pub due_on: NaiveDate,
    /// Tolerance in days.
    pub tolerance_days: u32,
    /// Days left until the due day; 0 on or past it.
    pub days_left: i64,
    /// Days past the due day; 0 before it.
    pub days_over: i64,
    /// Days past the due day plus tolerance; 0 inside.
    pub days_beyond_tolerance: i64,
    /// The state by days alone.
    pub state: DueState,
}

/// How a check stands by whichever comes first. Both measures stay readable.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CheckStanding {
    /// The worse of the two states.
    pub state: DueState,
    /// By count, if the check has such an interval.
    pub by_count: Option<CountStanding>,
    /// By days, if the check has such an interval.
    pub by_days: Option<DayStanding>,
}

/// Left, over and beyond tolerance of something `past` its due point (negative: before it).
fn measure(past: i64, tolerance: u32) -> (i64, i64, i64, DueState) {
    let beyond = past.saturating_sub(i64::from(tolerance)).max(0);
    let state = match past {
        _ if beyond > 0 => DueState::Overdue,
        0.. => DueState::Due,
        _ => DueState::Clear,
    };
    (past.saturating_neg().max(0), past.max(0), beyond, state)
}

/// How a check due at `due_at_count` stands when the counter shows `now`.
///
/// ```
/// use preen_domain::formulas::standing::{DueState, stand_by_count};
/// let stands = stand_by_count(437, 2, 440);
/// assert_eq!((stands.count_over, stands.count_beyond_tolerance, stands.state), (3, 1, DueState::Overdue));
/// ```
#[must_use]
pub fn stand_by_count(due_at_count: i64, tolerance_count: u32, now: i64) -> CountStanding {
    let (count_left, count_over, count_beyond_tolerance, state) =
        measure(now.saturating_sub(due_at_count), tolerance_count);
    CountStanding { due_at_count, tolerance_count, count_left, count_over, count_beyond_tolerance, state }
}

/// How a check due on `due_on` stands on the day `today`.
///
/// ```
/// use preen_domain::formulas::standing::{DueState, stand_by_days};
/// let stands = stand_by_days("2026-06-10".parse()?, 7, "2026-05-21".parse()?);
/// assert_eq!((stands.days_left, stands.state), (20, DueState::Clear));
/// # Ok::<(), chrono::ParseError>(())
/// ```
#[must_use]
pub fn stand_by_days(due_on: NaiveDate, tolerance_days: u32, today: NaiveDate) -> DayStanding {
    let (days_left, days_over, days_beyond_tolerance, state) =
        measure(days_between(due_on, today), tolerance_days);
    DayStanding { due_on, tolerance_days, days_left, days_over, days_beyond_tolerance, state }
}

/// Whichever comes first: the worse state of count and days.
///
/// # Errors
/// [`IntervalError::NoMeasure`] when neither is given.
///
/// ```
/// use preen_domain::formulas::standing::{DueState, stand_by_count, stand_by_days, whichever_first};
/// let by_days = stand_by_days("2026-06-10".parse()?, 7, "2026-05-21".parse()?);
/// let stands = whichever_first(Some(stand_by_count(437, 2, 440)), Some(by_days))?;
/// assert_eq!(stands.state, DueState::Overdue);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn whichever_first(
    by_count: Option<CountStanding>,
    by_days: Option<DayStanding>,
) -> Result<CheckStanding, IntervalError> {
    let states = [by_count.map(|count| count.state), by_days.map(|days| days.state)];
    let state = states.into_iter().flatten().max().ok_or(IntervalError::NoMeasure)?;
    Ok(CheckStanding { state, by_count, by_days })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_check_is_due_at_its_point_and_overdue_beyond_tolerance() {
        let check = |now, left, over, beyond, state| {
            let stands = stand_by_count(437, 2, now);
            let seen = (stands.count_left, stands.count_over, stands.count_beyond_tolerance, stands.state);
            assert_eq!(seen, (left, over, beyond, state), "at {now}");
        };
        check(436, 1, 0, 0, DueState::Clear);
        check(437, 0, 0, 0, DueState::Due);
        check(439, 0, 2, 0, DueState::Due);
        check(440, 0, 3, 1, DueState::Overdue);
        assert_eq!(stand_by_count(437, 0, 438).state, DueState::Overdue);
    }

    #[test]
    fn a_check_without_any_interval_has_no_standing() {
        assert_eq!(whichever_first(None, None), Err(IntervalError::NoMeasure));
    }
}
