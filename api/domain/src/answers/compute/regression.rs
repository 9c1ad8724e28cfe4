//! `POST /compute/regression`: a line or polynomial through readings, bands of coming readings, and when a limit will be
//! reached. The wear of a part on record is asked of the fleet instead.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use crate::formulas::trend::least_squares::{Fit, MAX_TERMS, fit_polynomial, powers};
use crate::formulas::trend::line::{Band, Line, fit_line, fit_line_through_origin};
use crate::formulas::trend::theil_sen::{MAX_ROBUST_POINTS, RobustLine, theil_sen};
use crate::formulas::trend::wear::{LimitReached, Trouble, WearError, fit_wear};
use crate::formulas::trend::{Confidence, FitError, Point, Sides};

/// Most places at which a band is asked for.
const MOST_PLACES: usize = 1_000;

/// Readings, what to fit, and what to say of coming ones.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RegressionQuestion {
    /// The readings: y after so much use x. Readings before a re-work belong in a question of their own.
    pub points: Vec<Point>,
    /// What to fit; a line with intercept if not given.
    #[serde(default)]
    pub form: RegressionForm,
    /// Highest power of a polynomial, 1 to 11; for that form alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub degree: Option<usize>,
    /// How far out bands lie; one-sided 95 % if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Confidence>,
    /// Places x at which value and bands are wanted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub at: Vec<f64>,
    /// A limit of y; asks when a line with intercept reaches it, from four readings on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<f64>,
    /// On which side of the readings the limit lies.
    #[serde(default)]
    pub trouble: Trouble,
    /// Use by now, from which what is left counts; the largest x if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub now_x: Option<f64>,
}

/// What is fitted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RegressionForm {
    /// y = a + b·x.
    #[default]
    Line,
    /// y = b·x.
    LineThroughOrigin,
    /// y = Σ bₖ·xᵏ.
    Polynomial,
}

/// The fit and what follows from it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RegressionAnswer {
    /// Coefficients in order of rising powers; through the origin that of x alone.
    pub coefficients: Vec<Coefficient>,
    /// Standard deviation of the residuals, unit of y.
    pub residual_sd: f64,
    /// Share of the spread of y explained; absent when y has no spread.
    pub r_squared: Option<f64>,
    /// Points less coefficients.
    pub freedom: usize,
    /// Value and bands at the places asked for.
    pub bands: Vec<BandAt>,
    /// The robust line beside a line with intercept of up to 1,000 points.
    pub robust: Option<RobustLine>,
    /// When the limit asked for is reached.
    pub limit: Option<LimitReached>,
    /// How it was computed.
    pub method: String,
}

/// A coefficient with its standard error.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Coefficient {
    /// Power of x that it belongs to.
    pub power: usize,
    /// The coefficient.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
}

/// The fit at one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BandAt {
    /// The place.
    pub x: f64,
    /// The fitted value.
    pub y: f64,
    /// Half the width of the band of the fit itself.
    pub half_width_fit: f64,
    /// Half the width of the band of the next reading.
    pub half_width_reading: f64,
}

