//! The least-squares line, with intercept or through the origin: slope, standard errors, R², residual scatter and
//! bands. Where it meets a limit lives in `crossing`; curves live in `least_squares`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Confidence, FitError, Point, check_points, count};
use crate::formulas::all_finite;

/// A fitted line y = intercept + slope · x.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Line {
    /// Growth of y per x.
    pub slope: f64,
    /// Standard error of the slope.
    pub slope_se: f64,
    /// y at x = 0; 0 through the origin.
    pub intercept: f64,
    /// Standard error of the intercept; absent through the origin.
    pub intercept_se: Option<f64>,
    /// Standard deviation of the residuals, unit of y: √(RSS / freedom).
    pub residual_sd: f64,
    /// Sum of the squared residuals.
    pub residual_sum: f64,
    /// Share of the spread of y that the line explains: about the mean, through the origin about zero. Absent when y
    /// has no spread.
    pub r_squared: Option<f64>,
    /// Points fitted.
    pub points: usize,
    /// Points less fitted numbers.
    pub freedom: usize,
    /// Mean x; 0 through the origin. Here the band is narrowest.
    pub centre_x: f64,
    /// Value of the line at `centre_x`.
    pub centre_y: f64,
    /// Σ(x − centre)².
    pub spread_x: f64,
    /// Whether the line was held to the origin.
    pub is_through_origin: bool,
}

/// What a band is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Band {
    /// The line itself: where the mean of many readings lies.
    Mean,
    /// The next single reading: the scatter of one reading comes on top.
    Reading,
}

/// Fits a line with intercept by least squares, on centred data.
///
/// slope = Σ(x−x̄)(y−ȳ)/Sxx, intercept = ȳ − slope·x̄, s² = RSS/(n−2), u(slope) = s/√Sxx,
/// u(intercept) = s·√(1/n + x̄²/Sxx), R² = 1 − RSS/Σ(y−ȳ)².
///
/// # Errors
/// Fewer than three points, numbers that are not finite, no spread of x, sums out of range.
///
/// # Source
/// NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.3 (least squares); checked against NIST StRD Norris.
///
/// ```
/// use preen_domain::formulas::trend::{Point, line::fit_line};
/// let points = [(0.0, 1.0), (1.0, 3.0), (2.0, 4.0), (3.0, 6.0)].map(|(x, y)| Point::new(x, y));
/// // Sxx 5, Sxy 8: slope 1.6, through (1.5, 3.5).
/// let line = fit_line(&points)?;
/// assert_eq!(format!("{:.3} {:.3} {:.3}", line.slope, line.intercept, line.residual_sum), "1.600 1.100 0.200");
/// # Ok::<(), preen_domain::formulas::trend::FitError>(())
/// ```
pub fn fit_line(points: &[Point]) -> Result<Line, FitError> {
    check_points(points, 3)?;
    let n = count(points.len());
    // Twice, so that the rest of the first mean is taken out as well.
    let mean = |of: fn(&Point) -> f64| {
        let rough = points.iter().map(|point| of(point) / n).sum::<f64>();
        rough + points.iter().map(|point| (of(point) - rough) / n).sum::<f64>()
    };
    let (centre_x, centre_y) = (mean(|point| point.x), mean(|point| point.y));
    finish(points, (centre_x, centre_y), false)
}

/// Fits a line through the origin by least squares: slope = Σxy/Σx², s² = RSS/(n−1), u(slope) = s/√Σx²,
/// R² = 1 − RSS/Σy² (about zero, so not to be compared with that of a line with intercept).
///
/// # Errors
/// Fewer than two points, numbers that are not finite, every x zero, sums out of range.
///
/// # Source
/// NIST StRD NoInt1, certified values.
///
/// ```
/// use preen_domain::formulas::trend::{Point, line::fit_line_through_origin};
/// let line = fit_line_through_origin(&[Point::new(1.0, 2.0), Point::new(2.0, 3.0)])?;
/// // Σxy 8, Σx² 5.
/// assert_eq!((line.slope, line.intercept, line.freedom), (1.6, 0.0, 1));
/// # Ok::<(), preen_domain::formulas::trend::FitError>(())
/// ```
pub fn fit_line_through_origin(points: &[Point]) -> Result<Line, FitError> {
    check_points(points, 2)?;
    finish(points, (0.0, 0.0), true)
}

fn finish(points: &[Point], centre: (f64, f64), is_through_origin: bool) -> Result<Line, FitError> {
    let off: Vec<(f64, f64)> = points.iter().map(|point| (point.x - centre.0, point.y - centre.1)).collect();
    let first_x = points.first().map_or(0.0, |point| point.x);
    let is_level = |x: f64| if is_through_origin { x == 0.0 } else { x == first_x };
    if points.iter().all(|point| is_level(point.x)) {
        return Err(FitError::NoSpread);
    }
    let sum = |of: fn(&(f64, f64)) -> f64| off.iter().map(of).sum::<f64>();
    let (sxx, sxy, syy) = (sum(|(x, _)| x * x), sum(|(x, y)| x * y), sum(|(_, y)| y * y));
    if !sxx.is_normal() {
        return Err(FitError::Scale);
    }
    let slope = sxy / sxx;
    let residual_sum: f64 = off.iter().map(|(x, y)| (y - slope * x).powi(2)).sum();
    let freedom = points.len() - if is_through_origin { 1 } else { 2 };
    let residual_sd = (residual_sum / count(freedom)).sqrt();
    let slope_se = residual_sd / sxx.sqrt();
    let (intercept, intercept_se) = if is_through_origin {
        (0.0, None)
    } else {
        let se = residual_sd * (1.0 / count(points.len()) + centre.0 * (centre.0 / sxx)).sqrt();
        (centre.1 - slope * centre.0, Some(se))
    };
    let first_y = points.first().map_or(0.0, |point| point.y);
    let has_spread = syy > 0.0 && (is_through_origin || points.iter().any(|point| point.y != first_y));
    let r_squared = has_spread.then(|| (1.0 - residual_sum / syy).clamp(0.0, 1.0));
    let line = Line {
        slope,
        slope_se,
        intercept,
        intercept_se,
        residual_sd,
        residual_sum,
        r_squared,
        points: points.len(),
        freedom,
        centre_x: centre.0,
        centre_y: centre.1,
        spread_x: sxx,
        is_through_origin,
    };
    let numbers = [slope, slope_se, intercept, intercept_se.unwrap_or(0.0), residual_sd, syy, line.centre_y];
    if all_finite(&numbers) { Ok(line) } else { Err(FitError::Scale) }
}

