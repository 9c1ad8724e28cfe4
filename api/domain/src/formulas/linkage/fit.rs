//! The geometry behind measured throws: least squares over the numbers of a linkage that nobody could measure. What the
//! points cannot tell is refused, never guessed.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::{LinkageError, checked_angle};
use super::geometry::{Linkage, LinkageGeometry};
use super::parameter::LinkageParameter;
use super::tolerance::slopes;

/// Most points taken.
const MOST_POINTS: usize = 500;
/// Most rounds of improvement.
const MOST_ROUNDS: u32 = 200;
/// Below this ratio of singular values the points do not tell the unknowns apart.
const LEAST_RATIO: f64 = 1e-7;

/// A deflection that was measured at a servo angle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredDeflection {
    /// Servo angle from neutral, deg, positive with the arm's end aft.
    pub servo_deg: f64,
    /// Deflection of the surface, deg, down positive.
    pub deflection_deg: f64,
}

/// One unknown and its value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FittedParameter {
    /// Which number of the geometry.
    pub parameter: LinkageParameter,
    /// Its value, mm or deg as its name says.
    pub value: f64,
    /// Its standard uncertainty (1u) from the scatter of the points; absent when no point is left over to show scatter.
    pub u: Option<f64>,
}

/// One point against the fitted geometry.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FitResidual {
    /// Servo angle, deg.
    pub servo_deg: f64,
    /// What was measured, deg.
    pub measured_deg: f64,
    /// What the fitted geometry gives, deg.
    pub fitted_deg: f64,
    /// Measured less fitted, deg.
    pub residual_deg: f64,
}

/// A geometry fitted to measured throws.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GeometryFit {
    /// The whole geometry, unknowns filled in.
    pub geometry: LinkageGeometry,
    /// The unknowns.
    pub fitted: Vec<FittedParameter>,
    /// Each point's residual.
    pub residuals: Vec<FitResidual>,
    /// Root mean square of the residuals, deg.
    pub rms_deg: f64,
    /// Points that tell something less unknowns.
    pub degrees_of_freedom: usize,
    /// Standard deviation of a point, √(Σ residual²/degrees of freedom), deg; absent without any.
    pub sd_deg: Option<f64>,
}

/// Why nothing is fitted.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum FitError {
    /// A number or the start cannot be used.
    #[error(transparent)]
    Start(#[from] LinkageError),
    /// A point cannot be used with the start geometry. Points are counted from 1.
    #[error("point {point}: {why}")]
    Point {
        /// Point, from 1.
        point: usize,
        /// Why.
        why: LinkageError,
    },
    /// No unknown, or one twice.
    #[error("name one or more numbers of the geometry to fit, each once")]
    NoUnknowns,
    /// Fewer servo angles than unknowns.
    #[error(
        "{points} different servo angles cannot tell {unknowns} unknowns (neutral counts only when the rod is among \
         them); measure more throws or hold some numbers"
    )]
    TooFewPoints {
        /// Different servo angles that tell something.
        points: usize,
        /// Unknowns.
        unknowns: usize,
    },
    /// Too many points.
    #[error("at most 500 points can be fitted")]
    TooManyPoints,
    /// All at one servo angle.
    #[error(
        "all throws were measured at one servo angle, so they say nothing about the geometry; measure others"
    )]
    NoSpread,
    /// All deflections are the same.
    #[error(
        "all measured deflections are the same: a surface that does not move says nothing about its linkage"
    )]
    NoMovement,
    /// Two unknowns change the throws in the same way.
    #[error("these throws do not tell {one} from {other}: hold one of them, or measure over a wider travel")]
    NotTold {
        /// One unknown.
        one: &'static str,
        /// The other; the same one when it alone has no effect.
        other: &'static str,
    },
    /// No best geometry was found.
    #[error(
        "no geometry near the start fits these throws; check the signs of throws and servo angles, and the start"
    )]
    NotFound,
}