/// Answers a regression question.
///
/// # Errors
/// A degree without polynomial or out of range, a limit for another form than a line with intercept, too few points,
/// no spread of x, no growth towards the limit, numbers out of range. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{RegressionQuestion, compute_regression};
/// let question: RegressionQuestion = serde_json::from_value(serde_json::json!({
///     "points": [{"x": 62, "y": 0.35}, {"x": 144, "y": 0.5}, {"x": 211, "y": 0.7}, {"x": 254, "y": 0.9}],
///     "limit": 1.2, "now_x": 271
/// }))?;
/// let reached = compute_regression(&question)?.limit.ok_or("a limit was given")?;
/// assert_eq!(format!("{:.0} {:.0}", reached.count_left, reached.earliest_left), "106 22");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_regression(question: &RegressionQuestion) -> Result<RegressionAnswer, BadQuestion> {
    let degree = degree(question)?;
    if question.at.len() > MOST_PLACES {
        return Err(BadQuestion::at("/at", "ask for at most 1000 places"));
    }
    let confidence = question.confidence.unwrap_or(Confidence::WEAR);
    let points = &question.points;
    let fitted = match question.form {
        RegressionForm::Line => fit_line(points).map(Fitted::Line),
        RegressionForm::LineThroughOrigin => fit_line_through_origin(points).map(Fitted::Line),
        RegressionForm::Polynomial => fit_polynomial(points, degree).map(Fitted::Polynomial),
    }
    .map_err(bad_fit)?;
    let bands = question
        .at
        .iter()
        .enumerate()
        .map(|(index, x)| fitted.band_at(*x, confidence).map_err(|why| bad_band(index, why)))
        .collect::<Result<_, _>>()?;
    let is_plain = question.form == RegressionForm::Line;
    let robust = if is_plain && points.len() <= MAX_ROBUST_POINTS {
        Some(theil_sen(points, 0.9).map_err(bad_fit)?)
    } else {
        None
    };
    Ok(RegressionAnswer {
        bands,
        robust,
        limit: limit(question, confidence)?,
        ..fitted.told(question, confidence)
    })
}

enum Fitted {
    Line(Line),
    Polynomial(Fit),
}

impl Fitted {
    fn band_at(&self, x: f64, confidence: Confidence) -> Result<BandAt, FitError> {
        let (y, of_fit, of_reading) = match self {
            Self::Line(line) => (
                line.at(x),
                line.half_width(x, Band::Mean, confidence)?,
                line.half_width(x, Band::Reading, confidence)?,
            ),
            Self::Polynomial(fit) => {
                let row = powers(x, fit.terms.len().saturating_sub(1));
                (
                    fit.at(&row),
                    fit.half_width(&row, Band::Mean, confidence)?,
                    fit.half_width(&row, Band::Reading, confidence)?,
                )
            }
        };
        if y.is_finite() {
            Ok(BandAt { x, y, half_width_fit: of_fit, half_width_reading: of_reading })
        } else {
            Err(FitError::Scale)
        }
    }

    fn told(&self, question: &RegressionQuestion, confidence: Confidence) -> RegressionAnswer {
        let sides = match confidence.sides {
            Sides::One => "one-sided",
            Sides::Two => "two-sided",
        };
        let how = match question.form {
            RegressionForm::Line => "least-squares line on centred data, robust slope after Theil and Sen",
            RegressionForm::LineThroughOrigin => "least-squares line through the origin, R² about zero",
            RegressionForm::Polynomial => "least-squares polynomial by Householder QR",
        };
        let method = format!("{how}; bands {sides} {} %", confidence.level * 100.0);
        let (coefficients, residual_sd, r_squared, freedom) = match self {
            Self::Line(line) => {
                let intercept =
                    line.intercept_se.map(|se| Coefficient { power: 0, value: line.intercept, se });
                let slope = Coefficient { power: 1, value: line.slope, se: line.slope_se };
                let both = intercept.into_iter().chain([slope]).collect();
                (both, line.residual_sd, line.r_squared, line.freedom)
            }
            Self::Polynomial(fit) => {
                let terms = fit.terms.iter().enumerate();
                let all = terms.map(|(power, term)| Coefficient { power, value: term.value, se: term.se });
                (all.collect(), fit.residual_sd, fit.r_squared, fit.freedom)
            }
        };
        let (bands, robust, limit) = (Vec::new(), None, None);
        RegressionAnswer { coefficients, residual_sd, r_squared, freedom, bands, robust, limit, method }
    }
}

fn degree(question: &RegressionQuestion) -> Result<usize, BadQuestion> {
    match (question.form, question.degree) {
        (RegressionForm::Polynomial, Some(degree)) if (1..MAX_TERMS).contains(&degree) => Ok(degree),
        (RegressionForm::Polynomial, _) => {
            Err(BadQuestion::at("/degree", "a polynomial needs a degree from 1 to 11"))
        }
        (_, Some(_)) => Err(BadQuestion::at("/degree", "only the form `polynomial` takes a degree")),
        (_, None) => Ok(1),
    }
}

