//! How long parts last: from lives that ended, lives that still run and lives whose end lies between two looks.
//!
//! * [`kaplan_meier`]: share still good by age, without a distribution · [`log_rank`]: two groups compared
//! * [`weibull`]: the two-parameter law by maximum likelihood · [`weibull_plot`]: the straight line by ranks
//! * [`mtbf`]: constant failure rate with exact bounds, none included · [`spares`]: how many of them to take
//! * [`power_law`], [`repair_trend`], [`mean_cumulative`]: repairs of one and of many systems over their age
//!
//! Ages are counts or times in one unit of the caller's choice (flights, hours, cycles); nothing here knows of parts,
//! positions or a fleet. No function returns a number that is not finite.

pub mod kaplan_meier;
pub mod log_rank;
pub mod mean_cumulative;
pub mod mtbf;
pub mod power_law;
pub mod repair_trend;
pub mod spares;
pub mod weibull;
mod weibull_likelihood;
pub mod weibull_plot;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Lists longer than this are refused.
pub const MAX_LIVES: usize = 10_000;

/// Ages and exposures beyond this are refused: they are a slip of the unit, and sums of their powers would overflow.
pub const MAX_AGE: f64 = 1e12;

/// How a life ended, or did not.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum LifeEnd {
    /// It failed at this age.
    Failed {
        /// Age.
        at: f64,
    },
    /// It was still good at this age: it runs, or was taken off for another reason (censored).
    Running {
        /// Age.
        at: f64,
    },
    /// It was found failed; the failure lies in `(good_at, found_at]`.
    FailedBetween {
        /// Age at the last look that found it good; 0 if there was none.
        good_at: f64,
        /// Age at the look that found it failed.
        found_at: f64,
    },
}

/// One life, watched from the age `entered` on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Life {
    /// Age at which it came under watch; 0 for new. A used part counts only from here (late entry).
    pub entered: f64,
    /// Its end.
    pub end: LifeEnd,
}

impl Life {
    /// A life from new that failed at an age.
    #[must_use]
    pub const fn failed(at: f64) -> Self {
        Self { entered: 0.0, end: LifeEnd::Failed { at } }
    }

    /// A life from new that was still good at an age.
    #[must_use]
    pub const fn running(at: f64) -> Self {
        Self { entered: 0.0, end: LifeEnd::Running { at } }
    }

    /// A life from new whose failure lies between two looks.
    #[must_use]
    pub const fn failed_between(good_at: f64, found_at: f64) -> Self {
        Self { entered: 0.0, end: LifeEnd::FailedBetween { good_at, found_at } }
    }

    /// The same life, watched only from an age on.
    #[must_use]
    pub const fn entered_at(self, entered: f64) -> Self {
        Self { entered, ..self }
    }

    /// Whether it failed.
    #[must_use]
    pub const fn is_failure(&self) -> bool {
        !matches!(self.end, LifeEnd::Running { .. })
    }

    /// The last age at which it was seen.
    #[must_use]
    pub const fn last_age(&self) -> f64 {
        match self.end {
            LifeEnd::Failed { at } | LifeEnd::Running { at } => at,
            LifeEnd::FailedBetween { found_at, .. } => found_at,
        }
    }

    /// How much of it was watched: last age less the age at entry.
    #[must_use]
    pub const fn exposure(&self) -> f64 {
        self.last_age() - self.entered
    }
}

/// A number with its bounds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Bounded {
    /// The estimate.
    pub value: f64,
    /// Lower bound.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
}

/// How the watch on something ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Truncation {
    /// At a time set beforehand, or now.
    Time,
    /// At the last failure.
    Failure,
}

