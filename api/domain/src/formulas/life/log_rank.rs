//! Whether two groups live equally long: the log-rank test. How long each lives is said by `kaplan_meier`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::kaplan_meier::{CountedAt, RiskSet};
use super::{Life, LifeError, check_lives, count};
use crate::formulas::quantile::chi_square_above;

/// The log-rank test of two groups.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LogRank {
    /// Failures seen in the first and the second group.
    pub observed: [u32; 2],
    /// Failures to be expected in each if both lived equally long.
    pub expected: [f64; 2],
    /// Test statistic; one degree of freedom.
    pub chi_square: f64,
    /// Chance of a difference at least as large between groups that live equally long (two-sided).
    pub p: f64,
}

/// Why the groups cannot be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LogRankError {
    /// The first group's lives cannot be used.
    #[error("first group: {0}")]
    First(LifeError),
    /// The second group's lives cannot be used.
    #[error("second group: {0}")]
    Second(LifeError),
    /// At no age of failure were both groups at risk.
    #[error("at no age of failure were parts of both groups at risk, so they cannot be compared")]
    NothingShared,
}

/// Log-rank (Mantel–Haenszel) test: over all ages of failure Σ(d₁ − d·n₁/n)² over Σ d·(n₁/n)(n₂/n)(n − d)/(n − 1).
///
/// Late entry counts through the numbers at risk; failures found at inspections are taken where they were found.
///
/// # Errors
/// What [`LifeError`] says of either group; groups that were never at risk together.
///
/// # Source
/// Mantel (1966), Peto & Peto (1972), from memory; checked against published results on the Freireich data.
///
/// ```
/// use preen_domain::formulas::life::{Life, log_rank::log_rank};
/// // One failure in each of two single parts: expected 1/2 + 0 and 1/2 + 1, so (1 - 1/2)² / (1/4) = 1.
/// let test = log_rank(&[Life::failed(1.0)], &[Life::failed(2.0)])?;
/// assert_eq!((test.expected, test.chi_square), ([0.5, 1.5], 1.0));
/// # Ok::<(), preen_domain::formulas::life::log_rank::LogRankError>(())
/// ```
pub fn log_rank(first: &[Life], second: &[Life]) -> Result<LogRank, LogRankError> {
    check_lives(first).map_err(LogRankError::First)?;
    check_lives(second).map_err(LogRankError::Second)?;
    let sets = [first, second].map(|lives| RiskSet::new(lives, CountedAt::Found));
    let [one, two] = &sets;
    let mut ages: Vec<f64> = one.failures().chain(two.failures()).map(|(age, _)| age).collect();
    ages.sort_by(f64::total_cmp);
    ages.dedup();
    let mut expected = [0.0, 0.0];
    let (mut excess, mut variance) = (0.0, 0.0);
    for age in ages {
        let (n1, n2) = (count(one.at(age)), count(two.at(age)));
        let failed = count(one.failed_at(age) + two.failed_at(age));
        let n = n1 + n2;
        let [of_first, of_second] = &mut expected;
        *of_first += failed * n1 / n;
        *of_second += failed * n2 / n;
        excess += count(one.failed_at(age)) - failed * n1 / n;
        if n > 1.0 {
            variance += failed * (n1 / n) * (n2 / n) * (n - failed) / (n - 1.0);
        }
    }
    if variance <= 0.0 {
        return Err(LogRankError::NothingShared);
    }
    let chi_square = excess * excess / variance;
    let p = chi_square_above(chi_square, 1.0).ok_or(LogRankError::NothingShared)?;
    let failures = |lives: &[Life]| {
        u32::try_from(lives.iter().filter(|life| life.is_failure()).count()).unwrap_or(u32::MAX)
    };
    Ok(LogRank { observed: [failures(first), failures(second)], expected, chi_square, p })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_never_at_risk_together_are_not_compared() {
        let old = Life::failed(9.0).entered_at(8.0);
        assert_eq!(log_rank(&[Life::failed(2.0)], &[old]), Err(LogRankError::NothingShared));
        assert_eq!(log_rank(&[], &[old]), Err(LogRankError::First(LifeError::Empty)));
        assert_eq!(
            log_rank(&[old], &[Life::failed(0.0)]),
            Err(LogRankError::Second(LifeError::EndNotAfterEntry { life: 1 }))
        );
        assert_eq!(log_rank(&[Life::running(2.0)], &[Life::running(3.0)]), Err(LogRankError::NothingShared));
    }
}
