//! The rule of intervals: from where the next due point counts, and how a check stands against its due point.
//! Which counter a group runs on and what was done when are matters of the fleet and not here.
//!
//! A count is any whole number of one unit: flights, cycles, charges, tenths of an hour. Count and days are each
//! re-based for themselves; [`whichever_first`] joins how they stand. Tolerance is a planning aid and no extra life:
//! it never moves a due point, it only parts *due* from *overdue*.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::calendar::{CalendarError, add_days, days_between, nth_month_after};

/// From where the next due point counts once a check is done.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Rebasing {
    /// The club's own rule: done at or past the due point and inside tolerance, from the due point; done early or
    /// late, from when it was done.
    #[default]
    DuePointInsideTolerance,
    /// Always from when it was done (14 CFR 91.409(b) done early; ML.A.302(d)(1)).
    FromDone,
    /// Done early, from when it was done; done late, even beyond tolerance, the grid of due points is kept
    /// (14 CFR 91.409(b): the excess is part of the next interval).
    DuePointWhenLate,
    /// Inside ± tolerance, early or late, from the due point; outside, from when it was done (TM 1-1500-328-23).
    Window,
}

/// Interval and tolerance of a count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CountInterval {
    /// Every so many, above zero.
    pub every: u32,
    /// Tolerance in the same unit, below `every`.
    #[serde(default)]
    pub tolerance: u32,
}

/// An interval of the calendar: days or months.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Every {
    /// Every so many days.
    Days(u32),
    /// Every so many calendar months, pinned to the month's end from the anchor.
    Months(u32),
}

/// Interval and tolerance of the calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DayInterval {
    /// The interval, above zero.
    pub every: Every,
    /// Tolerance in days, below the interval.
    #[serde(default)]
    pub tolerance_days: u32,
}

/// A due day that remembers what it counts from, so that a series of months never drifts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DueDay {
    /// The day the series counts from.
    pub anchor_on: NaiveDate,
    /// Intervals from the anchor to the due day.
    pub intervals: u32,
    /// The due day itself.
    pub due_on: NaiveDate,
}

/// Why there is no due point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum IntervalError {
    /// The interval is zero.
    #[error("an interval must be above zero")]
    ZeroInterval,
    /// Tolerance as long as the interval.
    #[error("the tolerance must be smaller than the interval")]
    ToleranceNotBelowInterval,
    /// A count below zero.
    #[error("a count cannot be below zero")]
    NegativeCount,
    /// A count too large to add to.
    #[error("the count is too large")]
    CountTooLarge,
    /// Neither a count nor a day was given.
    #[error("a check needs an interval in a count, in days, or in both")]
    NoMeasure,
    /// A day outside the calendar.
    #[error(transparent)]
    Calendar(#[from] CalendarError),
}

/// A due day known by itself, without the series it came from.
impl From<NaiveDate> for DueDay {
    fn from(due_on: NaiveDate) -> Self {
        Self { anchor_on: due_on, intervals: 0, due_on }
    }
}

/// Whether the due point, and not the doing, is what the next one counts from. `late` is how far past the due point
/// the check was done, negative when early.
fn counts_from_due_point(policy: Rebasing, late: i64, tolerance: u32) -> bool {
    let tolerance = i64::from(tolerance);
    match policy {
        Rebasing::DuePointInsideTolerance => (0..=tolerance).contains(&late),
        Rebasing::FromDone => false,
        Rebasing::DuePointWhenLate => late >= 0,
        Rebasing::Window => (-tolerance..=tolerance).contains(&late),
    }
}

