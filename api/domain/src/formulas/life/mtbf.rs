//! Failures at a constant rate: mean time between failures with exact bounds, also when nothing failed, and two
//! groups compared by their counts. Ageing is not seen here: see `weibull` and `kaplan_meier`.

use serde::{Deserialize, Serialize};
use statrs::function::gamma::ln_gamma;
use utoipa::ToSchema;

use super::{LifeError, Truncation, check_share};
use crate::formulas::quantile::chi_square_quantile;

/// More failures than this are refused.
pub const MAX_FAILURES: u32 = 1_000_000;

/// Mean time between failures, in the unit of the exposure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Mtbf {
    /// Summed exposure of all parts.
    pub exposure: f64,
    /// Failures in it.
    pub failures: u32,
    /// Exposure over failures; null when nothing failed.
    pub mtbf: Option<f64>,
    /// Lower bound.
    pub low: f64,
    /// Upper bound; null when nothing failed, for nothing then speaks against any longer life.
    pub high: Option<f64>,
    /// Confidence of each bound by itself; both together hold with 2·this − 1.
    pub one_sided_confidence: f64,
}

/// Two groups compared by their counts of failures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RateComparison {
    /// Chance of so many failures in the first group or more, were the rates the same.
    pub p_first_worse: f64,
    /// Chance of so few failures in the first group or fewer, were the rates the same.
    pub p_first_better: f64,
    /// Twice the smaller of both, at most 1.
    pub p_two_sided: f64,
}

/// Why there is no MTBF.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MtbfError {
    /// The exposure is not a positive number.
    #[error("the exposure must be a number from 1e-9 to 1e12; without use nothing can be said")]
    BadExposure,
    /// The confidence is not between 0 and 1.
    #[error(transparent)]
    Share(#[from] LifeError),
    /// Too many failures for the bounds.
    #[error("more than {MAX_FAILURES} failures were given; check the count")]
    TooManyFailures,
    /// Watching until the last failure needs one.
    #[error("a watch that ends at a failure needs at least one failure")]
    NoFailure,
    /// Neither group had a failure.
    #[error("nothing failed in either group, so their rates cannot be told apart")]
    NothingToCompare,
}

/// MTBF T/r with bounds 2T/χ²((1+c)/2; 2r+2) and 2T/χ²((1−c)/2; 2r) at a two-sided confidence c.
///
/// When the watch ends at a failure, 2r stands in both. When nothing failed there is a lower bound alone,
/// T/−ln((1−c)/2), never an estimate. Exposure in flights, hours or cycles; bounds in the same.
///
/// # Errors
/// [`MtbfError`].
///
/// # Source
/// NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1.
///
/// ```
/// use preen_domain::formulas::life::{Truncation, mtbf::mtbf};
/// let two = mtbf(800.0, 2, 0.9, Truncation::Time)?;
/// assert_eq!((two.mtbf, format!("{:.3}", two.low)), (Some(400.0), "127.069".to_owned()));
/// let none = mtbf(214.0, 0, 0.9, Truncation::Time)?;
/// assert_eq!((none.mtbf, none.low.round(), none.high), (None, 71.0, None));
/// # Ok::<(), preen_domain::formulas::life::mtbf::MtbfError>(())
/// ```
pub fn mtbf(exposure: f64, failures: u32, confidence: f64, ended: Truncation) -> Result<Mtbf, MtbfError> {
    check_exposure(exposure)?;
    check_share(confidence)?;
    if failures > MAX_FAILURES {
        return Err(MtbfError::TooManyFailures);
    }
    if failures == 0 && ended == Truncation::Failure {
        return Err(MtbfError::NoFailure);
    }
    let count = f64::from(failures);
    let one_sided_confidence = 0.5 * (1.0 + confidence);
    let freedom = match ended {
        Truncation::Time => 2.0 * count + 2.0,
        Truncation::Failure => 2.0 * count,
    };
    let bound = |share, freedom| -> Result<f64, MtbfError> {
        let quantile = chi_square_quantile(share, freedom).ok_or(LifeError::BadShare)?;
        Some(2.0 * exposure / quantile).filter(|bound| bound.is_finite()).ok_or(MtbfError::BadExposure)
    };
    let (mtbf, high) = if failures == 0 {
        (None, None)
    } else {
        (Some(exposure / count), Some(bound(1.0 - one_sided_confidence, 2.0 * count)?))
    };
    Ok(Mtbf {
        exposure,
        failures,
        mtbf,
        low: bound(one_sided_confidence, freedom)?,
        high,
        one_sided_confidence,
    })
}

