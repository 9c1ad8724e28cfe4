//! Several estimates of one quantity taken together: weighted mean, what their scatter says (type A) beside what is known
//! of the instrument (type B), and which of them stands out. What is estimated lives elsewhere.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;
use super::quantile::normal_quantile;
use super::trend::{Confidence, Sides, student_above};

/// An estimate counts as standing out below this chance of any doing so by luck.
const OUTLIER_BELOW: f64 = 0.05;
/// Two-sided level of the expanded uncertainty.
const LEVEL: f64 = 0.95;
/// From so many degrees of freedom Student's t is the normal distribution to seven figures.
const MANY_FREEDOMS: f64 = 1e8;

/// Whether what an instrument is set up with stayed from one estimate to the next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StandSetUp {
    /// All with the same set-up: its error is the same in each, does not show in the scatter and does not average out.
    #[default]
    Kept,
    /// Set up anew each time (stands placed, model levelled, another scale): its error shows in the scatter.
    Anew,
}

/// One estimate with its independent parts of standard uncertainty (1u), in the unit of the value.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// Parts of its uncertainty; every estimate holds the same parts in the same order.
    pub parts: Vec<f64>,
}

/// Estimates taken together; everything in the unit of the value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Combined {
    /// Weighted mean.
    pub value: f64,
    /// Type A: standard uncertainty of the mean by the scatter; 0 for one estimate.
    pub u_scatter: f64,
    /// Type B: standard uncertainty of the mean by what is known of the instrument.
    pub u_instrument: f64,
    /// The same by its parts, in their order.
    pub u_parts: Vec<f64>,
    /// Combined standard uncertainty (1u).
    pub u: f64,
    /// Effective degrees of freedom; absent where the scatter has no say.
    pub freedom: Option<f64>,
    /// Factor from `u` to `expanded`: Student's t at 95 % on two sides.
    pub coverage_factor: f64,
    /// Half-width of the interval that holds the value at about 95 %.
    pub expanded: f64,
    /// Scatter over what the instrument lets expect, √(χ²/(n − 1)): far above 1 something moved, far below 1 the
    /// uncertainties are stated too large. Absent for one estimate or an exact instrument.
    pub scatter_ratio: Option<f64>,
    /// Estimates that stand out, named and not left out.
    pub outliers: Vec<Outlier>,
}

/// An estimate that does not fit the others.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Outlier {
    /// Which, from 1.
    pub number: usize,
    /// How far it lies from the mean, over the standard deviation of all; for equal weights Grubbs' G.
    pub distance: f64,
    /// Chance that any of so many lies so far out by luck.
    pub chance: f64,
    /// The mean without it.
    pub value_without: f64,
}

/// Why estimates cannot be taken together. Estimates are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CombineError {
    /// There are none.
    #[error("there is nothing to take together")]
    Nothing,
    /// An estimate holds a number that is not finite or a negative uncertainty.
    #[error("estimate {number} holds a number that is not finite or a negative uncertainty")]
    BadEstimate {
        /// Which, from 1.
        number: usize,
    },
    /// Some estimates are exact and others are not.
    #[error("some estimates are exact and others uncertain; give each an uncertainty, or none")]
    SomeExact,
    /// The numbers are too large for the sums to be finite.
    #[error("the numbers are too large to take together; check the units")]
    TooLarge,
}

