//! Counting rates and the days they give, and the days that a plan gives.

use chrono::NaiveDate;
use preen_domain::formulas::forecast::{counting_rate, days_to_go, forecast_dates};
use preen_domain::formulas::planned::{PlannedDay, planned_reach};

use crate::close::close;

#[test]
fn bounds_of_a_count() {
    // Quantiles of the χ² distribution from printed tables (NIST/SEMATECH e-Handbook 1.3.6.7.4, from memory):
    // 0.95 with 10, 2 and 22 degrees of freedom is 18.307, 5.991 and 33.924; 0.05 with 10 and 20 is 3.940 and 10.851.
    let rate = |events| counting_rate(events, 1).expect("a day of counting");
    close("upper of 4", 2.0 * rate(4).high_per_day, 18.307, 0.0005);
    close("upper of 0", 2.0 * rate(0).high_per_day, 5.991, 0.0006);
    close("upper of 10", 2.0 * rate(10).high_per_day, 33.924, 0.0005);
    close("lower of 5", 2.0 * rate(5).low_per_day, 3.940, 0.0005);
    close("lower of 10", 2.0 * rate(10).low_per_day, 10.851, 0.0005);
}

#[test]
fn forecasts_of_the_worked_example() {
    // Worked example, computed independently; all seen from 21 May.
    let day = |text: &str| text.parse::<NaiveDate>().expect("a day");
    let check = |events, left, days: [f64; 3], dates: [&str; 3]| {
        let rate = counting_rate(events, 56).expect("days of counting");
        let to_go = days_to_go(&rate, left).expect("something was counted");
        for (got, expected) in [to_go.days, to_go.earliest_days, to_go.latest_days].into_iter().zip(days) {
            close(&format!("{left} left at {events} in 56 days"), got, expected, 0.05);
        }
        let falls = forecast_dates(day("2026-05-21"), &to_go).expect("days of the calendar");
        assert_eq!([falls.on, falls.earliest_on, falls.latest_on], dates.map(day));
    };
    check(46, 18, [21.9, 17.1, 28.4], ["2026-06-11", "2026-06-07", "2026-06-18"]);
    check(38, 8, [11.8, 9.0, 15.7], ["2026-06-01", "2026-05-29", "2026-06-05"]);
    let rate = counting_rate(46, 56).expect("days of counting");
    close("rate", rate.per_day, 0.821, 0.0005);
    close("lower bound", rate.low_per_day, 0.633, 0.0005);
    close("upper bound", rate.high_per_day, 1.050, 0.0005);
}

#[test]
fn the_planned_calendar_beside_the_rate() {
    // The worked example again, 18 left on 21 May, by hand: training on two weekends and a contest of twelve rounds. The
    // rate says 11 June (7 to 18); what is planned says the first day of the contest, ahead of all of that.
    let day = |text: &str| text.parse::<NaiveDate>().expect("a day");
    let on = |text: &str, expected_count| PlannedDay { on: day(text), expected_count };
    let plan = [
        on("2026-05-31", 4),
        on("2026-05-23", 5),
        on("2026-05-24", 5),
        on("2026-05-30", 8),
        on("2026-05-16", 40),
    ];
    let reach = planned_reach(day("2026-05-21"), 18, &plan);
    assert_eq!(
        (reach.reached_on, reach.planned_count, reach.missing_count),
        (Some(day("2026-05-30")), 18, 0)
    );
    let rate = counting_rate(46, 56).expect("days of counting");
    let falls = forecast_dates(day("2026-05-21"), &days_to_go(&rate, 18).expect("counted")).expect("days");
    assert!(reach.reached_on < Some(falls.earliest_on));
    // One more than all that is planned is not reached, and a plan says how much is missing, not when.
    let short = planned_reach(day("2026-05-21"), 23, &plan);
    assert_eq!(
        (short.reached_on, short.missing_count, short.plan_ends_on),
        (None, 1, Some(day("2026-05-31")))
    );
}
