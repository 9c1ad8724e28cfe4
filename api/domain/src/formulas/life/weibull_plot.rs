//! The Weibull law as a straight line by ranks, for the drawing and as a check of the fit by maximum likelihood.
//! It takes no account of parts that were taken off before others failed.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{LifeError, MAX_AGE, MAX_LIVES, count};

/// One failure on the plot.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlottedFailure {
    /// Age.
    pub at: f64,
    /// Median rank: the share failed by then, (i − 0.3)/(n + 0.4).
    pub share_failed: f64,
    /// −ln(1 − share), the cumulative hazard.
    pub hazard: f64,
}

/// The line log₁₀(hazard) = intercept + slope·log₁₀(age).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeibullPlot {
    /// The failures, youngest first.
    pub points: Vec<PlottedFailure>,
    /// Intercept at log₁₀(age) = 0.
    pub intercept: f64,
    /// Slope: an estimate of the shape.
    pub slope: f64,
}

/// Fits the line by least squares to the ages of failure among `units` parts, all others outliving the last failure.
///
/// # Errors
/// Fewer than two different ages; more failures than units; an age not above 0.
///
/// # Source
/// NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.2.1; median ranks after Benard.
///
/// ```
/// use preen_domain::formulas::life::weibull_plot::plot_weibull;
/// let plot = plot_weibull(&[54., 187., 216., 240., 244., 335., 361., 373., 375., 386.], 20)?;
/// assert_eq!(format!("{:.4} {:.4}", plot.intercept, plot.slope), "-4.1165 1.4575");
/// # Ok::<(), preen_domain::formulas::life::LifeError>(())
/// ```
pub fn plot_weibull(failures: &[f64], units: usize) -> Result<WeibullPlot, LifeError> {
    if failures.is_empty() {
        return Err(LifeError::Empty);
    }
    if failures.len() > units || units > MAX_LIVES {
        return Err(LifeError::TooMany);
    }
    if let Some(index) = failures.iter().position(|at| !(*at > 0.0 && *at <= MAX_AGE)) {
        return Err(LifeError::BadAge { life: index + 1 });
    }
    let mut ages = failures.to_vec();
    ages.sort_by(f64::total_cmp);
    let points: Vec<PlottedFailure> = ages
        .iter()
        .enumerate()
        .map(|(index, at)| {
            let share_failed = (count(index) + 0.7) / (count(units) + 0.4);
            PlottedFailure { at: *at, share_failed, hazard: -(-share_failed).ln_1p() }
        })
        .collect();
    let number = count(points.len());
    let mean = |of: fn(&PlottedFailure) -> f64| points.iter().map(of).sum::<f64>() / number;
    let (x, y) = (mean(|point| point.at.log10()), mean(|point| point.hazard.log10()));
    let (mut across, mut along) = (0.0, 0.0);
    for point in &points {
        let from_x = point.at.log10() - x;
        across += from_x * (point.hazard.log10() - y);
        along += from_x * from_x;
    }
    // Ages that agree to the last figures give no line.
    if along <= 1e-20 {
        return Err(LifeError::EndNotAfterEntry { life: 1 });
    }
    let slope = across / along;
    Ok(WeibullPlot { points, intercept: y - slope * x, slope })
}