/// Mean of estimates weighted by 1/u² (equally where all are exact), with both kinds of uncertainty.
///
/// Scatter of the mean: u²_A = Σw(x − x̄)²/((n − 1)·Σw). Instrument, part by part: Σw·u/Σw where the set-up was
/// [`StandSetUp::Kept`] (fully correlated), √(Σw²u²)/Σw where it was made [`StandSetUp::Anew`] (independent). Together √(A² + B²)
/// for a kept set-up; the larger of A and B for a new one, whose error the scatter shows already. The factor is
/// Student's t with u⁴/(u⁴_A/(n − 1)) degrees of freedom, cut to whole ones. An outlier is named by the studentized
/// distance with the Bonferroni bound, which for equal weights is Grubbs' test on two sides.
///
/// # Errors
/// No estimates, numbers that are not finite, negative uncertainties, exact estimates among uncertain ones.
///
/// # Source
/// JCGM 100:2008, 4.2, 5.1, 5.2 (correlation) and annex G.4 (Welch–Satterthwaite); the larger of both after Birge 1932;
/// Grubbs 1950. From memory.
///
/// ```
/// use preen_domain::formulas::combine::{Estimate, StandSetUp, combine};
/// let at = |value| Estimate { value, parts: vec![0.4] };
/// let mean = combine(&[at(96.2), at(96.5), at(96.8)], StandSetUp::Kept)?;
/// // Scatter 0.3/√3, instrument as for one: it does not average out.
/// assert_eq!(format!("{:.1} {:.3} {:.3} {:.3}", mean.value, mean.u_scatter, mean.u_instrument, mean.u),
///     "96.5 0.173 0.400 0.436");
/// let anew = combine(&[at(96.2), at(96.5), at(96.8)], StandSetUp::Anew)?;
/// assert_eq!(format!("{:.3} {:.3}", anew.u_instrument, anew.u), "0.231 0.231");
/// # Ok::<(), preen_domain::formulas::combine::CombineError>(())
/// ```
pub fn combine(estimates: &[Estimate], set_up: StandSetUp) -> Result<Combined, CombineError> {
    let weights = weights(estimates)?;
    let total: f64 = weights.iter().sum();
    let rows = || estimates.iter().zip(&weights);
    let value = rows().map(|(one, weight)| weight * one.value).sum::<f64>() / total;
    let squares: f64 = rows().map(|(one, weight)| weight * (one.value - value).powi(2)).sum();
    let n = count(estimates.len());
    let u_scatter = if n > 1.0 { (squares / ((n - 1.0) * total)).sqrt() } else { 0.0 };
    let u_parts: Vec<f64> = (0..estimates.first().map_or(0, |one| one.parts.len()))
        .map(|part| {
            let of = |one: &Estimate| one.parts.get(part).copied().unwrap_or(0.0);
            match set_up {
                StandSetUp::Kept => rows().map(|(one, weight)| weight * of(one)).sum::<f64>() / total,
                StandSetUp::Anew => {
                    rows().map(|(one, weight)| (weight * of(one)).powi(2)).sum::<f64>().sqrt() / total
                }
            }
        })
        .collect();
    let u_instrument = norm(&u_parts);
    let u = together(u_scatter, u_instrument, set_up);
    let freedom = freedom(u_scatter, u_instrument, n, set_up);
    let coverage_factor = coverage_factor(freedom).ok_or(CombineError::TooLarge)?;
    let expected: f64 = rows().map(|(one, weight)| weight * norm(&one.parts).powi(2)).sum::<f64>() / n;
    let scatter_ratio = (n > 1.0 && expected > 0.0).then(|| (squares / (n - 1.0) / expected).sqrt());
    let combined = Combined {
        value,
        u_scatter,
        u_instrument,
        u_parts,
        u,
        freedom,
        coverage_factor,
        expanded: coverage_factor * u,
        scatter_ratio,
        outliers: outliers(estimates, &weights, value, squares),
    };
    if all_finite(&[value, u, combined.expanded, scatter_ratio.unwrap_or(0.0)]) {
        Ok(combined)
    } else {
        Err(CombineError::TooLarge)
    }
}

/// Both kinds of uncertainty of a mean in one.
#[must_use]
pub fn together(u_scatter: f64, u_instrument: f64, set_up: StandSetUp) -> f64 {
    match set_up {
        StandSetUp::Kept => u_scatter.hypot(u_instrument),
        StandSetUp::Anew => u_scatter.max(u_instrument),
    }
}

fn weights(estimates: &[Estimate]) -> Result<Vec<f64>, CombineError> {
    let mut u = Vec::with_capacity(estimates.len());
    for (index, one) in estimates.iter().enumerate() {
        let is_sound = one.value.is_finite() && one.parts.iter().all(|part| part.is_finite() && *part >= 0.0);
        if !is_sound {
            return Err(CombineError::BadEstimate { number: index + 1 });
        }
        u.push(norm(&one.parts));
    }
    let largest = u.iter().copied().reduce(f64::max).ok_or(CombineError::Nothing)?;
    if largest == 0.0 {
        return Ok(vec![1.0; u.len()]);
    }
    if u.contains(&0.0) {
        return Err(CombineError::SomeExact);
    }
    // Over the largest, so that no weight underflows to nothing.
    Ok(u.into_iter().map(|u| (largest / u).powi(2)).collect())
}

fn freedom(u_scatter: f64, u_instrument: f64, n: f64, set_up: StandSetUp) -> Option<f64> {
    if u_scatter == 0.0 || n < 2.0 {
        return None;
    }
    match set_up {
        StandSetUp::Kept => Some((n - 1.0) * (1.0 + (u_instrument / u_scatter).powi(2)).powi(2)),
        StandSetUp::Anew => (u_scatter > u_instrument).then_some(n - 1.0),
    }
    .filter(|freedom| *freedom < MANY_FREEDOMS)
}

