//! How many spares are enough: failures on a journey as a Poisson count of the exposure carried. What is on the shelf
//! and what belongs together is the fleet's to say.

use serde::{Deserialize, Serialize};
use statrs::function::gamma::ln_gamma;
use utoipa::ToSchema;

/// Mean counts beyond this are refused.
pub const MAX_MEAN: f64 = 1e6;
/// At most so many rows are listed.
const MAX_ROWS: u32 = 200;

/// How likely a number of spares is enough.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Cover {
    /// Spares taken along.
    pub spares: u32,
    /// Chance that no more than these are needed.
    pub probability: f64,
}

/// The smallest number of spares that reaches a target.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SparesNeed {
    /// Failures to be expected.
    pub mean: f64,
    /// The target asked for.
    pub target: f64,
    /// Smallest number of spares whose chance of being enough reaches the target.
    pub needed: u32,
    /// The chance from 0 spares up to that number, at most the last 200 of them.
    pub cover: Vec<Cover>,
}

/// Why no number of spares is said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SparesError {
    /// The mean is not a number in range.
    #[error("the failures to be expected must be a number from 0 to {MAX_MEAN:e}; check exposure and MTBF")]
    BadMean,
    /// The target is not a chance.
    #[error("the target must lie above 0 and at most 0.999999, such as 0.95")]
    BadTarget,
}

/// Chance that a Poisson count with this mean is at most `spares`: e^−m Σ mⁱ/i!, summed outward from the last term,
/// or from the first one beyond it, whichever is the smaller tail, so that no term over- or underflows.
///
/// # Errors
/// A mean that is not a number from 0 to a million.
///
/// # Source
/// Poisson distribution; the tail as a series from its largest term.
///
/// ```
/// use preen_domain::formulas::life::spares::poisson_at_most;
/// // No failure expected in 0.048: e^-0.048.
/// assert_eq!(format!("{:.3}", poisson_at_most(0, 0.048)?), "0.953");
/// # Ok::<(), preen_domain::formulas::life::spares::SparesError>(())
/// ```
pub fn poisson_at_most(spares: u32, mean: f64) -> Result<f64, SparesError> {
    if !(0.0..=MAX_MEAN).contains(&mean) {
        return Err(SparesError::BadMean);
    }
    if mean == 0.0 {
        return Ok(1.0);
    }
    let last = f64::from(spares);
    let term = |k: f64| (k * mean.ln() - mean - ln_gamma(k + 1.0)).exp();
    if last < mean {
        let (mut sum, mut ratio, mut k) = (1.0, 1.0, last);
        while k > 0.0 && ratio > 1e-18 {
            ratio *= k / mean;
            sum += ratio;
            k -= 1.0;
        }
        return Ok((term(last) * sum).clamp(0.0, 1.0));
    }
    let (mut sum, mut ratio, mut k) = (1.0, 1.0, last + 2.0);
    while ratio > 1e-18 {
        ratio *= mean / k;
        sum += ratio;
        k += 1.0;
    }
    Ok((1.0 - term(last + 1.0) * sum).clamp(0.0, 1.0))
}

/// The smallest number of spares whose chance of being enough reaches a target.
///
/// `mean` is exposure over MTBF summed over all parts of the kind, for example 100 servo-flights over 209.5 flights.
///
/// # Errors
/// [`SparesError`].
///
/// ```
/// use preen_domain::formulas::life::spares::spares_needed;
/// let servos = spares_needed(100.0 / 209.5, 0.95)?;
/// assert_eq!(servos.needed, 2);
/// let shown: Vec<String> = servos.cover.iter().map(|row| format!("{:.3}", row.probability)).collect();
/// assert_eq!(shown, ["0.620", "0.917", "0.987"]);
/// # Ok::<(), preen_domain::formulas::life::spares::SparesError>(())
/// ```
pub fn spares_needed(mean: f64, target: f64) -> Result<SparesNeed, SparesError> {
    if !(target > 0.0 && target <= 0.999_999) {
        return Err(SparesError::BadTarget);
    }
    let reaches = |spares: u32| poisson_at_most(spares, mean).map(|chance| chance >= target);
    let (mut below, mut enough) = (None, 1);
    if reaches(0)? {
        enough = 0;
    } else {
        below = Some(0);
        while !reaches(enough)? {
            below = Some(enough);
            enough *= 2;
        }
    }
    while let Some(low) = below.filter(|low| enough - low > 1) {
        let middle = low + (enough - low) / 2;
        if reaches(middle)? {
            enough = middle;
        } else {
            below = Some(middle);
        }
    }
    let cover = (enough.saturating_sub(MAX_ROWS - 1)..=enough)
        .map(|spares| poisson_at_most(spares, mean).map(|probability| Cover { spares, probability }))
        .collect::<Result<_, _>>()?;
    Ok(SparesNeed { mean, target, needed: enough, cover })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_number_is_the_smallest_that_reaches() {
        for mean in [0.0, 1e-9, 0.4, 3.7, 80.0, 745.0, 1e4, 1e6] {
            for target in [0.01, 0.5, 0.95, 0.999_999] {
                let need = spares_needed(mean, target).expect("a number");
                assert!(poisson_at_most(need.needed, mean).expect("a chance") >= target, "{mean} {target}");
                if let Some(fewer) = need.needed.checked_sub(1) {
                    assert!(poisson_at_most(fewer, mean).expect("a chance") < target, "{mean} {target}");
                }
                assert!(
                    need.cover.len() <= 200 && need.cover.last().is_some_and(|row| row.spares == need.needed)
                );
            }
        }
    }

    #[test]
    fn what_is_no_mean_or_target_is_refused() {
        for mean in [-1.0, f64::NAN, f64::INFINITY, 2e6] {
            assert_eq!(spares_needed(mean, 0.95), Err(SparesError::BadMean), "{mean}");
        }
        for target in [0.0, 1.0, f64::NAN] {
            assert_eq!(spares_needed(1.0, target), Err(SparesError::BadTarget), "{target}");
        }
    }
}
