//! Slack of a lead at its connector: its class, and how often the lead can still be terminated again.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::class::ClassLimits;
use crate::formulas::range::{OutOfRange, within};
use crate::words::Severity;

/// What one re-termination takes of a lead, mm (6 to 8). Common practice, no source.
pub const TAKEN_EACH_MM: f64 = 7.0;

/// What must remain, mm: a lead at or below it is not terminated again. Common practice, no source.
pub const KEPT_MM: f64 = 10.0;

/// Class by the slack that is left, mm. Starting values of a club, common practice, no source.
pub const SLACK_LIMITS_MM: ClassLimits = ClassLimits::new(10.0, 5.0, 0.0);

/// What a lead's slack allows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SlackLeft {
    /// Re-terminations left.
    pub re_terminations: u32,
    /// Slack after the last of them, mm.
    pub after_last_mm: f64,
    /// Class of the slack as it is; absent: better than all limits.
    pub class: Option<Severity>,
}

/// Re-terminations left: ⌊(slack − kept)/taken⌋, never below 0 and never rounded up.
///
/// # Errors
/// Slack outside 0 to 10 000 mm, `kept_mm` outside the same, `taken_mm` outside 1 to 100 mm.
///
/// # Source
/// Common practice, no source.
///
/// ```
/// use preen_domain::formulas::wire::slack::{KEPT_MM, TAKEN_EACH_MM, slack_left};
/// assert_eq!(slack_left(27.0, KEPT_MM, TAKEN_EACH_MM).map(|left| left.re_terminations), Ok(2));
/// assert_eq!(slack_left(16.0, KEPT_MM, TAKEN_EACH_MM).map(|left| left.re_terminations), Ok(0));
/// ```
pub fn slack_left(slack_mm: f64, kept_mm: f64, taken_mm: f64) -> Result<SlackLeft, OutOfRange> {
    within("slack_mm", slack_mm, 0.0, 10_000.0)?;
    within("kept_mm", kept_mm, 0.0, 10_000.0)?;
    within("taken_mm", taken_mm, 1.0, 100.0)?;
    // Counting down needs no conversion of a fraction; at most 10 000 steps.
    let mut re_terminations = 0;
    let mut after_last_mm = slack_mm;
    while after_last_mm - taken_mm >= kept_mm - 1e-9 {
        after_last_mm -= taken_mm;
        re_terminations += 1;
    }
    Ok(SlackLeft { re_terminations, after_last_mm, class: SLACK_LIMITS_MM.falling(slack_mm) })
}

/// How many connector halves so many loose contacts make: ⌊contacts/ways⌋; `None` for a connector without ways.
///
/// ```
/// use preen_domain::formulas::wire::slack::halves_from_contacts;
/// assert_eq!(halves_from_contacts(9, 6), Some(1));
/// assert_eq!(halves_from_contacts(9, 0), None);
/// ```
#[must_use]
pub const fn halves_from_contacts(contacts: u32, ways: u32) -> Option<u32> {
    contacts.checked_div(ways)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slack_falls_through_its_classes() {
        let check = |slack_mm, times, class| {
            let left = slack_left(slack_mm, KEPT_MM, TAKEN_EACH_MM).expect("computable");
            assert_eq!((left.re_terminations, left.class), (times, class), "{slack_mm} mm");
        };
        check(40.0, 4, None);
        check(17.0, 1, None);
        check(16.9, 0, None);
        check(10.0, 0, Some(Severity::Watch));
        check(5.0, 0, Some(Severity::Restrict));
        check(0.0, 0, Some(Severity::Ground));
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        assert_eq!(slack_left(-0.1, 10.0, 7.0).map_err(|why| why.input), Err("slack_mm"));
        assert_eq!(slack_left(20.0, 10.0, 0.0).map_err(|why| why.input), Err("taken_mm"));
        assert_eq!(slack_left(f64::INFINITY, 10.0, 7.0).map_err(|why| why.input), Err("slack_mm"));
    }
}
