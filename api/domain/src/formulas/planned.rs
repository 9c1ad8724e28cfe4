//! When a count will be reached by a calendar of what is planned: training days, contests. A counting rate without a
//! plan is `forecast`.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A day and how much is expected to be counted on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlannedDay {
    /// The day.
    pub on: NaiveDate,
    /// What is expected to be counted on it, such as flights.
    pub expected_count: u32,
}

/// What a plan says about a count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PlannedReach {
    /// The day on which the count is reached; absent when the plan ends before.
    pub reached_on: Option<NaiveDate>,
    /// What is planned until the end of that day, or in all.
    pub planned_count: u64,
    /// What is still missing when the plan ends; 0 when the count is reached.
    pub missing_count: u64,
    /// The last day of the plan from today on.
    pub plan_ends_on: Option<NaiveDate>,
}

/// The day on which `left` more are counted if everything happens as planned. Days before `today` are past and do not
/// count; several entries of one day add up; the order does not matter. With nothing left it is today.
///
/// A plan has no bounds of chance: days rained off and flights added on the spot are not in it.
///
/// # Source
/// Common practice, no source: a calendar that is known says more than a rate of the past.
///
/// ```
/// use preen_domain::formulas::planned::{PlannedDay, planned_reach};
/// let day = |text: &str| text.parse();
/// let plan = [("2026-05-23", 8), ("2026-05-29", 4), ("2026-05-30", 6)]
///     .map(|(on, expected_count)| day(on).map(|on| PlannedDay { on, expected_count }));
/// let plan: Vec<PlannedDay> = plan.into_iter().collect::<Result<_, chrono::ParseError>>()?;
/// assert_eq!(planned_reach(day("2026-05-21")?, 12, &plan).reached_on, Some(day("2026-05-29")?));
/// assert_eq!(planned_reach(day("2026-05-21")?, 20, &plan).missing_count, 2);
/// # Ok::<(), chrono::ParseError>(())
/// ```
#[must_use]
pub fn planned_reach(today: NaiveDate, left: u32, plan: &[PlannedDay]) -> PlannedReach {
    let left = u64::from(left);
    let mut coming: Vec<&PlannedDay> = plan.iter().filter(|day| day.on >= today).collect();
    coming.sort_by_key(|day| day.on);
    let plan_ends_on = coming.last().map(|day| day.on);
    let mut planned_count = 0_u64;
    let mut reached_on = (left == 0).then_some(today);
    for day in &coming {
        // Entries of the day on which it is reached all belong to that day.
        if reached_on.is_some_and(|reached_on| day.on > reached_on) {
            break;
        }
        planned_count = planned_count.saturating_add(u64::from(day.expected_count));
        if planned_count >= left && reached_on.is_none() {
            reached_on = Some(day.on);
        }
    }
    let missing_count = if reached_on.is_some() { 0 } else { left - planned_count };
    PlannedReach { reached_on, planned_count, missing_count, plan_ends_on }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(of_may: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 5, of_may).expect("a day")
    }

    fn plan(days: &[(u32, u32)]) -> Vec<PlannedDay> {
        days.iter()
            .map(|(on, expected_count)| PlannedDay { on: day(*on), expected_count: *expected_count })
            .collect()
    }

    #[test]
    fn past_days_do_not_count_and_order_does_not_matter() {
        let shuffled = plan(&[(30, 6), (20, 50), (23, 3), (23, 5), (29, 4)]);
        let check = |left, reached: Option<u32>, planned, missing| {
            let said = planned_reach(day(21), left, &shuffled);
            let seen = (said.reached_on, said.planned_count, said.missing_count);
            assert_eq!(seen, (reached.map(day), planned, missing), "{left} left");
        };
        check(0, Some(21), 0, 0);
        check(1, Some(23), 8, 0);
        check(8, Some(23), 8, 0);
        check(9, Some(29), 12, 0);
        check(18, Some(30), 18, 0);
        check(19, None, 18, 1);
        assert_eq!(planned_reach(day(21), 3, &[]).plan_ends_on, None);
    }
}