/// Why lives say nothing. Lives are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LifeError {
    /// There is none.
    #[error("no lives were given; give at least one")]
    Empty,
    /// There are too many.
    #[error("more than {MAX_LIVES} entries were given; give fewer")]
    TooMany,
    /// An age is not finite, negative or absurdly large.
    #[error("entry {life} holds an age that is not a number from 0 to {MAX_AGE:e}; check the unit")]
    BadAge {
        /// Life, from 1.
        life: usize,
    },
    /// The life ends where it begins, or before.
    #[error(
        "entry {life} ends at the age at which it came under watch, or before; leave it out or mend its ages"
    )]
    EndNotAfterEntry {
        /// Life, from 1.
        life: usize,
    },
    /// The ages between which it failed are in the wrong order.
    #[error(
        "entry {life} must have been found good before it was found failed, and not before it came under watch"
    )]
    NotAnInterval {
        /// Life, from 1.
        life: usize,
    },
    /// A confidence or a share is not between 0 and 1.
    #[error("a confidence or share must lie above 0 and below 1, such as 0.9")]
    BadShare,
}

/// Refuses lives with which nothing can be computed.
pub(crate) fn check_lives(lives: &[Life]) -> Result<(), LifeError> {
    if lives.is_empty() {
        return Err(LifeError::Empty);
    }
    if lives.len() > MAX_LIVES {
        return Err(LifeError::TooMany);
    }
    for (index, one) in lives.iter().enumerate() {
        let life = index + 1;
        let is_age = |age: f64| (0.0..=MAX_AGE).contains(&age);
        let good_at = match one.end {
            LifeEnd::FailedBetween { good_at, .. } => Some(good_at),
            LifeEnd::Failed { .. } | LifeEnd::Running { .. } => None,
        };
        if ![one.entered, one.last_age(), good_at.unwrap_or(0.0)].into_iter().all(is_age) {
            return Err(LifeError::BadAge { life });
        }
        if one.last_age() <= one.entered {
            return Err(LifeError::EndNotAfterEntry { life });
        }
        if good_at.is_some_and(|good_at| good_at < one.entered || good_at >= one.last_age()) {
            return Err(LifeError::NotAnInterval { life });
        }
    }
    Ok(())
}

/// Refuses a confidence or share outside (0, 1), or so near an end that no bound can be told from it.
pub(crate) fn check_share(share: f64) -> Result<(), LifeError> {
    if (1e-9..=1.0 - 1e-9).contains(&share) { Ok(()) } else { Err(LifeError::BadShare) }
}

/// A count as a number; lists are capped far below where this would round.
pub(crate) fn count(number: usize) -> f64 {
    f64::from(u32::try_from(number).unwrap_or(u32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lives_that_cannot_be_are_refused_with_their_number() {
        let check = |life: Life, expected| assert_eq!(check_lives(&[Life::failed(5.0), life]), Err(expected));
        check(Life::failed(f64::NAN), LifeError::BadAge { life: 2 });
        check(Life::running(f64::INFINITY), LifeError::BadAge { life: 2 });
        check(Life::failed(2e12), LifeError::BadAge { life: 2 });
        check(Life::running(9.0).entered_at(-1.0), LifeError::BadAge { life: 2 });
        check(Life::failed(0.0), LifeError::EndNotAfterEntry { life: 2 });
        check(Life::running(9.0).entered_at(9.0), LifeError::EndNotAfterEntry { life: 2 });
        check(Life::failed_between(9.0, 9.0), LifeError::NotAnInterval { life: 2 });
        check(Life::failed_between(3.0, 9.0).entered_at(4.0), LifeError::NotAnInterval { life: 2 });
        assert_eq!(check_lives(&[]), Err(LifeError::Empty));
        assert_eq!(check_lives(&vec![Life::failed(1.0); MAX_LIVES + 1]), Err(LifeError::TooMany));
        assert_eq!(check_lives(&[Life::failed_between(0.0, 9.0)]), Ok(()));
    }

    #[test]
    fn a_share_lies_between_nothing_and_all() {
        for bad in [0.0, 1.0, -0.5, 2.0, f64::NAN, 1e-12] {
            assert_eq!(check_share(bad), Err(LifeError::BadShare), "{bad}");
        }
        assert_eq!(check_share(0.9), Ok(()));
    }
}
