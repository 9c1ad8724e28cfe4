//! `POST /compute/regression`: a line or a polynomial through readings, its bands, the robust slope beside it, and
//! when a limit will be reached.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use crate::formulas::trend::crossing::CrossingError;
use crate::formulas::trend::least_squares::{Fit, fit_polynomial, powers};
use crate::formulas::trend::line::{Band, Line, fit_line, fit_line_through_origin};
use crate::formulas::trend::theil_sen::{MAX_ROBUST_POINTS, RobustLine, theil_sen};
use crate::formulas::trend::wear::{LimitReached, Trouble, WearError, fit_wear};
use crate::formulas::trend::{Confidence, FitError, Point};

/// Most points of one question.
const MOST_POINTS: usize = 2_000;

/// Most places at which a fit is asked for.
const MOST_PLACES: usize = 500;

/// Highest power of a polynomial.
const HIGHEST_DEGREE: u8 = 8;

/// What is fitted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Curve {
    /// A line with intercept.
    #[default]
    Line,
    /// A line held to zero at x = 0.
    ThroughOrigin,
    /// A polynomial of the degree given.
    Polynomial,
}

/// A reading, and whether it starts a series anew.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RegressionPoint {
    /// Use, or whatever the readings are laid over.
    pub x: f64,
    /// The reading.
    pub y: f64,
    /// The first reading after a re-work or a change of method: only the last such series is fitted.
    #[serde(default)]
    pub is_restart: bool,
}

/// Readings, what to fit, and what to ask of the fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RegressionQuestion {
    /// The readings in the order in which they were taken, at most 2,000.
    pub points: Vec<RegressionPoint>,
    /// What is fitted; a line with intercept if not given.
    #[serde(default)]
    pub curve: Curve,
    /// Degree of a polynomial, 1 to 8.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 8)]
    pub degree: Option<u8>,
    /// How far out the bands lie; one-sided 95 % if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Confidence>,
    /// Where the fit and its bands are asked for, at most 500 places.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub at_x: Vec<f64>,
    /// A limit that the readings move towards; for a line with intercept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<f64>,
    /// On which side of the readings trouble lies; above if not given.
    #[serde(default)]
    pub trouble: Trouble,
    /// Use up to now, from which what is left is counted; the last reading's if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub now_x: Option<f64>,
}

/// A coefficient with its standard error.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Coefficient {
    /// Power of x that it stands before.
    pub power: u8,
    /// The coefficient.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
}

/// The fit at one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FittedPlace {
    /// The place.
    pub x: f64,
    /// The fit there.
    pub y: f64,
    /// Half the width of the band of the fit itself.
    pub mean_half_width: f64,
    /// Half the width of the band of the next single reading.
    pub reading_half_width: f64,
}

/// What the readings show.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RegressionAnswer {
    /// Coefficients from the lowest power up.
    pub coefficients: Vec<Coefficient>,
    /// Standard deviation of the residuals, unit of y.
    pub residual_sd: f64,
    /// Share of the spread of y explained, about the mean (through the origin: about zero); absent without spread.
    pub r_squared: Option<f64>,
    /// F of the test of "no slope"; absent for points exactly on the line, and for polynomials.
    pub f_statistic: Option<f64>,
    /// Points fitted.
    pub points: usize,
    /// Points before the last restart, left out.
    pub left_out: usize,
    /// Points less coefficients.
    pub freedom: usize,
    /// Reading less fit, in the order of the points fitted.
    pub residuals: Vec<f64>,
    /// The fit where it was asked for.
    pub fitted: Vec<FittedPlace>,
    /// The robust slope beside a line; absent for other curves and for more than 1,000 points.
    pub robust: Option<RobustLine>,
    /// When the limit will be reached.
    pub reached: Option<LimitReached>,
    /// Why no forecast is made although a limit was given.
    pub refusal: Option<String>,
    /// How it was computed.
    pub method: String,
}

/// Answers a question about readings.
///
/// # Errors
/// No or too many points; a degree without a polynomial or none with one; a limit for another curve than a line with
/// intercept; and whatever the fit refuses. Each names the field. A forecast that cannot be made is no error: the
/// answer says why.
///
/// ```
/// use preen_domain::answers::compute::{RegressionQuestion, compute_regression};
/// let cycles = [(0, 0.050), (6, 0.058), (10, 0.071), (14, 0.080), (16, 0.094), (19, 0.101)];
/// let points: Vec<_> = cycles.iter().map(|(x, y)| serde_json::json!({"x": x, "y": y})).collect();
/// let question: RegressionQuestion =
///     serde_json::from_value(serde_json::json!({"points": points, "limit": 0.12, "now_x": 21}))?;
/// let watch = compute_regression(&question)?.reached.ok_or("a forecast")?;
/// assert_eq!(format!("{:.1} {:.1}", watch.count_left, watch.earliest_left), "5.7 1.1");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_regression(question: &RegressionQuestion) -> Result<RegressionAnswer, BadQuestion> {
    if question.points.len() > MOST_POINTS {
        return Err(BadQuestion::at(
            "/points",
            &format!("has more than {MOST_POINTS} points: thin them out"),
        ));
    }
    if question.at_x.len() > MOST_PLACES {
        return Err(BadQuestion::at("/at_x", &format!("asks for more than {MOST_PLACES} places")));
    }
    let from = question.points.iter().rposition(|point| point.is_restart).unwrap_or(0);
    let points: Vec<Point> =
        question.points.iter().skip(from).map(|point| Point::new(point.x, point.y)).collect();
    let refuse = |error: FitError| refused(error, from);
    let confidence = question.confidence.unwrap_or(Confidence::WEAR);
    let mut answer = match (question.curve, question.degree) {
        (Curve::Polynomial, Some(degree)) if (1..=HIGHEST_DEGREE).contains(&degree) => {
            let fit = fit_polynomial(&points, usize::from(degree)).map_err(refuse)?;
            of_polynomial(&fit, degree, &question.at_x, confidence).map_err(refuse)?
        }
        (Curve::Polynomial, _) => {
            return Err(BadQuestion::at("/degree", "a polynomial needs a degree from 1 to 8"));
        }
        (_, Some(_)) => {
            return Err(BadQuestion::at("/degree", "only a polynomial has a degree; leave it out"));
        }
        (Curve::Line, None) => {
            let line = fit_line(&points).map_err(refuse)?;
            of_line(&line, &points, &question.at_x, confidence).map_err(refuse)?
        }
        (Curve::ThroughOrigin, None) => {
            let line = fit_line_through_origin(&points).map_err(refuse)?;
            of_line(&line, &points, &question.at_x, confidence).map_err(refuse)?
        }
    };
    answer.left_out = from;
    forecast(question, &points, confidence, &mut answer)?;
    Ok(answer)
}

