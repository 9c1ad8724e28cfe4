//! Day and month arithmetic on calendar days. Zones, clock times and due rules are not here; the rule of intervals
//! lives in `interval`.

use chrono::{Datelike, Days, Months, NaiveDate};

/// A day that cannot be reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CalendarError {
    /// The result lies outside the calendar this program can hold.
    #[error("the date would lie outside the calendar; check the number of days or months")]
    OutOfRange,
}

/// `months` calendar months after `anchor_on`; the day of the month is kept, or pinned to the last day of a shorter
/// month (31 January + 1 month = 28 or 29 February).
///
/// For a series use [`nth_month_after`], which always counts from the anchor: adding month to month would let
/// 31 January drift to the 28th for good.
///
/// # Errors
/// A date outside the calendar.
///
/// # Source
/// W3C XML Schema Part 2, Appendix E (adding durations to dates).
///
/// ```
/// use chrono::NaiveDate;
/// use preen_domain::formulas::calendar::add_months;
/// let day = |text: &str| text.parse::<NaiveDate>();
/// assert_eq!(add_months(day("2028-02-29")?, 12)?, day("2029-02-28")?);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn add_months(anchor_on: NaiveDate, months: u32) -> Result<NaiveDate, CalendarError> {
    anchor_on.checked_add_months(Months::new(months)).ok_or(CalendarError::OutOfRange)
}

/// The `nth` date of a series every `every_months` months, counted from its anchor, so that it never drifts.
/// The 0th is the anchor itself.
///
/// # Errors
/// A date outside the calendar.
///
/// ```
/// use chrono::NaiveDate;
/// use preen_domain::formulas::calendar::nth_month_after;
/// let day = |text: &str| text.parse::<NaiveDate>();
/// assert_eq!(nth_month_after(day("2026-01-31")?, 1, 2)?, day("2026-03-31")?);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn nth_month_after(
    anchor_on: NaiveDate,
    every_months: u32,
    nth: u32,
) -> Result<NaiveDate, CalendarError> {
    add_months(anchor_on, every_months.checked_mul(nth).ok_or(CalendarError::OutOfRange)?)
}

/// `days` days after (negative: before) `on`.
///
/// # Errors
/// A date outside the calendar.
///
/// ```
/// use chrono::NaiveDate;
/// use preen_domain::formulas::calendar::add_days;
/// let day = |text: &str| text.parse::<NaiveDate>();
/// assert_eq!(add_days(day("2026-04-11")?, 60)?, day("2026-06-10")?);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn add_days(on: NaiveDate, days: i64) -> Result<NaiveDate, CalendarError> {
    let size = Days::new(days.unsigned_abs());
    let there = if days < 0 { on.checked_sub_days(size) } else { on.checked_add_days(size) };
    there.ok_or(CalendarError::OutOfRange)
}

/// Whole days from `from` to `to`; negative when `to` lies before `from`.
///
/// ```
/// use chrono::NaiveDate;
/// use preen_domain::formulas::calendar::days_between;
/// let day = |text: &str| text.parse::<NaiveDate>();
/// assert_eq!(days_between(day("2026-05-21")?, day("2026-06-10")?), 20);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn days_between(from: NaiveDate, to: NaiveDate) -> i64 {
    to.signed_duration_since(from).num_days()
}

/// Last day of validity of something done on a day and good for whole calendar months: the end of the month that
/// lies `months` after it.
///
/// # Errors
/// A date outside the calendar.
///
/// # Source
/// "12 calendar months" as in 14 CFR 91.409(a), end-of-month reading.
///
/// ```
/// use chrono::NaiveDate;
/// use preen_domain::formulas::calendar::valid_through_months;
/// let day = |text: &str| text.parse::<NaiveDate>();
/// assert_eq!(valid_through_months(day("2026-03-10")?, 12)?, day("2027-03-31")?);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn valid_through_months(done_on: NaiveDate, months: u32) -> Result<NaiveDate, CalendarError> {
    let first_on = done_on.with_day(1).ok_or(CalendarError::OutOfRange)?;
    let after = months.checked_add(1).ok_or(CalendarError::OutOfRange)?;
    add_days(add_months(first_on, after)?, -1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_leaves_the_calendar_is_an_error_and_not_a_panic() {
        let day = NaiveDate::from_ymd_opt(2026, 1, 31).expect("a day");
        assert_eq!(add_months(day, u32::MAX), Err(CalendarError::OutOfRange));
        assert_eq!(add_days(day, i64::MAX), Err(CalendarError::OutOfRange));
        assert_eq!(add_days(day, i64::MIN), Err(CalendarError::OutOfRange));
        assert_eq!(nth_month_after(day, 2, u32::MAX), Err(CalendarError::OutOfRange));
        assert_eq!(valid_through_months(day, u32::MAX), Err(CalendarError::OutOfRange));
    }

    #[test]
    fn december_ends_within_its_own_year() {
        let day = NaiveDate::from_ymd_opt(2026, 12, 1).expect("a day");
        assert_eq!(valid_through_months(day, 0), Ok(NaiveDate::from_ymd_opt(2026, 12, 31).expect("a day")));
    }
}