/// The next due count of a check done at `done`, whose due count was `previous_due` (`None` when done for the first
/// time or unscheduled: then it counts from `done`).
///
/// Where the grid is kept and the check was later than a whole interval, the next due count is the first of the grid
/// after `done`.
///
/// # Errors
/// A zero interval, a tolerance not below it, counts below zero or too large.
///
/// # Source
/// The sources named at [`Rebasing`]; the club's own rule: common practice, no source.
///
/// ```
/// use preen_domain::formulas::interval::{CountInterval, Rebasing, next_due_count};
/// let every_25 = CountInterval { every: 25, tolerance: 2 };
/// let next = |done| next_due_count(Some(437), done, every_25, Rebasing::DuePointInsideTolerance);
/// assert_eq!((next(438), next(441), next(430)), (Ok(462), Ok(466), Ok(455)));
/// ```
pub fn next_due_count(
    previous_due: Option<i64>,
    done: i64,
    interval: CountInterval,
    policy: Rebasing,
) -> Result<i64, IntervalError> {
    let CountInterval { every, tolerance } = interval;
    check_count_interval(interval)?;
    if done < 0 || previous_due.is_some_and(|due| due < 0) {
        return Err(IntervalError::NegativeCount);
    }
    let every = i64::from(every);
    let base = match previous_due {
        Some(due) if counts_from_due_point(policy, done - due, tolerance) => {
            // Whole intervals already run out between the due point and the doing.
            let missed = (done - due).max(0) / every;
            due + missed * every
        }
        _ => done,
    };
    base.checked_add(every).ok_or(IntervalError::CountTooLarge)
}

/// The next due day of a check done on `done_on`; as [`next_due_count`], and months are counted from the anchor of
/// the series, so that 31 January, 28 February, 31 March follow each other.
///
/// # Errors
/// A zero interval, a tolerance not below it, a day outside the calendar.
///
/// # Source
/// As [`next_due_count`].
///
/// ```
/// use preen_domain::formulas::interval::{DayInterval, Every, Rebasing, next_due_day};
/// let half_year = DayInterval { every: Every::Months(6), tolerance_days: 18 };
/// let due = "1999-01-31".parse::<chrono::NaiveDate>()?.into();
/// let next = next_due_day(Some(due), "1999-01-20".parse()?, half_year, Rebasing::Window)?;
/// assert_eq!(next.due_on.to_string(), "1999-07-31");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn next_due_day(
    previous_due: Option<DueDay>,
    done_on: NaiveDate,
    interval: DayInterval,
    policy: Rebasing,
) -> Result<DueDay, IntervalError> {
    check_day_interval(interval)?;
    let nth = |anchor_on: NaiveDate, intervals: u32| {
        let due_on = match interval.every {
            Every::Days(days) => add_days(anchor_on, i64::from(days) * i64::from(intervals))?,
            Every::Months(months) => nth_month_after(anchor_on, months, intervals)?,
        };
        Ok(DueDay { anchor_on, intervals, due_on })
    };
    let Some(due) = previous_due else { return nth(done_on, 1) };
    let late = days_between(due.due_on, done_on);
    if !counts_from_due_point(policy, late, interval.tolerance_days) {
        return nth(done_on, 1);
    }
    // Intervals that surely ran out between the due day and the doing; the loop finds the rest.
    let longest_days = match interval.every {
        Every::Days(days) => i64::from(days),
        Every::Months(months) => i64::from(months) * 31,
    };
    let missed = u32::try_from(late.max(0) / longest_days).unwrap_or(u32::MAX);
    let mut intervals = due.intervals.saturating_add(missed);
    loop {
        intervals = intervals.checked_add(1).ok_or(CalendarError::OutOfRange)?;
        let next = nth(due.anchor_on, intervals)?;
        if next.due_on > done_on {
            return Ok(next);
        }
    }
}

/// Whether a check surely counts from when it was done, whatever the due point before it was: so early or so late after
/// the one before that no due point which that one can have left is near. `gap` is how much later than that it was done,
/// `shortest` and `longest` are what an interval may measure.
fn counts_from_done(gap: i64, (shortest, longest): (i64, i64), tolerance: u32, policy: Rebasing) -> bool {
    let slack = i64::from(tolerance);
    // How far after the check before it the due point can lie, and how late a check is that counts from it.
    let (first, last, early, late) = match policy {
        Rebasing::FromDone => return true,
        Rebasing::DuePointInsideTolerance => (shortest - slack, longest, 0, slack),
        Rebasing::DuePointWhenLate => (1, longest, 0, i64::MAX),
        Rebasing::Window => (shortest - slack, longest + slack, slack, slack),
    };
    gap < first - early || gap.saturating_sub(last) > late
}

