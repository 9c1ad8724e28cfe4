//! When checks fall due: published rules of re-basing, and the club's own. Hours are counted in tenths.

use chrono::NaiveDate;
use preen_domain::formulas::calendar::{add_days, add_months, valid_through_months};
use preen_domain::formulas::interval::{
    CountInterval, DayInterval, Every, Rebasing, next_due_count, next_due_day,
};
use preen_domain::formulas::standing::{DueState, stand_by_count, stand_by_days, whichever_first};

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// Next due of something every `every` ± `tolerance` tenths of an hour.
fn next_tenths(policy: Rebasing, every: u32, tolerance: u32, due: i64, done: i64) -> i64 {
    next_due_count(Some(due), done, CountInterval { every, tolerance }, policy).expect("a due count")
}

#[test]
fn hours_done_inside_a_window_keep_the_grid() {
    // US Army TM 1-1500-328-23: from 50 h on ± 5 h; below 50 h ± 10 %.
    let seventy_five = |done| next_tenths(Rebasing::Window, 750, 50, 16_094, done);
    for done in [16_044, 16_120, 16_144] {
        assert_eq!(seventy_five(done), 16_844, "done at {done}");
    }
    assert_eq!(seventy_five(16_043), 16_793);
    assert_eq!(seventy_five(16_145), 16_895);
    let twenty_five = |done| next_tenths(Rebasing::Window, 250, 250 / 10, 14_727, done);
    for done in [14_702, 14_752] {
        assert_eq!(twenty_five(done), 14_977, "done at {done}");
    }
    assert_eq!((twenty_five(14_701), twenty_five(14_753)), (14_951, 15_003));
}

#[test]
fn months_done_inside_a_window_keep_the_grid() {
    // US Army TM 1-1500-328-23: below 12 months ± 10 % of the days, a month being 30.
    let half_year = DayInterval { every: Every::Months(6), tolerance_days: 6 * 30 / 10 };
    let next = |done_on| {
        next_due_day(Some(day("1999-01-31").into()), day(done_on), half_year, Rebasing::Window)
            .map(|next| next.due_on)
    };
    assert_eq!(next("1999-01-13"), Ok(day("1999-07-31")));
    assert_eq!(next("1999-02-18"), Ok(day("1999-07-31")));
    assert_eq!(next("1999-01-12"), Ok(day("1999-07-12")));
    assert_eq!(next("1999-02-19"), Ok(day("1999-08-19")));
}

#[test]
fn hours_or_days_whichever_first() {
    // US Army TM 1-1500-328-23: 25 h or 30 days (rule seen, dates computed).
    let due = next_due_count(None, 3100, CountInterval { every: 250, tolerance: 0 }, Rebasing::Window);
    assert_eq!(due, Ok(3350));
    let thirty = DayInterval { every: Every::Days(30), tolerance_days: 0 };
    let due_on = next_due_day(None, day("2026-03-01"), thirty, Rebasing::Window).expect("a day").due_on;
    assert_eq!(due_on, day("2026-03-31"));
    let by_count = stand_by_count(3350, 0, 3220);
    let by_days = stand_by_days(due_on, 0, day("2026-03-31"));
    assert_eq!(by_count.state, DueState::Clear);
    let stands = whichever_first(Some(by_count), Some(by_days)).expect("two measures");
    assert_eq!(stands.state, DueState::Due);
}

#[test]
fn hundred_hour_inspections() {
    let check = |source, policy, due, done, expected| {
        assert_eq!(next_tenths(policy, 1000, 100, due, done), expected, "{source}");
    };
    // The 10 h beyond the limit are for flying to the inspection, and are part of the next 100 h.
    check("14 CFR 91.409(b), late", Rebasing::DuePointWhenLate, 11_000, 11_043, 12_000);
    assert_eq!(stand_by_count(11_000, 100, 11_043).state, DueState::Due);
    check("14 CFR 91.409(b), early", Rebasing::FromDone, 11_000, 10_880, 11_880);
    check("14 CFR 91.409(b), early", Rebasing::DuePointWhenLate, 11_000, 10_880, 11_880);
    check("ML.A.302(d)(1)(a), at the end of tolerance", Rebasing::FromDone, 20_000, 20_100, 21_100);
    assert_eq!(stand_by_count(20_000, 100, 20_100).state, DueState::Due);
    assert_eq!(stand_by_count(20_000, 100, 20_101).state, DueState::Overdue);
    check("light-aircraft engine manual, late", Rebasing::DuePointWhenLate, 1000, 1100, 2000);
    check("light-aircraft engine manual, early", Rebasing::DuePointWhenLate, 1000, 870, 1870);
}

#[test]
fn validity_and_deadlines() {
    // 14 CFR 91.409(a), twelve calendar months to the end of the month (reading from memory).
    assert_eq!(valid_through_months(day("2026-03-10"), 12), Ok(day("2027-03-31")));
    // M.A.305: records kept for 36 months.
    assert_eq!(add_months(day("2023-06-15"), 36), Ok(day("2026-06-15")));
    // ML.A.801(c)(2): re-check within 30 days of a release away from base, commercial 7.
    assert_eq!(add_days(day("2026-06-20"), 30), Ok(day("2026-07-20")));
    assert_eq!(add_days(day("2026-06-20"), 7), Ok(day("2026-06-27")));
}

#[test]
fn club_check_of_the_worked_example() {
    // Worked example, computed independently: every 25 flights (tolerance 2) or 60 days, last at 412 on 11 April.
    let every_25 = CountInterval { every: 25, tolerance: 2 };
    let sixty = DayInterval { every: Every::Days(60), tolerance_days: 7 };
    let club = Rebasing::default();
    let due = next_due_count(None, 412, every_25, club).expect("a due count");
    let due_on = next_due_day(None, day("2026-04-11"), sixty, club).expect("a due day").due_on;
    assert_eq!((due, due_on), (437, day("2026-06-10")));

    let by_count = stand_by_count(due, every_25.tolerance, 440);
    let by_days = stand_by_days(due_on, sixty.tolerance_days, day("2026-05-21"));
    assert_eq!((by_count.count_over, by_count.count_beyond_tolerance), (3, 1));
    assert_eq!((by_days.days_left, by_days.state), (20, DueState::Clear));
    let stands = whichever_first(Some(by_count), Some(by_days)).expect("two measures");
    assert_eq!(stands.state, DueState::Overdue);

    let next = |done| next_due_count(Some(due), done, every_25, club);
    assert_eq!(next(438), Ok(462), "inside tolerance: from the due point");
    assert_eq!(next(441), Ok(466), "late: from when it was done");
    assert_eq!(next(430), Ok(455), "early: from when it was done");
}
