//! Wear: how a reading grows with use, when it will reach a limit, and whether one group wears faster than another.
//!
//! * [`line`]: the least-squares line and its bands · [`crossing`]: where line and band meet a limit
//! * [`least_squares`]: any linear combination of columns, polynomials among them
//! * [`theil_sen`]: the robust slope beside it · [`series`]: where a series starts anew
//! * [`wear`]: all of this on the readings of one part · [`rank`]: exact rank test · [`compare`]: two groups' rates

pub mod compare;
pub mod crossing;
pub mod least_squares;
pub mod line;
pub mod rank;
pub mod series;
pub mod theil_sen;
pub mod wear;

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, StudentsT};
use utoipa::ToSchema;

/// Most points a fit takes.
pub const MAX_POINTS: usize = 10_000;

/// A reading `y` after so much use `x`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Point {
    /// Use, in whatever is counted.
    pub x: f64,
    /// Reading, in its own unit.
    pub y: f64,
}

impl Point {
    /// A reading `y` after so much use `x`.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }
}

/// Why there is no fit. Points are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FitError {
    /// Fewer points than the fit needs.
    #[error("the fit needs at least {needed} points and has {given}; add readings")]
    TooFewPoints {
        /// Points given.
        given: usize,
        /// Points needed.
        needed: usize,
    },
    /// Too many points.
    #[error("a fit takes at most {MAX_POINTS} points; thin them out")]
    TooManyPoints,
    /// A number is infinite or not a number.
    #[error("point {point} holds a number that is not finite")]
    NotFinite {
        /// Point, from 1.
        point: usize,
    },
    /// All points lie at one x.
    #[error("all points lie at the same x, so they say nothing about a slope; add one at another")]
    NoSpread,
    /// A column is a combination of the others.
    #[error(
        "the points cannot tell the terms of the fit apart; ask for fewer terms or add points at other x"
    )]
    Dependent,
    /// Sums over- or underflow.
    #[error("the numbers are too large or too small to be fitted; choose other units")]
    Scale,
    /// The level is no probability.
    #[error("the confidence level must lie above 0.5 and below 1")]
    BadLevel,
}

/// Whether a band leaves its chance on one side or half on each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Sides {
    /// Beyond the band on one side: `1 − level`.
    #[default]
    One,
    /// Beyond it on both sides together: `1 − level`.
    Two,
}

/// How far out a band lies.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Confidence {
    /// Chance to lie inside, above 0.5 and below 1.
    pub level: f64,
    /// On which sides the rest lies.
    #[serde(default)]
    pub sides: Sides,
}

impl Confidence {
    /// The one-sided 95 % at which wear is watched.
    pub const WEAR: Self = Self { level: 0.95, sides: Sides::One };

    /// Student's t below which the level (and half of the rest, if two-sided) lies.
    ///
    /// # Errors
    /// A level outside (0.5, 1) or no degree of freedom.
    pub(crate) fn t(self, freedom: usize) -> Result<f64, FitError> {
        if !(self.level > 0.5 && self.level < 1.0) {
            return Err(FitError::BadLevel);
        }
        let below = match self.sides {
            Sides::One => self.level,
            Sides::Two => 0.5 + self.level / 2.0,
        };
        t_quantile(below, freedom).ok_or(FitError::BadLevel)
    }
}

/// Quantile of Student's t, polished on the distribution function.
fn t_quantile(below: f64, freedom: usize) -> Option<f64> {
    let student = StudentsT::new(0.0, 1.0, count(freedom)).ok()?;
    let mut t = student.inverse_cdf(below);
    for _ in 0..4 {
        let step = (student.cdf(t) - below) / statrs::distribution::Continuous::pdf(&student, t);
        if !step.is_finite() {
            break;
        }
        t -= step;
    }
    t.is_finite().then_some(t)
}

/// Share of Student's t above a value.
pub(crate) fn student_above(t: f64, freedom: f64) -> Option<f64> {
    // The smaller tail by symmetry, so that it keeps its figures.
    StudentsT::new(0.0, 1.0, freedom).ok().map(|student| student.cdf(-t)).filter(|share| share.is_finite())
}

#[expect(clippy::as_conversions, reason = "sizes of capped lists are far below 2^53")]
const fn count(number: usize) -> f64 {
    number as f64
}

/// Refuses lists that are too short, too long or hold a number that is not finite.
fn check_points(points: &[Point], needed: usize) -> Result<(), FitError> {
    if points.len() < needed {
        return Err(FitError::TooFewPoints { given: points.len(), needed });
    }
    if points.len() > MAX_POINTS {
        return Err(FitError::TooManyPoints);
    }
    match points.iter().position(|point| !point.x.is_finite() || !point.y.is_finite()) {
        Some(index) => Err(FitError::NotFinite { point: index + 1 }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_student_meet_closed_forms() {
        let check = |level, sides, freedom, expected: f64| {
            let t = Confidence { level, sides }.t(freedom).expect("a quantile");
            assert!((t / expected - 1.0).abs() < 1e-12, "{level} {freedom}: {t} for {expected}");
        };
        // One degree: tan(π(p − ½)); two: (2p − 1)/√(2p(1 − p)).
        check(0.95, Sides::One, 1, (std::f64::consts::PI * 0.45).tan());
        check(0.95, Sides::Two, 1, (std::f64::consts::PI * 0.475).tan());
        check(0.95, Sides::One, 2, 0.9 / (2.0f64 * 0.95 * 0.05).sqrt());
        check(0.999, Sides::One, 2, 0.998 / (2.0f64 * 0.999 * 0.001).sqrt());
        assert_eq!(Confidence { level: 1.0, sides: Sides::One }.t(3), Err(FitError::BadLevel));
        assert_eq!(Confidence { level: f64::NAN, sides: Sides::One }.t(3), Err(FitError::BadLevel));
        assert_eq!(Confidence::WEAR.t(0), Err(FitError::BadLevel));
    }
}
