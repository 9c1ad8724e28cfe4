//! Where a growing line meets a limit, and where its prediction band does: the expected, the earliest and the latest
//! count. What is to be fitted and whether a forecast may be made at all lives in `wear`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::line::{Band, Line};
use super::{Confidence, FitError};

/// Where line and band meet a limit, in x.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Crossing {
    /// Where the line meets it.
    pub at: f64,
    /// Where the band's near edge meets it; absent when that edge lies beyond the limit at every x, so that the limit
    /// could be reached at any time.
    pub earliest: Option<f64>,
    /// Where the band's far edge meets it; absent when the growth is too unsure for a latest one.
    pub latest: Option<f64>,
}

/// Why a limit has no crossing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CrossingError {
    /// The line does not grow.
    #[error("no wear seen: the readings do not move towards the limit, so no date can be named")]
    NoGrowth,
    /// The limit is not finite.
    #[error("the limit must be a finite number")]
    BadLimit,
    /// The crossing lies out of range.
    #[error("the crossing lies too far off to be a number")]
    TooFar,
    /// The band cannot be computed.
    #[error(transparent)]
    Fit(#[from] FitError),
}

/// Where a growing line and its prediction band meet `limit`. For a quantity that falls towards its limit take the
/// [`Line::mirrored`] line and the negated limit.
///
/// With u = x − centre, d = limit − centre_y, c = t²s² and q = 1 + 1/n the band's edges meet the limit where
/// (d − slope·u)² = c·(q + u²/Sxx): a quadratic in u. While slope² > c/Sxx both edges climb and each meets the limit
/// once; otherwise the far edge falls away in the end, and there is no latest.
///
/// # Errors
/// A slope of zero or less, a limit that is not finite, a level outside (0.5, 1), a crossing out of range.
///
/// # Source
/// Inverse prediction: E. C. Fieller, *Some problems in interval estimation*, Journal of the Royal Statistical
/// Society B 16 (1954); N. R. Draper and H. Smith, *Applied Regression Analysis* (1998), 3.2; from memory.
///
/// ```
/// use preen_domain::formulas::trend::{Confidence, Point, crossing::cross, line::fit_line};
/// let cycles = [(0.0, 0.050), (6.0, 0.058), (10.0, 0.071), (14.0, 0.080), (16.0, 0.094), (19.0, 0.101)];
/// let line = fit_line(&cycles.map(|(x, y)| Point::new(x, y)))?;
/// let watch = cross(&line, 0.12, Confidence::WEAR)?;
/// assert_eq!(format!("{:.1} {:.1}", watch.at, watch.earliest.ok_or("sure growth")?), "26.7 22.1");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn cross(line: &Line, limit: f64, confidence: Confidence) -> Result<Crossing, CrossingError> {
    if !limit.is_finite() {
        return Err(CrossingError::BadLimit);
    }
    let b = line.slope;
    if b <= 0.0 {
        return Err(CrossingError::NoGrowth);
    }
    let d = limit - line.centre_y;
    let at = in_range(line.centre_x + d / b)?;
    let c = (confidence.t(line.freedom)? * line.residual_sd).powi(2);
    if c == 0.0 {
        return Ok(Crossing { at, earliest: Some(at), latest: Some(at) });
    }
    let q = line.width_at_centre(Band::Reading);
    let sure = b * b - c / line.spread_x;
    let square = c * (q * sure + d * d / line.spread_x);
    if !square.is_finite() || !sure.is_finite() {
        return Err(CrossingError::TooFar);
    }
    if square < 0.0 {
        return Ok(Crossing { at, earliest: None, latest: None });
    }
    // Both roots without taking like numbers off each other.
    let far = b * d + if d >= 0.0 { square.sqrt() } else { -square.sqrt() };
    let roots = [far / sure, (d * d - c * q) / far];
    let is_near_edge = |u: &f64| d - b * u >= 0.0;
    let near = roots.into_iter().filter(|u| u.is_finite() && is_near_edge(u)).reduce(f64::max);
    let latest =
        roots.into_iter().filter(|u| sure > 0.0 && u.is_finite() && !is_near_edge(u)).reduce(f64::min);
    let place = |u: f64| in_range(line.centre_x + u);
    Ok(Crossing {
        at,
        earliest: near.map(place).transpose()?.map(|earliest| earliest.min(at)),
        latest: latest.map(place).transpose()?.map(|latest| latest.max(at)),
    })
}

fn in_range(x: f64) -> Result<f64, CrossingError> {
    if x.is_finite() { Ok(x) } else { Err(CrossingError::TooFar) }
}

#[cfg(test)]
mod tests {
    use super::super::line::fit_line;
    use super::*;
    use crate::formulas::trend::{Point, Sides};

    fn line(list: &[(f64, f64)]) -> Line {
        fit_line(&list.iter().map(|(x, y)| Point::new(*x, *y)).collect::<Vec<_>>()).expect("a line")
    }

    #[test]
    fn the_band_meets_the_limit_where_it_says() {
        let fitted = line(&[(0.0, 1.0), (1.0, 3.0), (2.0, 4.0), (3.0, 6.0), (4.0, 7.5)]);
        for limit in [-3.0, 4.3, 5.0, 9.0, 40.0] {
            for level in [0.6, 0.95, 0.999] {
                let confidence = Confidence { level, sides: Sides::One };
                let met = cross(&fitted, limit, confidence).expect("met");
                let edge = |x: f64, sign: f64| {
                    fitted.at(x) + sign * fitted.half_width(x, Band::Reading, confidence).expect("a width")
                };
                let (earliest, latest) = (met.earliest.expect("sure"), met.latest.expect("sure"));
                assert!((edge(earliest, 1.0) - limit).abs() < 1e-9, "{limit} {level}");
                assert!((edge(latest, -1.0) - limit).abs() < 1e-9, "{limit} {level}");
                assert!(earliest < met.at && met.at < latest);
            }
        }
    }

    #[test]
    fn unsure_growth_has_no_latest_and_may_have_no_earliest() {
        let unsure = line(&[(0.0, 1.0), (1.0, 0.2), (2.0, 1.3), (3.0, 1.1)]);
        let met = cross(&unsure, 9.0, Confidence::WEAR).expect("met");
        let earliest = met.earliest.expect("the upper edge climbs");
        let width = unsure.half_width(earliest, Band::Reading, Confidence::WEAR).expect("a width");
        assert!((unsure.at(earliest) + width - 9.0).abs() < 1e-9);
        assert_eq!(met.latest, None);
        // A limit amid the scatter.
        assert_eq!(cross(&unsure, 1.2, Confidence::WEAR).expect("met").earliest, None);
    }

    #[test]
    fn no_growth_no_date() {
        let falling = line(&[(0.0, 3.0), (1.0, 2.0), (2.0, 1.5)]);
        assert_eq!(cross(&falling, 9.0, Confidence::WEAR), Err(CrossingError::NoGrowth));
        assert_eq!(cross(&falling, f64::NAN, Confidence::WEAR), Err(CrossingError::BadLimit));
        let mirrored = cross(&falling.mirrored(), -0.5, Confidence::WEAR).expect("falls to 0.5");
        assert!(mirrored.at > 2.0);
        let exact = line(&[(0.0, 1.0), (1.0, 2.0), (2.0, 3.0)]);
        let met = cross(&exact, 5.0, Confidence::WEAR).expect("met");
        assert_eq!((met.earliest, met.latest), (Some(met.at), Some(met.at)));
    }
}