/// The field that a refusal of the fit is about.
fn refused(error: FitError, from: usize) -> BadQuestion {
    match error {
        FitError::NotFinite { point } => BadQuestion::at_row("/points", point.saturating_add(from), &error),
        FitError::BadLevel => BadQuestion::at("/confidence/level", &error),
        FitError::Dependent => BadQuestion::at("/degree", &error),
        FitError::TooFewPoints { .. } | FitError::TooManyPoints | FitError::NoSpread | FitError::Scale => {
            BadQuestion::at("/points", &error)
        }
    }
}

fn of_line(
    line: &Line,
    points: &[Point],
    places: &[f64],
    confidence: Confidence,
) -> Result<RegressionAnswer, FitError> {
    let slope = Coefficient { power: 1, value: line.slope, se: line.slope_se };
    let intercept = line.intercept_se.map(|se| Coefficient { power: 0, value: line.intercept, se });
    let is_robust = !line.is_through_origin && (3..=MAX_ROBUST_POINTS).contains(&points.len());
    let fitted = places.iter().map(|x| {
        let width = |band| line.half_width(*x, band, confidence);
        place(*x, line.at(*x), width(Band::Mean)?, width(Band::Reading)?)
    });
    let method = if line.is_through_origin {
        "least squares through the origin; bands by Student's t"
    } else {
        "least squares on centred data; bands by Student's t; beside it the median of all slopes (Theil, Sen)"
    };
    Ok(RegressionAnswer {
        coefficients: intercept.into_iter().chain([slope]).collect(),
        residual_sd: line.residual_sd,
        r_squared: line.r_squared,
        f_statistic: line.f_statistic(),
        points: line.points,
        left_out: 0,
        freedom: line.freedom,
        residuals: points.iter().map(|point| point.y - line.at(point.x)).collect(),
        fitted: fitted.collect::<Result<_, _>>()?,
        robust: if is_robust { Some(theil_sen(points, 0.9)?) } else { None },
        reached: None,
        refusal: None,
        method: method.to_owned(),
    })
}

fn of_polynomial(
    fit: &Fit,
    degree: u8,
    places: &[f64],
    confidence: Confidence,
) -> Result<RegressionAnswer, FitError> {
    let fitted = places.iter().map(|x| {
        let row = powers(*x, usize::from(degree));
        let width = |band| fit.half_width(&row, band, confidence);
        place(*x, fit.at(&row), width(Band::Mean)?, width(Band::Reading)?)
    });
    Ok(RegressionAnswer {
        coefficients: (0..=degree)
            .zip(&fit.terms)
            .map(|(power, term)| Coefficient { power, value: term.value, se: term.se })
            .collect(),
        residual_sd: fit.residual_sd,
        r_squared: fit.r_squared,
        f_statistic: None,
        points: fit.points,
        left_out: 0,
        freedom: fit.freedom,
        residuals: fit.residuals.clone(),
        fitted: fitted.collect::<Result<_, _>>()?,
        robust: None,
        reached: None,
        refusal: None,
        method: "least squares by Householder QR with one step of refinement; bands by Student's t"
            .to_owned(),
    })
}

fn place(x: f64, y: f64, mean: f64, reading: f64) -> Result<FittedPlace, FitError> {
    if y.is_finite() {
        Ok(FittedPlace { x, y, mean_half_width: mean, reading_half_width: reading })
    } else {
        Err(FitError::Scale)
    }
}

fn forecast(
    question: &RegressionQuestion,
    points: &[Point],
    confidence: Confidence,
    answer: &mut RegressionAnswer,
) -> Result<(), BadQuestion> {
    let Some(limit) = question.limit else {
        return match question.now_x {
            Some(_) => Err(BadQuestion::at("/now_x", "goes with a limit; give one or leave it out")),
            None => Ok(()),
        };
    };
    if question.curve != Curve::Line {
        return Err(BadQuestion::at(
            "/limit",
            "only a line with intercept is carried on to a limit; leave the limit out or fit a line",
        ));
    }
    let last_x = points.last().map_or(0.0, |point| point.x);
    let now = question.now_x.unwrap_or(last_x);
    match fit_wear(points, question.trouble).and_then(|fit| fit.reaches(limit, now, confidence)) {
        Ok(reached) => answer.reached = Some(reached),
        Err(WearError::Crossing(error @ CrossingError::BadLimit)) => {
            return Err(BadQuestion::at("/limit", &error));
        }
        Err(no_forecast) => answer.refusal = Some(no_forecast.to_string()),
    }
    Ok(())
}
