//! Repairs of one system over its age as a power law (Crow, AMSAA): does it get better or worse, and how often does it
//! fail now? Whether there is a trend at all is tested in `repair_trend`; many systems together in `mean_cumulative`.
//!
//! Expected failures by age t: λ·t^β. Below 1, β means growing reliability, above 1 decay.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{LifeError, MAX_AGE, MAX_LIVES, Truncation, check_share, count};
use crate::formulas::all_finite;
use crate::formulas::quantile::two_sided_z;

/// A fitted power law.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PowerLaw {
    /// Failures.
    pub failures: u32,
    /// Age at the end of the watch.
    pub until: f64,
    /// Exponent by maximum likelihood.
    pub beta: f64,
    /// Scale that belongs to it: expected failures by age 1.
    pub lambda: f64,
    /// MTBF at the end by maximum likelihood.
    pub mtbf: f64,
    /// Exponent without bias; null when there are too few failures for it.
    pub beta_unbiased: Option<f64>,
    /// Scale that belongs to it.
    pub lambda_unbiased: Option<f64>,
    /// MTBF at the end by it.
    pub mtbf_unbiased: Option<f64>,
}

/// MTBF at the end of the watch with bounds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CurrentMtbf {
    /// MTBF by the exponent without bias.
    pub mtbf: f64,
    /// Lower bound.
    pub low: f64,
    /// Upper bound; null with so few failures that the approximation gives none.
    pub high: Option<f64>,
}

/// Counts between ages, and the law fitted to them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GroupedPowerLaw {
    /// Exponent by maximum likelihood.
    pub beta: f64,
    /// Scale.
    pub lambda: f64,
    /// Failures per unit of age at the end.
    pub intensity: f64,
    /// Its reciprocal.
    pub mtbf: f64,
    /// Mean failures per unit of age over the last interval.
    pub last_interval_intensity: f64,
    /// Its reciprocal.
    pub last_interval_mtbf: f64,
}

/// Why there is no power law. Entries are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PowerLawError {
    /// Too few failures.
    #[error("at least {needed} failures are needed, {given} are given")]
    TooFew {
        /// Needed.
        needed: usize,
        /// Given.
        given: usize,
    },
    /// Too many.
    #[error("more than {MAX_LIVES} entries were given; give fewer")]
    TooMany,
    /// An age is out of range or out of order.
    #[error(
        "entry {entry} is not an age above 0, at least as old as the one before and not beyond the end of the watch"
    )]
    BadAge {
        /// Entry, from 1.
        entry: usize,
    },
    /// All failures at the end.
    #[error("all failures lie at the end of the watch, so no exponent can be told")]
    NoSpread,
    /// Lists of different lengths.
    #[error("each interval needs one end and one count")]
    Unpaired,
    /// A confidence not between 0 and 1.
    #[error(transparent)]
    Share(#[from] LifeError),
    /// No finite result.
    #[error("the result is too large to be a number; check the unit of the ages")]
    TooLarge,
}

pub(super) fn check_events(ages: &[f64], until: f64, needed: usize) -> Result<(), PowerLawError> {
    if ages.len() > MAX_LIVES {
        return Err(PowerLawError::TooMany);
    }
    if ages.len() < needed {
        return Err(PowerLawError::TooFew { needed, given: ages.len() });
    }
    let mut before = 0.0;
    for (index, age) in ages.iter().enumerate() {
        if !(*age > 0.0 && *age >= before && *age <= until && until <= MAX_AGE) {
            return Err(PowerLawError::BadAge { entry: index + 1 });
        }
        before = *age;
    }
    Ok(())
}

/// Σ ln(T/tᵢ), the number on which the exponent rests.
pub(super) fn log_sum(ages: &[f64], until: f64) -> f64 {
    ages.iter().map(|age| (until / age).ln()).sum()
}

