//! Whether a system's failures come closer together or farther apart: three tests of a trend. The law that a trend
//! follows is fitted in `power_law`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::power_law::{PowerLawError, check_events, log_sum};
use super::{Truncation, count};
use crate::formulas::quantile::{chi_square_above, normal_below};

/// Up to so many failures the reverse-arrangement test counts exactly.
const EXACT_UP_TO: usize = 60;
/// Arrangements are counted pair by pair, so the list is capped lower than others.
const MAX_ARRANGED: usize = 3_000;

/// Laplace's test: where the failures lie on average, against the middle of the watch.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LaplaceTest {
    /// Standard score: negative when failures became rarer.
    pub z: f64,
    /// Chance of so low a score or a lower one without a trend: small speaks for growing reliability.
    pub p_improving: f64,
    /// Chance of so high a score or a higher one: small speaks for decay.
    pub p_worsening: f64,
}

/// The military handbook's test, strongest against a power law.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HandbookTest {
    /// 2·Σ ln(T/tᵢ): large when failures became rarer.
    pub chi_square: f64,
    /// Its degrees of freedom.
    pub freedom: u32,
    /// Chance of so large a value or a larger one without a trend.
    pub p_improving: f64,
    /// Chance of so small a value or a smaller one.
    pub p_worsening: f64,
}

/// The reverse-arrangement test: pairs of times between failures of which the later is the longer.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReverseArrangement {
    /// Pairs counted.
    pub reversals: u32,
    /// To be expected without a trend.
    pub expected: f64,
    /// The most there can be.
    pub maximum: u32,
    /// Chance of so many or more without a trend: small speaks for growing reliability.
    pub p_improving: f64,
    /// Chance of so few or fewer: small speaks for decay.
    pub p_worsening: f64,
    /// Whether the chances were counted exactly or taken from the normal approximation.
    pub is_exact: bool,
}

/// Laplace's test: z = √(12r)·Σ(tᵢ − T/2)/(rT) for a watch ended at a set time. Ended at a failure, the last age is
/// left out of the sum and of r.
///
/// # Errors
/// Too few failures or ages out of order.
///
/// # Source
/// NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.3.4.
///
/// ```
/// use preen_domain::formulas::life::{Truncation, repair_trend::laplace_test};
/// let ages = [5., 40., 43., 175., 389., 712., 747., 795., 1299., 1478.];
/// assert_eq!(format!("{:.4}", laplace_test(&ages, 1500.0, Truncation::Time)?.z), "-1.3269");
/// # Ok::<(), preen_domain::formulas::life::power_law::PowerLawError>(())
/// ```
pub fn laplace_test(ages: &[f64], until: f64, ended: Truncation) -> Result<LaplaceTest, PowerLawError> {
    let free = free_ages(ages, until, ended)?;
    let r = count(free.len());
    let z = (12.0 * r).sqrt() * free.iter().map(|age| age / until - 0.5).sum::<f64>() / r;
    Ok(LaplaceTest { z, p_improving: normal_below(z), p_worsening: normal_below(-z) })
}

/// The handbook's test: χ² = 2·Σ ln(T/tᵢ) with 2r degrees of freedom; ended at a failure with 2(r − 1).
///
/// # Errors
/// Too few failures or ages out of order.
///
/// # Source
/// MIL-HDBK-189 (1981); NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.3.4.
///
/// ```
/// use preen_domain::formulas::life::{Truncation, repair_trend::handbook_test};
/// // Two failures at T/e each give 2(1 + 1) = 4 on 4 degrees of freedom.
/// let age = 100.0 / std::f64::consts::E;
/// let test = handbook_test(&[age, age], 100.0, Truncation::Time)?;
/// assert!((test.chi_square - 4.0).abs() < 1e-12 && test.freedom == 4);
/// # Ok::<(), preen_domain::formulas::life::power_law::PowerLawError>(())
/// ```
pub fn handbook_test(ages: &[f64], until: f64, ended: Truncation) -> Result<HandbookTest, PowerLawError> {
    let free = free_ages(ages, until, ended)?;
    let chi_square = 2.0 * log_sum(free, until);
    let freedom = u32::try_from(2 * free.len()).unwrap_or(u32::MAX);
    let p_improving = chi_square_above(chi_square, f64::from(freedom)).ok_or(PowerLawError::TooLarge)?;
    Ok(HandbookTest { chi_square, freedom, p_improving, p_worsening: (1.0 - p_improving).max(0.0) })
}