/// The series that decides on the next due point, oldest first: from the last check that surely counts from when it was
/// done on. What was done before that is not asked for.
fn deciding<T: Copy>(
    mut newest_first: impl Iterator<Item = T>,
    begins: impl Fn(T, T) -> bool,
) -> impl Iterator<Item = T> {
    let newest = newest_first.next();
    // Most of the time the newest decides alone.
    let mut before = Vec::new();
    for done in newest_first {
        if before.last().copied().or(newest).is_some_and(|after| begins(done, after)) {
            break;
        }
        before.push(done);
    }
    before.into_iter().rev().chain(newest)
}

/// The next due count after a series of checks, of which each counts as in [`next_due_count`]; they are given by when
/// they were done, the newest first. `None` without any, or where the interval makes no sense.
///
/// ```
/// use preen_domain::formulas::interval::{CountInterval, Rebasing, due_count_after};
/// let every_25 = CountInterval { every: 25, tolerance: 2 };
/// // 412, due at 437; done at 438, so due at 462; done at 463, so due at 487.
/// let next = due_count_after([463, 438, 412].into_iter(), every_25, Rebasing::DuePointInsideTolerance);
/// assert_eq!(next, Some(487));
/// ```
pub fn due_count_after(
    newest_first: impl Iterator<Item = i64>,
    interval: CountInterval,
    policy: Rebasing,
) -> Option<i64> {
    let every = i64::from(interval.every);
    let begins = |before: i64, done: i64| {
        counts_from_done(done.saturating_sub(before), (every, every), interval.tolerance, policy)
    };
    deciding(newest_first, begins).fold(None, |due, done| next_due_count(due, done, interval, policy).ok())
}

/// The next due day after a series of checks, as [`due_count_after`].
///
/// ```
/// use preen_domain::formulas::interval::{DayInterval, Every, Rebasing, due_day_after};
/// let sixty = DayInterval { every: Every::Days(60), tolerance_days: 7 };
/// let done = ["2026-06-12", "2026-04-11"].map(|on| on.parse().unwrap());
/// let next = due_day_after(done.into_iter(), sixty, Rebasing::DuePointInsideTolerance);
/// assert_eq!(next.map(|next| next.due_on), "2026-08-09".parse().ok());
/// ```
pub fn due_day_after(
    newest_first: impl Iterator<Item = NaiveDate>,
    interval: DayInterval,
    policy: Rebasing,
) -> Option<DueDay> {
    let within = match interval.every {
        Every::Days(days) => (i64::from(days), i64::from(days)),
        Every::Months(months) => (i64::from(months) * 28, i64::from(months) * 31),
    };
    let begins = |before: NaiveDate, done: NaiveDate| {
        counts_from_done(days_between(before, done), within, interval.tolerance_days, policy)
    };
    deciding(newest_first, begins).fold(None, |due, done| next_due_day(due, done, interval, policy).ok())
}

fn check_count_interval(interval: CountInterval) -> Result<(), IntervalError> {
    if interval.every == 0 {
        return Err(IntervalError::ZeroInterval);
    }
    if interval.tolerance >= interval.every {
        return Err(IntervalError::ToleranceNotBelowInterval);
    }
    Ok(())
}

fn check_day_interval(interval: DayInterval) -> Result<(), IntervalError> {
    let shortest_days = match interval.every {
        Every::Days(days) => days,
        Every::Months(months) => months.saturating_mul(28),
    };
    check_count_interval(CountInterval { every: shortest_days, tolerance: interval.tolerance_days })
}

#[cfg(test)]
mod tests {
    use super::*;