/// Fits a power law to the ages of a system's failures, in order, watched from 0 to `until`.
///
/// β = n/Σ ln(T/tᵢ), λ = n/T^β, MTBF at T = T/(nβ). Without bias: (n − 1)/Σ for a watch that ended at a set time,
/// (n − 2)/Σ for one that ended at a failure (then T must be the last age).
///
/// # Errors
/// [`PowerLawError`]: fewer than two failures, ages not in order.
///
/// # Source
/// NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.2; MIL-HDBK-189 (1981), App. C.
///
/// ```
/// use preen_domain::formulas::life::{Truncation, power_law::fit_power_law};
/// let ages = [5., 40., 43., 175., 389., 712., 747., 795., 1299., 1478.];
/// let law = fit_power_law(&ages, 1500.0, Truncation::Time)?;
/// assert_eq!(law.beta_unbiased.map(|beta| format!("{beta:.6}")).as_deref(), Some("0.483506"));
/// # Ok::<(), preen_domain::formulas::life::power_law::PowerLawError>(())
/// ```
pub fn fit_power_law(ages: &[f64], until: f64, ended: Truncation) -> Result<PowerLaw, PowerLawError> {
    check_events(ages, until, 2)?;
    if ended == Truncation::Failure && ages.last() != Some(&until) {
        return Err(PowerLawError::BadAge { entry: ages.len() });
    }
    let sum = log_sum(ages, until);
    if sum <= 0.0 {
        return Err(PowerLawError::NoSpread);
    }
    let n = count(ages.len());
    let lose = match ended {
        Truncation::Time => 1.0,
        Truncation::Failure => 2.0,
    };
    let scale = |beta: f64| (n.ln() - beta * until.ln()).exp();
    let beta = n / sum;
    let unbiased = (n > lose).then(|| (n - lose) / sum);
    let law = PowerLaw {
        failures: u32::try_from(ages.len()).unwrap_or(u32::MAX),
        until,
        beta,
        lambda: scale(beta),
        mtbf: until / (n * beta),
        beta_unbiased: unbiased,
        lambda_unbiased: unbiased.map(scale),
        mtbf_unbiased: unbiased.map(|beta| until / (n * beta)),
    };
    let numbers = [Some(law.beta), Some(law.lambda), Some(law.mtbf), law.lambda_unbiased, law.mtbf_unbiased];
    if numbers.into_iter().flatten().all(f64::is_finite) { Ok(law) } else { Err(PowerLawError::TooLarge) }
}

impl PowerLaw {
    /// MTBF at the end of the watch with two-sided bounds around the estimate without bias M:
    /// low = M·r(r−1)/(r + z²/4 + √(r·z²/2 + z⁴/16))², high = M·r(r−1)/(r − z·√(r/2))².
    ///
    /// The lower bound follows the handbook's script, with r·z²/2 under the root; texts with r·z²/4 give a higher one.
    ///
    /// # Errors
    /// A confidence not between 0 and 1; too few failures for an exponent without bias.
    ///
    /// # Source
    /// NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.2.
    pub fn current_mtbf(&self, confidence: f64) -> Result<CurrentMtbf, PowerLawError> {
        check_share(confidence)?;
        let z = two_sided_z(confidence).ok_or(LifeError::BadShare)?;
        let r = f64::from(self.failures);
        let too_few = PowerLawError::TooFew { needed: 3, given: usize::try_from(self.failures).unwrap_or(2) };
        let mtbf = self.mtbf_unbiased.ok_or(too_few)?;
        let top = mtbf * r * (r - 1.0);
        let low = top / (r + z * z / 4.0 + (r * z * z / 2.0 + z.powi(4) / 16.0).sqrt()).powi(2);
        let narrow = r - z * (r / 2.0).sqrt();
        let high = (narrow > 0.0).then(|| top / (narrow * narrow)).filter(|high| high.is_finite());
        if low.is_finite() { Ok(CurrentMtbf { mtbf, low, high }) } else { Err(PowerLawError::TooLarge) }
    }
}