/// Fits the named numbers of a geometry to measured deflections by least squares, from a start.
///
/// Throws depend on ratios of lengths alone, so at least one length must be held. A geometry without a rod length of
/// its own stays at 0° at neutral; let the rod be an unknown when neutral is off.
///
/// # Errors
/// A start that is no linkage; points it cannot reach; fewer points than unknowns; no spread; unknowns that the points
/// do not tell apart; no convergence.
///
/// # Source
/// D. W. Marquardt, *An Algorithm for Least-Squares Estimation of Nonlinear Parameters*, 1963; uncertainty of the
/// unknowns from the residual variance and the normal matrix, as for linear least squares.
///
/// ```
/// use preen_domain::formulas::linkage::fit::{MeasuredDeflection, fit_geometry};
/// use preen_domain::formulas::linkage::geometry::LinkageGeometry;
/// use preen_domain::formulas::linkage::parameter::LinkageParameter;
/// let start = LinkageGeometry {
///     arm_mm: 5.0, arm_deg: 0.0, hinge_x_mm: 60.0, hinge_z_mm: 0.0, horn_mm: 6.0, set_back_mm: 0.0, rod_mm: None,
/// };
/// // The surface follows the servo degree by degree: the horn is as long as the arm.
/// let at = |servo_deg: f64| MeasuredDeflection { servo_deg, deflection_deg: -servo_deg };
/// let fit = fit_geometry(&start, &[LinkageParameter::HornMm], &[at(-30.0), at(-15.0), at(20.0)])?;
/// assert_eq!(format!("{:.6}", fit.geometry.horn_mm), "5.000000");
/// # Ok::<(), preen_domain::formulas::linkage::fit::FitError>(())
/// ```
pub fn fit_geometry(
    start: &LinkageGeometry,
    unknowns: &[LinkageParameter],
    points: &[MeasuredDeflection],
) -> Result<GeometryFit, FitError> {
    let informative = check(start, unknowns, points)?;
    let problem = Problem { unknowns, points };
    let mut at = problem.stand(start).ok_or(FitError::NotFound)?;
    // Unknowns may look alike at the start only; where they always do, the way down leads nowhere or ends so.
    let start_told = at.told(&problem);
    at = descend(&problem, at).map_err(|why| start_told.err().unwrap_or(why))?;
    at.told(&problem)?;
    let degrees_of_freedom = informative.saturating_sub(unknowns.len());
    let rows = f64::from(u32::try_from(points.len()).unwrap_or(u32::MAX));
    let freedom = f64::from(u32::try_from(degrees_of_freedom).unwrap_or(u32::MAX));
    let sd_deg = (degrees_of_freedom > 0).then(|| (at.cost / freedom).sqrt());
    let fitted = unknowns
        .iter()
        .zip(at.spreads().ok_or(FitError::NotFound)?)
        .map(|(parameter, spread)| {
            let value = parameter.of(&at.geometry).ok_or(FitError::NotFound)?;
            Ok(FittedParameter { parameter: *parameter, value, u: sd_deg.map(|sd| sd * spread) })
        })
        .collect::<Result<Vec<_>, FitError>>()?;
    let residuals = points.iter().zip(at.residuals.iter());
    Ok(GeometryFit {
        geometry: at.geometry,
        fitted,
        residuals: residuals
            .map(|(point, residual_deg)| FitResidual {
                servo_deg: point.servo_deg,
                measured_deg: point.deflection_deg,
                fitted_deg: point.deflection_deg - residual_deg,
                residual_deg: *residual_deg,
            })
            .collect(),
        rms_deg: (at.cost / rows).sqrt(),
        degrees_of_freedom,
        sd_deg,
    })
}

struct Problem<'a> {
    unknowns: &'a [LinkageParameter],
    points: &'a [MeasuredDeflection],
}

/// A geometry tried, its residuals and how they change with the unknowns.
struct Stand {
    geometry: LinkageGeometry,
    residuals: DVector<f64>,
    cost: f64,
    slopes: DMatrix<f64>,
}