    const EVERY_100: CountInterval = CountInterval { every: 100, tolerance: 10 };

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a day")
    }

    #[test]
    fn each_policy_decides_early_inside_and_late_by_itself() {
        // Due at 1100: far early, early inside the window, on the point, inside, late.
        let done = [1088, 1095, 1100, 1105, 1115];
        let check = |policy, expected: [i64; 5]| {
            let next =
                done.map(|done| next_due_count(Some(1100), done, EVERY_100, policy).expect("computable"));
            assert_eq!(next, expected, "{policy:?}");
        };
        check(Rebasing::DuePointInsideTolerance, [1188, 1195, 1200, 1200, 1215]);
        check(Rebasing::FromDone, [1188, 1195, 1200, 1205, 1215]);
        check(Rebasing::DuePointWhenLate, [1188, 1195, 1200, 1200, 1200]);
        check(Rebasing::Window, [1188, 1200, 1200, 1200, 1215]);
    }

    #[test]
    fn days_follow_the_same_policies() {
        let sixty = DayInterval { every: Every::Days(60), tolerance_days: 7 };
        let check = |policy, done_on, expected| {
            let next = next_due_day(Some(day("2026-06-10").into()), day(done_on), sixty, policy);
            assert_eq!(next.map(|next| next.due_on), Ok(day(expected)), "{policy:?} on {done_on}");
        };
        check(Rebasing::DuePointInsideTolerance, "2026-06-05", "2026-08-04");
        check(Rebasing::DuePointInsideTolerance, "2026-06-17", "2026-08-09");
        check(Rebasing::DuePointInsideTolerance, "2026-06-18", "2026-08-17");
        check(Rebasing::Window, "2026-06-05", "2026-08-09");
        check(Rebasing::DuePointWhenLate, "2026-06-18", "2026-08-09");
        check(Rebasing::FromDone, "2026-06-17", "2026-08-16");
    }

    #[test]
    fn a_grid_that_is_kept_moves_on_past_what_was_done() {
        let grid = Rebasing::DuePointWhenLate;
        assert_eq!(next_due_count(Some(1100), 1310, EVERY_100, grid), Ok(1400));
        assert_eq!(next_due_count(Some(1100), 1200, EVERY_100, grid), Ok(1300));
        let monthly = DayInterval { every: Every::Months(1), tolerance_days: 3 };
        let first = next_due_day(None, day("2026-01-31"), monthly, grid).expect("a day");
        assert_eq!(first.due_on, day("2026-02-28"));
        let much_later = next_due_day(Some(first), day("2027-04-30"), monthly, grid).expect("a day");
        assert_eq!((much_later.due_on, much_later.anchor_on), (day("2027-05-31"), day("2026-01-31")));
    }

    #[test]
    fn the_first_time_counts_from_when_it_was_done() {
        assert_eq!(
            next_due_count(None, 412, CountInterval { every: 25, tolerance: 2 }, Rebasing::Window),
            Ok(437)
        );
        let sixty = DayInterval { every: Every::Days(60), tolerance_days: 7 };
        let first = next_due_day(None, day("2026-04-11"), sixty, Rebasing::default());
        assert_eq!(first.map(|first| first.due_on), Ok(day("2026-06-10")));
    }

    #[test]
    fn intervals_that_make_no_sense_are_refused() {
        let count = |due, done, every, tolerance| {
            next_due_count(due, done, CountInterval { every, tolerance }, Rebasing::DuePointWhenLate)
        };
        assert_eq!(count(None, 5, 0, 0), Err(IntervalError::ZeroInterval));
        assert_eq!(count(None, 5, 3, 3), Err(IntervalError::ToleranceNotBelowInterval));
        assert_eq!(count(None, -5, 3, 1), Err(IntervalError::NegativeCount));
        assert_eq!(count(Some(-1), 5, 3, 1), Err(IntervalError::NegativeCount));
        assert_eq!(count(Some(0), i64::MAX, 3, 1), Err(IntervalError::CountTooLarge));
        let never = DayInterval { every: Every::Months(0), tolerance_days: 0 };
        assert_eq!(
            next_due_day(None, day("2026-01-01"), never, Rebasing::Window),
            Err(IntervalError::ZeroInterval)
        );
        let too_long = DayInterval { every: Every::Months(u32::MAX), tolerance_days: 0 };
        assert_eq!(
            next_due_day(None, day("2026-01-01"), too_long, Rebasing::Window),
            Err(IntervalError::Calendar(CalendarError::OutOfRange))
        );
    }

    #[test]
    fn policies_travel_by_their_words() {
        let words = ["due_point_inside_tolerance", "from_done", "due_point_when_late", "window"];
        for word in words {
            let policy: Rebasing = serde_json::from_value(word.into()).expect("a known word");
            assert_eq!(serde_json::to_value(policy).expect("a word"), word);
        }
    }
}