/// Fits a power law to counts of failures in intervals that follow each other from 0: `ends` are their ends.
///
/// Solves Σ nᵢ[(tᵢ^β ln tᵢ − tᵢ₋₁^β ln tᵢ₋₁)/(tᵢ^β − tᵢ₋₁^β) − ln T] = 0 by halving on ln β, which falls once through
/// zero; λ = N/T^β.
///
/// # Errors
/// [`PowerLawError`]: fewer than two intervals or failures, ends not rising, all failures in one end interval.
///
/// # Source
/// MIL-HDBK-189 (1981), App. C, grouped data.
///
/// ```
/// use preen_domain::formulas::life::power_law::fit_grouped;
/// let law = fit_grouped(&[20.0, 40.0, 60.0, 80.0, 100.0], &[13, 16, 5, 8, 7])?;
/// assert_eq!(format!("{:.3} {:.2}", law.beta, law.mtbf), "0.753 2.71");
/// # Ok::<(), preen_domain::formulas::life::power_law::PowerLawError>(())
/// ```
pub fn fit_grouped(ends: &[f64], counts: &[u32]) -> Result<GroupedPowerLaw, PowerLawError> {
    if ends.len() != counts.len() {
        return Err(PowerLawError::Unpaired);
    }
    let until = ends.last().copied().unwrap_or(0.0);
    check_events(ends, until, 2)?;
    if let Some(index) = ends.windows(2).position(|pair| matches!(pair, [a, b] if a >= b)) {
        return Err(PowerLawError::BadAge { entry: index + 2 });
    }
    let failures: f64 = counts.iter().copied().map(f64::from).sum();
    if failures < 2.0 {
        return Err(PowerLawError::TooFew {
            needed: 2,
            given: counts.iter().filter(|count| **count > 0).count(),
        });
    }
    // Ages over the last one: logarithms at or below 0, the first interval beginning at 0.
    let logs: Vec<f64> = ends.iter().map(|end| (end / until).ln()).collect();
    let starts = std::iter::once(None).chain(logs.iter().copied().map(Some));
    let rows: Vec<(Option<f64>, f64, f64)> = starts
        .zip(&logs)
        .zip(counts)
        .filter(|(_, count)| **count > 0)
        .map(|((start, end), count)| (start, *end, f64::from(*count)))
        .collect();
    let score = |log_beta: f64| -> f64 {
        let beta = log_beta.exp();
        rows.iter()
            .map(|(start, end, count)| {
                let mean_log = match start {
                    None => *end,
                    // (b^β ln b − a^β ln a)/(b^β − a^β) = ln b + (ln b − ln a)/(e^(β(ln b − ln a)) − 1).
                    Some(start) => end + (end - start) / (beta * (end - start)).exp_m1(),
                };
                count * (1.0 / beta + mean_log) - count / beta
            })
            .sum()
    };
    let (mut low, mut high) = (1e-4f64.ln(), 1e4f64.ln());
    if !(score(low) > 0.0 && score(high) < 0.0) {
        return Err(PowerLawError::NoSpread);
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if score(middle) > 0.0 { low = middle } else { high = middle }
    }
    let beta = (0.5 * (low + high)).exp();
    let before = ends.iter().rev().nth(1).copied().unwrap_or(0.0);
    let last_interval_intensity = failures * -(beta * (before / until).ln()).exp_m1() / (until - before);
    let intensity = failures * beta / until;
    let law = GroupedPowerLaw {
        beta,
        lambda: (failures.ln() - beta * until.ln()).exp(),
        intensity,
        mtbf: 1.0 / intensity,
        last_interval_intensity,
        last_interval_mtbf: 1.0 / last_interval_intensity,
    };
    let numbers = [law.lambda, law.intensity, law.mtbf, law.last_interval_intensity, law.last_interval_mtbf];
    if all_finite(&numbers) { Ok(law) } else { Err(PowerLawError::TooLarge) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_law_is_refused_by_name() {
        let check = |ages: &[f64], until, ended, expected| {
            assert_eq!(fit_power_law(ages, until, ended), Err(expected));
        };
        check(&[5.0], 9.0, Truncation::Time, PowerLawError::TooFew { needed: 2, given: 1 });
        check(&[5.0, 4.0], 9.0, Truncation::Time, PowerLawError::BadAge { entry: 2 });
        check(&[5.0, 10.0], 9.0, Truncation::Time, PowerLawError::BadAge { entry: 2 });
        check(&[5.0, 8.0], 9.0, Truncation::Failure, PowerLawError::BadAge { entry: 2 });
        check(&[9.0, 9.0], 9.0, Truncation::Time, PowerLawError::NoSpread);
        check(&[5.0, f64::NAN], 9.0, Truncation::Time, PowerLawError::BadAge { entry: 2 });
        assert_eq!(fit_grouped(&[5.0, 9.0], &[1]), Err(PowerLawError::Unpaired));
        assert_eq!(fit_grouped(&[5.0, 5.0], &[1, 1]), Err(PowerLawError::BadAge { entry: 2 }));
        assert_eq!(fit_grouped(&[5.0, 9.0], &[0, 7]), Err(PowerLawError::NoSpread));
        assert_eq!(fit_grouped(&[5.0, 9.0], &[0, 1]), Err(PowerLawError::TooFew { needed: 2, given: 1 }));
    }

    #[test]
    fn a_watch_ended_by_a_failure_loses_two() {
        let law = fit_power_law(&[2.0, 5.0, 9.0], 9.0, Truncation::Failure).expect("a law");
        assert_eq!(law.beta_unbiased.map(|beta| (law.beta / beta).round()), Some(3.0));
        let two = fit_power_law(&[2.0, 9.0], 9.0, Truncation::Failure).expect("a law");
        assert_eq!(
            (two.beta_unbiased, two.current_mtbf(0.9)),
            (None, Err(PowerLawError::TooFew { needed: 3, given: 2 }))
        );
    }
}