/// The reverse-arrangement test over the times between failures (the first from 0): pairs in which the later is
/// strictly longer. Without a trend, r(r − 1)/4 are expected.
///
/// Up to 60 failures the chances are counted over all orders; beyond, the normal approximation with variance
/// (2r + 5)(r − 1)r/72 and a correction of one half. Equal times count as not reversed, which leans towards decay.
///
/// # Errors
/// Fewer than two or more than 3,000 failures, ages out of order.
///
/// # Source
/// NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.3.4.
///
/// ```
/// use preen_domain::formulas::life::repair_trend::reverse_arrangement;
/// // Times between: 1, 2, 4: all three pairs reversed, one order in six.
/// let test = reverse_arrangement(&[1.0, 3.0, 7.0])?;
/// assert_eq!((test.reversals, test.expected, test.maximum), (3, 1.5, 3));
/// assert!((test.p_improving - 1.0 / 6.0).abs() < 1e-12);
/// # Ok::<(), preen_domain::formulas::life::power_law::PowerLawError>(())
/// ```
pub fn reverse_arrangement(ages: &[f64]) -> Result<ReverseArrangement, PowerLawError> {
    check_events(ages, ages.last().copied().unwrap_or(0.0), 2)?;
    if ages.len() > MAX_ARRANGED {
        return Err(PowerLawError::TooMany);
    }
    let before = std::iter::once(&0.0).chain(ages);
    let between: Vec<f64> = ages.iter().zip(before).map(|(age, before)| age - before).collect();
    let reversals: usize = between
        .iter()
        .enumerate()
        .map(|(index, one)| between.iter().skip(index + 1).filter(|later| *later > one).count())
        .sum();
    let number = ages.len();
    let maximum = number * (number - 1) / 2;
    let expected = count(maximum) / 2.0;
    let is_exact = number <= EXACT_UP_TO;
    let (p_improving, p_worsening) = if is_exact {
        let chances = arrangement_chances(number);
        (chances.iter().skip(reversals).sum::<f64>(), chances.iter().take(reversals + 1).sum::<f64>())
    } else {
        let r = count(number);
        let spread = ((2.0 * r + 5.0) * (r - 1.0) * r / 72.0).sqrt();
        let score = |shift: f64| (count(reversals) - expected + shift) / spread;
        (normal_below(-score(-0.5)), normal_below(score(0.5)))
    };
    let whole = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    Ok(ReverseArrangement {
        reversals: whole(reversals),
        expected,
        maximum: whole(maximum),
        p_improving: p_improving.min(1.0),
        p_worsening: p_worsening.min(1.0),
        is_exact,
    })
}

/// Chance of each number of reversed pairs among all orders of `number` things: the k-th thing put in adds 0 to k − 1
/// pairs, each as likely.
fn arrangement_chances(number: usize) -> Vec<f64> {
    let mut chances = vec![1.0];
    for size in 2..=number {
        let mut next = vec![0.0; chances.len() + size - 1];
        for (pairs, chance) in chances.iter().enumerate() {
            for slot in next.iter_mut().skip(pairs).take(size) {
                *slot += chance / count(size);
            }
        }
        chances = next;
    }
    chances
}

/// The ages that are free to vary: all of them, or all but the one that ended the watch.
fn free_ages(ages: &[f64], until: f64, ended: Truncation) -> Result<&[f64], PowerLawError> {
    match ended {
        Truncation::Time => {
            check_events(ages, until, 1)?;
            Ok(ages)
        }
        Truncation::Failure => {
            check_events(ages, until, 2)?;
            match ages.split_last() {
                Some((last, others)) if *last == until => Ok(others),
                _ => Err(PowerLawError::BadAge { entry: ages.len() }),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_two_ways_of_counting_meet() {
        let ages: Vec<f64> = (1..=60)
            .map(|n| f64::from(n * (37 * n % 61 + 60)))
            .scan(0.0, |sum, step| {
                *sum += step;
                Some(*sum)
            })
            .collect();
        let exact = reverse_arrangement(&ages).expect("counted");
        let r = 60.0f64;
        let spread = ((2.0 * r + 5.0) * (r - 1.0) * r / 72.0).sqrt();
        let near = normal_below((f64::from(exact.reversals) - exact.expected + 0.5) / spread);
        assert!(exact.is_exact && (near - exact.p_worsening).abs() < 0.005, "{exact:?} {near}");
        assert!(
            !reverse_arrangement(&(1..=61).map(f64::from).collect::<Vec<_>>()).expect("counted").is_exact
        );
    }

    #[test]
    fn all_orders_together_are_certain() {
        for number in [2, 5, 60] {
            assert!((arrangement_chances(number).iter().sum::<f64>() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_watch_ended_by_a_failure_leaves_that_one_out() {
        let ages = [2.0, 5.0, 9.0];
        let ended = laplace_test(&ages, 9.0, Truncation::Failure).expect("a test");
        let first_two = laplace_test(&[2.0, 5.0], 9.0, Truncation::Time).expect("a test");
        assert_eq!(ended, first_two);
        assert_eq!(handbook_test(&ages, 9.0, Truncation::Failure).map(|test| test.freedom), Ok(4));
        assert_eq!(laplace_test(&ages, 9.5, Truncation::Failure), Err(PowerLawError::BadAge { entry: 3 }));
        assert_eq!(reverse_arrangement(&[1.0]), Err(PowerLawError::TooFew { needed: 2, given: 1 }));
    }
}