/// Compares two groups by counts: given all failures, those of the first are binomial with its share of the exposure.
///
/// Exact, whatever the counts. One-sided figures answer "is the first worse", the two-sided one "are they different".
///
/// # Errors
/// An exposure that is not positive; no failure at all.
///
/// # Source
/// Conditional test of two Poisson rates, Przyborowski & Wilenski (1940), from memory.
///
/// ```
/// use preen_domain::formulas::life::mtbf::compare_rates;
/// // One failure in all, equal exposures: either group is as likely to have it.
/// let even = compare_rates((100.0, 1), (100.0, 0))?;
/// assert_eq!(format!("{:.3} {:.3}", even.p_first_worse, even.p_two_sided), "0.500 1.000");
/// # Ok::<(), preen_domain::formulas::life::mtbf::MtbfError>(())
/// ```
pub fn compare_rates(first: (f64, u32), second: (f64, u32)) -> Result<RateComparison, MtbfError> {
    check_exposure(first.0)?;
    check_exposure(second.0)?;
    if first.1 > MAX_FAILURES || second.1 > MAX_FAILURES {
        return Err(MtbfError::TooManyFailures);
    }
    if first.1 == 0 && second.1 == 0 {
        return Err(MtbfError::NothingToCompare);
    }
    let share = first.0 / (first.0 + second.0);
    let (of_first, of_second) = (f64::from(first.1), f64::from(second.1));
    let other = second.0 / (first.0 + second.0);
    let p_first_worse = binomial_at_least(of_first, of_first + of_second, share, other);
    let p_first_better = binomial_at_least(of_second, of_first + of_second, other, share);
    Ok(RateComparison {
        p_first_worse,
        p_first_better,
        p_two_sided: (2.0 * p_first_worse.min(p_first_better)).min(1.0),
    })
}

/// Chance that a binomial count among `all` is `least` or more, each with chance `share` (and `other` against). The smaller tail is summed outward from its largest
/// term, so that no term over- or underflows.
fn binomial_at_least(least: f64, all: f64, share: f64, other: f64) -> f64 {
    if least <= 0.0 {
        return 1.0;
    }
    let term = |k: f64| {
        let ways = ln_gamma(all + 1.0) - ln_gamma(k + 1.0) - ln_gamma(all - k + 1.0);
        (ways + k * share.ln() + (all - k) * other.ln()).exp()
    };
    let odds = share / other;
    let (mut sum, mut ratio) = (1.0, 1.0);
    if least > all * share {
        let mut k = least;
        while k < all && ratio > 1e-18 {
            ratio *= odds * (all - k) / (k + 1.0);
            sum += ratio;
            k += 1.0;
        }
        return (term(least) * sum).clamp(0.0, 1.0);
    }
    let mut k = least - 1.0;
    let below = term(k);
    while k > 0.0 && ratio > 1e-18 {
        ratio *= k / (odds * (all - k + 1.0));
        sum += ratio;
        k -= 1.0;
    }
    (1.0 - below * sum).clamp(0.0, 1.0)
}

fn check_exposure(exposure: f64) -> Result<(), MtbfError> {
    if (1e-9..=super::MAX_AGE).contains(&exposure) { Ok(()) } else { Err(MtbfError::BadExposure) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_mtbf_is_refused_by_name() {
        let check = |exposure, failures, confidence, ended, expected| {
            assert_eq!(mtbf(exposure, failures, confidence, ended), Err(expected));
        };
        check(0.0, 1, 0.9, Truncation::Time, MtbfError::BadExposure);
        check(f64::NAN, 1, 0.9, Truncation::Time, MtbfError::BadExposure);
        check(9.0, 1, 1.5, Truncation::Time, MtbfError::Share(LifeError::BadShare));
        check(9.0, 0, 0.9, Truncation::Failure, MtbfError::NoFailure);
        check(9.0, u32::MAX, 0.9, Truncation::Time, MtbfError::TooManyFailures);
        assert_eq!(compare_rates((9.0, 0), (9.0, 0)), Err(MtbfError::NothingToCompare));
        assert_eq!(compare_rates((0.0, 1), (9.0, 0)), Err(MtbfError::BadExposure));
    }

    #[test]
    fn a_watch_ended_by_a_failure_is_bounded_higher() {
        let (time, failure) =
            (mtbf(800.0, 2, 0.9, Truncation::Time), mtbf(800.0, 2, 0.9, Truncation::Failure));
        let (time, failure) = (time.expect("bounds"), failure.expect("bounds"));
        assert!(failure.low > time.low);
        assert_eq!(failure.high, time.high);
    }

    #[test]
    fn the_largest_counts_are_computed() {
        let many = mtbf(1e12, MAX_FAILURES, 0.9, Truncation::Time).expect("bounds");
        assert!(many.low < 1e6 && many.high.is_some_and(|high| high > 1e6));
        let equal = compare_rates((1e12, MAX_FAILURES), (1e12, MAX_FAILURES)).expect("comparable");
        // Binomial with a million expected: 0.50028 by an independent library.
        assert!((equal.p_first_worse - 0.500_282).abs() < 1e-6, "{equal:?}");
        let apart = compare_rates((1e-9, 1), (1e12, 1)).expect("comparable");
        assert!(apart.p_first_worse < 1e-20 && apart.p_first_better == 1.0, "{apart:?}");
    }
}