impl Line {
    /// The line's value at `x`.
    ///
    /// ```
    /// use preen_domain::formulas::trend::{Point, line::fit_line_through_origin};
    /// let line = fit_line_through_origin(&[Point::new(1.0, 2.0), Point::new(2.0, 4.0)])?;
    /// assert_eq!(line.at(10.0), 20.0);
    /// # Ok::<(), preen_domain::formulas::trend::FitError>(())
    /// ```
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.centre_y + self.slope * (x - self.centre_x)
    }

    /// Half the width of a band at `x`, unit of y: t·s·√(q + (x − centre)²/Sxx), where q = 1/n for the line itself and
    /// 1 + 1/n for the next reading (0 and 1 through the origin).
    ///
    /// # Errors
    /// A level outside (0.5, 1); a width that is not finite.
    ///
    /// # Source
    /// NIST/SEMATECH e-Handbook of Statistical Methods, 4.5.2.
    ///
    /// ```
    /// use preen_domain::formulas::trend::{Confidence, Point, Sides, line::{Band, fit_line}};
    /// let points = [(0.0, 1.0), (1.0, 3.0), (2.0, 4.0), (3.0, 6.0)].map(|(x, y)| Point::new(x, y));
    /// let line = fit_line(&points)?;
    /// // s = √(0.2/2), t(0.975; 2) = 4.3027, at the mean √(1 + 1/4).
    /// let wide = line.half_width(1.5, Band::Reading, Confidence { level: 0.95, sides: Sides::Two })?;
    /// assert_eq!(format!("{wide:.4}"), "1.5212");
    /// # Ok::<(), preen_domain::formulas::trend::FitError>(())
    /// ```
    pub fn half_width(&self, x: f64, band: Band, confidence: Confidence) -> Result<f64, FitError> {
        let t = confidence.t(self.freedom)?;
        let away = x - self.centre_x;
        let width =
            t * self.residual_sd * (self.width_at_centre(band) + away * (away / self.spread_x)).sqrt();
        if width.is_finite() { Ok(width) } else { Err(FitError::Scale) }
    }

    /// The part of a band's squared width that does not depend on x, in units of s².
    pub(super) fn width_at_centre(&self, band: Band) -> f64 {
        let of_line = if self.is_through_origin { 0.0 } else { 1.0 / count(self.points) };
        match band {
            Band::Mean => of_line,
            Band::Reading => 1.0 + of_line,
        }
    }

    /// The line of −y: what falls then grows.
    #[must_use]
    pub fn mirrored(self) -> Self {
        Self { slope: -self.slope, intercept: -self.intercept, centre_y: -self.centre_y, ..self }
    }

    /// F = (slope/u(slope))², the test of "no slope"; `None` for points exactly on the line.
    #[must_use]
    pub fn f_statistic(&self) -> Option<f64> {
        let f = (self.slope / self.slope_se).powi(2);
        f.is_finite().then_some(f)
    }

    /// Interval of the slope at a level: slope ± t·u(slope).
    ///
    /// # Errors
    /// A level outside (0.5, 1).
    pub fn slope_interval(&self, confidence: Confidence) -> Result<(f64, f64), FitError> {
        let half = confidence.t(self.freedom)? * self.slope_se;
        Ok((self.slope - half, self.slope + half))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_gives_no_line_is_refused() {
        let points = |list: &[(f64, f64)]| list.iter().map(|(x, y)| Point::new(*x, *y)).collect::<Vec<_>>();
        let check = |list: &[(f64, f64)], expected| assert_eq!(fit_line(&points(list)), Err(expected));
        check(&[(0.0, 1.0), (1.0, 2.0)], FitError::TooFewPoints { given: 2, needed: 3 });
        check(&[(4.0, 1.0), (4.0, 2.0), (4.0, 3.0)], FitError::NoSpread);
        check(&[(0.0, 1.0), (1.0, f64::NAN), (2.0, 3.0)], FitError::NotFinite { point: 2 });
        check(&[(-1e200, 1.0), (0.0, 2.0), (1e200, 3.0)], FitError::Scale);
        check(&[(-1e-200, 1.0), (0.0, 2.0), (1e-200, 3.0)], FitError::Scale);
        check(&vec![(0.0, 0.0); 10_001], FitError::TooManyPoints);
        let zeros = points(&[(0.0, 1.0), (0.0, 2.0)]);
        assert_eq!(fit_line_through_origin(&zeros), Err(FitError::NoSpread));
    }

    #[test]
    fn without_spread_of_y_there_is_no_r_squared() {
        let level = [0.0, 1.0, 5.0].map(|x| Point::new(x, 0.1));
        let line = fit_line(&level).expect("a line");
        assert_eq!(line.r_squared, None);
        assert!(line.slope.abs() < 1e-15);
    }
}