impl Problem<'_> {
    fn residuals(&self, geometry: &LinkageGeometry) -> Option<DVector<f64>> {
        let linkage = Linkage::new(geometry).ok()?;
        let residuals = self
            .points
            .iter()
            .map(|point| Some(point.deflection_deg - linkage.at(point.servo_deg).ok()?.deflection_deg));
        residuals.collect::<Option<Vec<f64>>>().map(DVector::from_vec)
    }

    /// `None` where a point cannot be reached, or only so near to a dead point that no slope is to be had.
    fn stand(&self, geometry: &LinkageGeometry) -> Option<Stand> {
        let residuals = self.residuals(geometry)?;
        let columns = self
            .unknowns
            .iter()
            .map(|unknown| slopes(geometry, self.points.iter().map(|point| point.servo_deg), *unknown))
            .collect::<Option<Vec<_>>>()?;
        let slopes = DMatrix::from_vec(self.points.len(), self.unknowns.len(), columns.concat());
        let cost = residuals.norm_squared();
        cost.is_finite().then_some(Stand { geometry: *geometry, residuals, cost, slopes })
    }

    fn moved(&self, from: &LinkageGeometry, step: &DVector<f64>) -> Option<LinkageGeometry> {
        let mut geometry = *from;
        for (unknown, by) in self.unknowns.iter().zip(step.iter()) {
            geometry = unknown.set(&geometry, unknown.of(from)? + by);
        }
        Some(geometry)
    }
}

impl Stand {
    /// Slopes with columns of length 1, and those lengths.
    fn scaled(&self) -> (DMatrix<f64>, Vec<f64>) {
        let lengths: Vec<f64> = self.slopes.column_iter().map(|column| column.norm()).collect();
        let mut scaled = self.slopes.clone();
        for (mut column, length) in scaled.column_iter_mut().zip(&lengths) {
            column /= length.max(f64::MIN_POSITIVE);
        }
        (scaled, lengths)
    }

