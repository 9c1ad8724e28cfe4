//! Day and month arithmetic. Recurrence rules that skip days a month does not have (a year from 29 February) are not
//! what the product does: it pins to the month's end.

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use preen_domain::formulas::calendar::{add_days, add_months, nth_month_after};

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// W3C XML Schema Part 2, Appendix E: months first, pinned; then days and time.
fn add_duration(start: &str, months: u32, days: i64, time: TimeDelta) -> NaiveDateTime {
    let start: NaiveDateTime = start.parse().expect("a date and time");
    let on = add_days(add_months(start.date(), months).expect("a day"), days).expect("a day");
    on.and_time(start.time()) + time
}

#[test]
fn durations_of_xml_schema() {
    // W3C XML Schema Part 2, Appendix E.
    let time = TimeDelta::hours(7) + TimeDelta::minutes(10) + TimeDelta::milliseconds(3300);
    let later = add_duration("2000-01-12T12:13:14", 12 + 3, 5, time);
    assert_eq!(later.to_string(), "2001-04-17 19:23:17.300");
    let later = add_duration("2000-01-12T00:00:00", 0, 0, TimeDelta::hours(33));
    assert_eq!(later.date(), day("2000-01-13"));
    let day_then_month = add_months(add_days(day("2000-03-30"), 1).expect("a day"), 1);
    assert_eq!(day_then_month, Ok(day("2000-04-30")));
    let month_then_day = add_days(add_months(day("2000-03-30"), 1).expect("a day"), 1);
    assert_eq!(month_then_day, Ok(day("2000-05-01")));
}

#[test]
fn months_are_pinned_to_the_month_end() {
    // Computed with python-dateutil relativedelta; own dates.
    let check = |start, months, expected| assert_eq!(add_months(day(start), months), Ok(day(expected)));
    check("2026-01-31", 1, "2026-02-28");
    check("2028-01-31", 1, "2028-02-29");
    check("2028-02-29", 12, "2029-02-28");
    check("2026-08-31", 6, "2027-02-28");
    check("2026-12-31", 2, "2027-02-28");
}

#[test]
fn a_series_of_months_does_not_drift() {
    // Computed with python-dateutil; own dates. Chaining month to month is what would drift.
    let anchored = [1, 2, 3].map(|nth| nth_month_after(day("2026-01-31"), 1, nth).expect("a day"));
    assert_eq!(anchored, ["2026-02-28", "2026-03-31", "2026-04-30"].map(day));
    let mut chained = day("2026-01-31");
    let chained = [(); 3].map(|()| {
        chained = add_months(chained, 1).expect("a day");
        chained
    });
    assert_eq!(chained, ["2026-02-28", "2026-03-28", "2026-04-28"].map(day));
}

#[test]
fn a_series_from_a_31st_falls_on_month_ends() {
    // The days of FREQ=MONTHLY;BYMONTHDAY=-1, computed with python-dateutil rrule.
    let ends = [0, 1, 2, 3].map(|nth| nth_month_after(day("2026-01-31"), 1, nth).expect("a day"));
    assert_eq!(ends, ["2026-01-31", "2026-02-28", "2026-03-31", "2026-04-30"].map(day));
}

#[test]
fn a_year_from_a_leap_day_is_pinned_where_a_recurrence_rule_would_skip() {
    // FREQ=YEARLY from 29 February, computed with python-dateutil rrule: 2024, 2028, 2032. The years between, which
    // the rule leaves out, are pinned to the 28th here.
    let nth = |nth| nth_month_after(day("2024-02-29"), 12, nth).expect("a day");
    assert_eq!([nth(0), nth(4), nth(8)], ["2024-02-29", "2028-02-29", "2032-02-29"].map(day));
    assert_eq!([nth(1), nth(2), nth(3)], ["2025-02-28", "2026-02-28", "2027-02-28"].map(day));
}
