//! The wear of one part from its readings since the last re-work: line, robust slope, and when each limit will be
//! reached. Refuses a forecast from too little. Which counter drives the wear and what date that is are matters of the
//! fleet.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::crossing::{CrossingError, cross};
use super::line::{Line, fit_line};
use super::theil_sen::{MAX_ROBUST_POINTS, RobustLine, theil_sen};
use super::{Confidence, FitError, Point};

/// Fewer readings than this give no forecast: with three, one odd reading makes the slope.
pub const LEAST_READINGS: usize = 4;

/// On which side of the readings trouble lies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Trouble {
    /// Readings grow towards a limit.
    #[default]
    Above,
    /// Readings fall towards a limit.
    Below,
}

/// What the readings of one series show.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WearFit {
    /// The least-squares line.
    pub line: Line,
    /// The robust line beside it; absent for very long series.
    pub robust: Option<RobustLine>,
    /// On which side trouble lies.
    pub trouble: Trouble,
}

/// When a limit will be reached, counted in use.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LimitReached {
    /// The limit, in the unit of the readings.
    pub limit: f64,
    /// Use at which the line meets it.
    pub at_count: f64,
    /// Use left until then; 0 once it is past.
    pub count_left: f64,
    /// Use at which the near edge of the band meets it; absent when the edge lies beyond the limit at every count.
    pub earliest_count: Option<f64>,
    /// Use left until the earliest; 0 when it may have been reached.
    pub earliest_left: f64,
    /// Use at which the far edge meets it; absent when the growth is too unsure to name a latest.
    pub latest_count: Option<f64>,
    /// Use left until the latest.
    pub latest_left: Option<f64>,
    /// Use left by the robust line; absent when that sees no wear.
    pub robust_left: Option<f64>,
}

/// Why there is no forecast.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WearError {
    /// Too few readings since the last re-work.
    #[error("no forecast: readings in this series {readings}, needed {LEAST_READINGS}; measure again")]
    TooFewReadings {
        /// Readings in the series.
        readings: usize,
    },
    /// No line through the readings.
    #[error("no forecast: {0}")]
    Fit(#[from] FitError),
    /// No crossing.
    #[error(transparent)]
    Crossing(#[from] CrossingError),
}

/// Fits the readings of one series: least squares, and the robust slope with its 90 % interval.
///
/// # Errors
/// Fewer than [`LEAST_READINGS`] readings; whatever the line refuses.
///
/// ```
/// use preen_domain::formulas::trend::{Confidence, Point, wear::{Trouble, fit_wear}};
/// let readings = [(62.0, 0.35), (144.0, 0.50), (211.0, 0.70), (254.0, 0.90)].map(|(x, y)| Point::new(x, y));
/// let worn = fit_wear(&readings, Trouble::Above)?.reaches(1.20, 271.0, Confidence::WEAR)?;
/// assert_eq!(format!("{:.0} {:.0} {:.0}", worn.at_count, worn.count_left, worn.earliest_left), "377 106 22");
/// # Ok::<(), preen_domain::formulas::trend::wear::WearError>(())
/// ```
pub fn fit_wear(readings: &[Point], trouble: Trouble) -> Result<WearFit, WearError> {
    if readings.len() < LEAST_READINGS {
        return Err(WearError::TooFewReadings { readings: readings.len() });
    }
    let line = fit_line(readings)?;
    let robust = if readings.len() <= MAX_ROBUST_POINTS { Some(theil_sen(readings, 0.9)?) } else { None };
    Ok(WearFit { line, robust, trouble })
}

impl WearFit {
    /// Growth towards trouble per use; zero or less: no wear seen.
    #[must_use]
    pub fn growth(&self) -> f64 {
        match self.trouble {
            Trouble::Above => self.line.slope,
            Trouble::Below => -self.line.slope,
        }
    }

    /// When the limit will be reached, seen from the use `now`.
    ///
    /// # Errors
    /// No growth towards the limit; a limit, use or level that is out of range.
    pub fn reaches(&self, limit: f64, now: f64, confidence: Confidence) -> Result<LimitReached, WearError> {
        if !now.is_finite() {
            return Err(CrossingError::TooFar.into());
        }
        let (line, towards) = match self.trouble {
            Trouble::Above => (self.line, limit),
            Trouble::Below => (self.line.mirrored(), -limit),
        };
        let met = cross(&line, towards, confidence)?;
        let left = |count: f64| (count - now).max(0.0);
        let robust_left = self.robust.filter(|_| self.robust_growth() > 0.0).and_then(|robust| {
            let count = (limit - robust.intercept) / robust.slope;
            count.is_finite().then(|| left(count))
        });
        Ok(LimitReached {
            limit,
            at_count: met.at,
            count_left: left(met.at),
            earliest_count: met.earliest,
            earliest_left: met.earliest.map_or(0.0, left),
            latest_count: met.latest,
            latest_left: met.latest.map(left),
            robust_left,
        })
    }

    fn robust_growth(&self) -> f64 {
        let slope = self.robust.map_or(0.0, |robust| robust.slope);
        match self.trouble {
            Trouble::Above => slope,
            Trouble::Below => -slope,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_little_or_no_wear_gives_no_forecast() {
        let three = [0.0, 1.0, 2.0].map(|x| Point::new(x, x));
        assert_eq!(fit_wear(&three, Trouble::Above), Err(WearError::TooFewReadings { readings: 3 }));
        let level = [0.0, 1.0, 2.0, 3.0].map(|x| Point::new(x, 0.1));
        let flat = fit_wear(&level, Trouble::Above).expect("a line");
        assert_eq!(flat.reaches(1.0, 3.0, Confidence::WEAR), Err(CrossingError::NoGrowth.into()));
        let at_once = [0.1, 0.2, 0.3, 0.4].map(|y| Point::new(5.0, y));
        assert_eq!(fit_wear(&at_once, Trouble::Above), Err(FitError::NoSpread.into()));
    }

    #[test]
    fn what_falls_mirrors_what_grows() {
        let grows = [(0.0, 1.0), (10.0, 1.4), (20.0, 1.6), (30.0, 2.2)];
        let up = fit_wear(&grows.map(|(x, y)| Point::new(x, y)), Trouble::Above).expect("a line");
        let down = fit_wear(&grows.map(|(x, y)| Point::new(x, -y)), Trouble::Below).expect("a line");
        let (up, down) = (
            up.reaches(3.0, 30.0, Confidence::WEAR).expect("reached"),
            down.reaches(-3.0, 30.0, Confidence::WEAR).expect("reached"),
        );
        assert_eq!(
            (up.at_count, up.earliest_left, up.latest_left),
            (down.at_count, down.earliest_left, down.latest_left)
        );
        assert!(up.robust_left.expect("grows") > 0.0 && down.robust_left.expect("falls") > 0.0);
    }
}