    /// Refuses unknowns that change the points alike, or not at all.
    fn told(&self, problem: &Problem<'_>) -> Result<(), FitError> {
        let (scaled, lengths) = self.scaled();
        for (unknown, length) in problem.unknowns.iter().zip(&lengths) {
            if *length < 1e-9 {
                return Err(FitError::NotTold { one: unknown.as_str(), other: unknown.as_str() });
            }
        }
        let svd = scaled.try_svd(false, true, f64::EPSILON, 1000).ok_or(FitError::NotFound)?;
        let turned = svd.v_t.ok_or(FitError::NotFound)?;
        let largest = svd.singular_values.max();
        for (value, direction) in svd.singular_values.iter().zip(turned.row_iter()) {
            if *value < LEAST_RATIO * largest {
                let mut shares: Vec<(f64, &'static str)> = direction
                    .iter()
                    .map(|share| share.abs())
                    .zip(problem.unknowns.iter().map(|u| u.as_str()))
                    .collect();
                shares.sort_by(|one, other| other.0.total_cmp(&one.0));
                let named = |at: usize| shares.get(at).or(shares.first()).map_or("", |(_, name)| *name);
                return Err(FitError::NotTold { one: named(0), other: named(1) });
            }
        }
        Ok(())
    }

    /// Standard uncertainty of each unknown for points of standard deviation 1.
    fn spreads(&self) -> Option<Vec<f64>> {
        let (scaled, lengths) = self.scaled();
        let inverse = (scaled.transpose() * &scaled).cholesky()?.inverse();
        Some(inverse.diagonal().iter().zip(lengths).map(|(square, length)| square.sqrt() / length).collect())
    }
}

/// Goes down to the least squares: Gauss–Newton steps, shortened towards the steepest way down where they do not help.
fn descend(problem: &Problem<'_>, start: Stand) -> Result<Stand, FitError> {
    let mut at = start;
    let mut damping = 1e-3;
    for _ in 0..MOST_ROUNDS {
        let (scaled, lengths) = at.scaled();
        let downhill = scaled.transpose() * &at.residuals;
        // The residuals stand at right angles to all that the unknowns can change, or are next to nothing.
        if downhill.norm() <= 1e-9 * at.residuals.norm() + 1e-12 {
            return Ok(at);
        }
        let normal = scaled.transpose() * &scaled;
        let better = loop {
            let damped = &normal + DMatrix::identity(lengths.len(), lengths.len()) * damping;
            let step = damped.cholesky().map(|square| square.solve(&downhill));
            let step = step.map(|step| {
                DVector::from_iterator(step.len(), step.iter().zip(&lengths).map(|(s, l)| s / l))
            });
            let moved = step.and_then(|step| problem.moved(&at.geometry, &step));
            let is_lower = |moved: &LinkageGeometry| {
                problem.residuals(moved).is_some_and(|residuals| residuals.norm_squared() < at.cost)
            };
            // The slopes, which take most of the time, only of what is better.
            match moved.filter(is_lower).and_then(|moved| problem.stand(&moved)) {
                Some(better) => break Some(better),
                _ if damping > 1e12 => break None,
                _ => damping *= 10.0,
            }
        };
        let Some(better) = better else {
            // No step helps any more: the rounding of the numbers is reached, if the way down is as good as level.
            let is_level = downhill.norm() <= 1e-5 * at.residuals.norm() + 1e-9;
            return if is_level { Ok(at) } else { Err(FitError::NotFound) };
        };
        damping = (damping / 10.0).max(1e-12);
        at = better;
    }
    Err(FitError::NotFound)
}

/// Refuses what cannot be fitted; gives the number of points that tell something.
fn check(
    start: &LinkageGeometry,
    unknowns: &[LinkageParameter],
    points: &[MeasuredDeflection],
) -> Result<usize, FitError> {
    let is_twice =
        unknowns.iter().enumerate().any(|(index, one)| unknowns.iter().take(index).any(|other| other == one));
    if unknowns.is_empty() || is_twice {
        return Err(FitError::NoUnknowns);
    }
    if points.len() > MOST_POINTS {
        return Err(FitError::TooManyPoints);
    }
    let linkage = Linkage::new(start)?;
    for (index, point) in points.iter().enumerate() {
        let named = |why| FitError::Point { point: index + 1, why };
        checked_angle("deflection_deg", point.deflection_deg).map_err(named)?;
        linkage.at(point.servo_deg).map_err(named)?;
    }
    let is_pinned = start.rod_mm.is_none() && !unknowns.contains(&LinkageParameter::RodMm);
    let telling: Vec<f64> =
        points.iter().map(|point| point.servo_deg).filter(|deg| !is_pinned || *deg != 0.0).collect();
    let mut different = telling.clone();
    different.sort_by(f64::total_cmp);
    different.dedup();
    if points.len() > 1 && different.len() < 2 && unknowns.len() > 1 {
        return Err(FitError::NoSpread);
    }
    if different.len() < unknowns.len() {
        return Err(FitError::TooFewPoints { points: different.len(), unknowns: unknowns.len() });
    }
    let first = points.first().map(|point| point.deflection_deg);
    if points.len() > 1 && points.iter().all(|point| Some(point.deflection_deg) == first) {
        return Err(FitError::NoMovement);
    }
    Ok(telling.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use LinkageParameter::{ArmDeg, ArmMm, HingeXMm, HornMm, RodMm, SetBackMm};

    const TRUE: LinkageGeometry = LinkageGeometry {
        arm_mm: 4.5,
        arm_deg: 28.0,
        hinge_x_mm: 62.0,
        hinge_z_mm: 3.5,
        horn_mm: 4.6,
        set_back_mm: 0.5,
        rod_mm: None,
    };

    fn measured(geometry: &LinkageGeometry, servo: &[f64]) -> Vec<MeasuredDeflection> {
        let linkage = Linkage::new(geometry).expect("assembled");
        servo
            .iter()
            .map(|deg| MeasuredDeflection {
                servo_deg: *deg,
                deflection_deg: linkage.at(*deg).expect("in travel").deflection_deg,
            })
            .collect()
    }

    #[test]
    fn throws_give_their_geometry_back() {
        let points = measured(&TRUE, &[20.0, 10.0, -10.0, -20.0, -30.0, -40.0, -50.0]);
        let start = LinkageGeometry { arm_deg: 15.0, horn_mm: 5.5, ..TRUE };
        let fit = fit_geometry(&start, &[ArmDeg, HornMm], &points).expect("fitted");
        assert!((fit.geometry.arm_deg - 28.0).abs() < 1e-6, "{fit:?}");
        assert!((fit.geometry.horn_mm - 4.6).abs() < 1e-6, "{fit:?}");
        assert!(fit.rms_deg < 1e-7);
        assert_eq!(fit.degrees_of_freedom, 5);
    }

    #[test]
    fn a_rod_off_by_a_turn_is_found_with_neutral_off() {
        let built = LinkageGeometry { rod_mm: Some(60.9), ..TRUE };
        let points = measured(&built, &[20.0, 0.0, -20.0, -40.0]);
        let fit = fit_geometry(&TRUE, &[RodMm], &points).expect("fitted");
        assert!((fit.geometry.rod_mm.expect("fitted") - 60.9).abs() < 1e-6);
        assert_eq!(fit.degrees_of_freedom, 3);
    }

    #[test]
    fn scatter_shows_in_residuals_and_uncertainty() {
        let mut points = measured(&TRUE, &[20.0, 10.0, -10.0, -30.0, -50.0]);
        for (point, off) in points.iter_mut().zip([0.3, -0.3, 0.2, -0.2, 0.1]) {
            point.deflection_deg += off;
        }
        let fit = fit_geometry(&TRUE, &[ArmDeg, HornMm], &points).expect("fitted");
        assert!(fit.rms_deg > 0.1 && fit.rms_deg < 0.3, "{fit:?}");
        for one in &fit.fitted {
            assert!(one.u.expect("points left over") > 0.01, "{one:?}");
        }
        let exact = fit_geometry(&TRUE, &[ArmDeg, HornMm], &points[3..]).expect("fitted");
        assert_eq!((exact.degrees_of_freedom, exact.sd_deg, exact.fitted[0].u), (0, None, None));
    }

    #[test]
    fn what_cannot_be_told_is_refused() {
        let points = measured(&TRUE, &[20.0, 10.0, 0.0, -10.0, -20.0, -30.0, -40.0, -50.0]);
        let check = |unknowns: &[LinkageParameter], points: &[MeasuredDeflection], expected: FitError| {
            assert_eq!(fit_geometry(&TRUE, unknowns, points), Err(expected));
        };
        check(&[], &points, FitError::NoUnknowns);
        check(&[ArmMm, ArmMm], &points, FitError::NoUnknowns);
        check(&[ArmMm, HornMm], &points[..1], FitError::TooFewPoints { points: 1, unknowns: 2 });
        // Neutral is 0° whatever the geometry.
        check(&[ArmMm, HornMm], &points[1..3], FitError::NoSpread);
        check(&[ArmMm, HornMm], &[points[0], points[0], points[0]], FitError::NoSpread);
        let still =
            points.iter().map(|at| MeasuredDeflection { deflection_deg: 3.0, ..*at }).collect::<Vec<_>>();
        check(&[HornMm], &still, FitError::NoMovement);
        let beyond = [MeasuredDeflection { servo_deg: -100.0, deflection_deg: 80.0 }, points[0]];
        let refused = fit_geometry(&TRUE, &[HornMm], &beyond);
        assert!(matches!(refused, Err(FitError::Point { point: 1, .. })), "{refused:?}");
        // All lengths free: a linkage of twice the size has the same throws.
        let all = [ArmMm, HingeXMm, LinkageParameter::HingeZMm, HornMm, SetBackMm];
        let refused = fit_geometry(&TRUE, &all, &points);
        assert!(matches!(refused, Err(FitError::NotTold { .. })), "{refused:?}");
    }
}