fn limit(question: &RegressionQuestion, confidence: Confidence) -> Result<Option<LimitReached>, BadQuestion> {
    let Some(limit) = question.limit else { return Ok(None) };
    if question.form != RegressionForm::Line {
        return Err(BadQuestion::at("/limit", "a limit is reached by the form `line` alone"));
    }
    let largest = || question.points.iter().map(|point| point.x).reduce(f64::max).unwrap_or_default();
    let now = question.now_x.unwrap_or_else(largest);
    let worn = fit_wear(&question.points, question.trouble).map_err(|why| match why {
        WearError::Fit(why) => bad_fit(why),
        WearError::TooFewReadings { .. } | WearError::Crossing(_) => BadQuestion::at("/points", &why),
    })?;
    worn.reaches(limit, now, confidence).map(Some).map_err(|why| BadQuestion::at("/limit", &why))
}

fn bad_fit(why: FitError) -> BadQuestion {
    match why {
        FitError::NotFinite { point } => BadQuestion::at_row("/points", point, &why),
        FitError::BadLevel => BadQuestion::at("/confidence/level", &why),
        FitError::Dependent => BadQuestion::at("/degree", &why),
        FitError::TooFewPoints { .. } | FitError::TooManyPoints | FitError::NoSpread | FitError::Scale => {
            BadQuestion::at("/points", &why)
        }
    }
}

fn bad_band(index: usize, why: FitError) -> BadQuestion {
    match why {
        FitError::BadLevel => bad_fit(why),
        _ => BadQuestion::at(format!("/at/{index}"), &why),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(more: &Value) -> Result<RegressionAnswer, BadQuestion> {
        let mut question =
            json!({"points": [{"x": 0, "y": 1}, {"x": 1, "y": 3}, {"x": 2, "y": 4}, {"x": 3, "y": 6}]});
        question.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
        compute_regression(&serde_json::from_value(question).expect("the shape of a question"))
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |more: Value, pointer: &str| {
            assert_eq!(ask(&more).map_err(|bad| bad.pointer), Err(pointer.to_owned()), "{more}");
        };
        check(json!({"points": []}), "/points");
        check(json!({"points": [{"x": 1, "y": 1}, {"x": 1, "y": 2}, {"x": 1, "y": 3}]}), "/points");
        check(
            json!({"points": [{"x": 1, "y": 1}, {"x": 2, "y": 2}, {"x": 3, "y": 3}], "limit": 9}),
            "/points",
        );
        check(json!({"degree": 2}), "/degree");
        check(json!({"form": "polynomial"}), "/degree");
        check(json!({"form": "polynomial", "degree": 12}), "/degree");
        check(json!({"form": "line_through_origin", "limit": 9}), "/limit");
        check(json!({"limit": 0, "trouble": "below"}), "/limit");
        check(json!({"at": [4], "confidence": {"level": 1}}), "/confidence/level");
        check(json!({"at": vec![0; 1_001]}), "/at");
    }

    #[test]
    fn forms_and_bands() {
        let line = ask(&json!({"at": [1.5], "confidence": {"level": 0.95, "sides": "two"}})).expect("a line");
        assert_eq!(format!("{:.4}", line.bands[0].half_width_reading), "1.5212");
        assert_eq!((line.coefficients.len(), line.freedom), (2, 2));
        assert!(line.robust.is_some() && line.method.ends_with("two-sided 95 %"));
        let origin = ask(&json!({"form": "line_through_origin"})).expect("a line");
        // Σxy 29, Σx² 14.
        assert_eq!((origin.coefficients.len(), origin.coefficients[0].power), (1, 1));
        assert!((origin.coefficients[0].value - 29.0 / 14.0).abs() < 1e-12);
        let bent = ask(&json!({"form": "polynomial", "degree": 2, "at": [3]})).expect("a parabola");
        assert_eq!((bent.coefficients.len(), bent.freedom, bent.bands.len()), (3, 1, 1));
    }
}