fn coverage_factor(freedom: Option<f64>) -> Option<f64> {
    match freedom {
        None => normal_quantile(0.5 + LEVEL / 2.0),
        Some(freedom) => {
            #[expect(clippy::as_conversions, reason = "at least 1 and below 1e8 by its making")]
            let whole = freedom.floor() as usize;
            Confidence { level: LEVEL, sides: Sides::Two }.t(whole.max(1)).ok()
        }
    }
}

fn outliers(estimates: &[Estimate], weights: &[f64], mean: f64, squares: f64) -> Vec<Outlier> {
    let n = count(estimates.len());
    if estimates.len() < 3 || squares <= 0.0 {
        return Vec::new();
    }
    let total: f64 = weights.iter().sum();
    let variance = squares / (n - 1.0);
    let judge = |(index, (one, weight)): (usize, (&Estimate, &f64))| {
        let off = one.value - mean;
        let rest = 1.0 - weight / total;
        let square = weight * off * off / (variance * rest);
        // Where the others agree exactly, nothing of the scatter is left for them and the chance is 0.
        let left = n - 1.0 - square;
        let chance = if left <= 1e-12 * n {
            0.0
        } else {
            let t = (square * (n - 2.0) / left).sqrt();
            (2.0 * n * student_above(t, n - 2.0)?).min(1.0)
        };
        let value_without = mean - weight / total * off / rest;
        let distance = (square * (n - 1.0) / n).sqrt();
        let is_sound = all_finite(&[distance, chance, value_without]);
        (is_sound && chance < OUTLIER_BELOW).then_some(Outlier {
            number: index + 1,
            distance,
            chance,
            value_without,
        })
    };
    estimates.iter().zip(weights).enumerate().filter_map(judge).collect()
}

fn norm(parts: &[f64]) -> f64 {
    parts.iter().map(|part| part * part).sum::<f64>().sqrt()
}

#[expect(clippy::as_conversions, reason = "sizes of lists are far below 2^53")]
const fn count(number: usize) -> f64 {
    number as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(value: f64, u: f64) -> Estimate {
        Estimate { value, parts: vec![u] }
    }

    #[test]
    fn one_estimate_is_itself() {
        let alone = combine(&[at(5.0, 0.3)], StandSetUp::Kept).expect("computable");
        assert_eq!((alone.value, alone.u_scatter, alone.u, alone.freedom), (5.0, 0.0, 0.3, None));
        assert!((alone.coverage_factor - 1.959_964).abs() < 1e-6);
    }

    #[test]
    fn the_surer_estimate_weighs_more() {
        let mean = combine(&[at(0.0, 1.0), at(10.0, 2.0)], StandSetUp::Anew).expect("computable");
        assert!((mean.value - 2.0).abs() < 1e-12, "weights 1 and 1/4");
        // Instrument 1/√1.25, scatter 4.
        assert!((mean.u_instrument - 0.8f64.sqrt()).abs() < 1e-12 && (mean.u_scatter - 4.0).abs() < 1e-12);
        assert_eq!((mean.u, mean.freedom), (mean.u_scatter, Some(1.0)));
        assert!((mean.scatter_ratio.expect("two") - 20f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_combined_is_refused() {
        assert_eq!(combine(&[], StandSetUp::Kept), Err(CombineError::Nothing));
        assert_eq!(combine(&[at(1.0, 0.0), at(1.0, 0.1)], StandSetUp::Kept), Err(CombineError::SomeExact));
        let bad = CombineError::BadEstimate { number: 2 };
        assert_eq!(combine(&[at(1.0, 0.1), at(f64::NAN, 0.1)], StandSetUp::Kept), Err(bad));
        assert_eq!(combine(&[at(1.0, 0.1), at(1.0, -0.1)], StandSetUp::Kept), Err(bad));
        assert_eq!(combine(&[at(1e308, 0.0), at(1e308, 0.0)], StandSetUp::Kept), Err(CombineError::TooLarge));
    }

    #[test]
    fn one_that_differs_from_equals_stands_out_for_sure() {
        let values = [1.0, 1.0, 1.0, 2.0].map(|value| at(value, 0.0));
        let mean = combine(&values, StandSetUp::Kept).expect("computable");
        let [out] = mean.outliers.as_slice() else { panic!("{:?}", mean.outliers) };
        assert_eq!((out.number, out.chance, out.value_without), (4, 0.0, 1.0));
        assert_eq!(mean.value, 1.25, "named, not left out");
    }
}
