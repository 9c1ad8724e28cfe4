//! How far a computed deflection or gain may be off because arm, horn and places were measured with a ruler. What the surface
//! is loaded with or what its play adds is not in it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::{LinkageError, checked_amount};
use super::geometry::{Linkage, LinkageGeometry, LinkagePosition};
use super::parameter::LinkageParameter;

/// Standard uncertainties (1u) of the measured geometry.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GeometryUncertainty {
    /// Of each length and place, mm.
    pub length_mm: f64,
    /// Of the arm's angle, deg.
    pub angle_deg: f64,
}

impl Default for GeometryUncertainty {
    /// A calliper on a small hole, and an arm's angle by eye against a square: 0.1 mm and 1°. Common practice, no
    /// source.
    fn default() -> Self {
        Self { length_mm: 0.1, angle_deg: 1.0 }
    }
}

/// Step of the numeric derivatives, mm or deg.
const STEP: f64 = 1e-4;

/// Standard uncertainty of the deflection at a servo angle, deg: u² = Σ(∂δ/∂p)²·u²(p) over arm radius and angle, hinge
/// place, horn height and set-back, and the rod's length where it has one of its own. A rod that is cut to fit goes
/// along with each change, so that neutral stays at 0°.
///
/// `None` so near to a dead point that a change of 0.0001 passes it.
///
/// # Errors
/// A negative uncertainty; whatever the geometry or the servo angle is refused for.
///
/// # Source
/// JCGM 100:2008, 5.1.2, with numeric derivatives (5.1.3, note 2).
///
/// ```
/// use preen_domain::formulas::linkage::geometry::LinkageGeometry;
/// use preen_domain::formulas::linkage::tolerance::{GeometryUncertainty, deflection_uncertainty_deg};
/// let drawn = LinkageGeometry {
///     arm_mm: 5.0, arm_deg: 0.0, hinge_x_mm: 60.0, hinge_z_mm: 0.0, horn_mm: 5.0, set_back_mm: 0.0, rod_mm: None,
/// };
/// // A rod cut to fit leaves nothing uncertain at neutral.
/// let u_deg = deflection_uncertainty_deg(&drawn, 0.0, &GeometryUncertainty::default())?;
/// assert!(u_deg.is_some_and(|deg| deg < 1e-9));
/// # Ok::<(), preen_domain::formulas::linkage::LinkageError>(())
/// ```
pub fn deflection_uncertainty_deg(
    drawn: &LinkageGeometry,
    servo_deg: f64,
    uncertainty: &GeometryUncertainty,
) -> Result<Option<f64>, LinkageError> {
    uncertainty_of(drawn, servo_deg, uncertainty, |at| at.deflection_deg)
}

/// Standard uncertainty of the gain −dδ/dθ at a servo angle, by the same rule: it goes into the servo's torque.
///
/// `None` so near to a dead point that a change of 0.0001 passes it.
///
/// # Errors
/// As [`deflection_uncertainty_deg`].
///
/// # Source
/// JCGM 100:2008, 5.1.2, with numeric derivatives (5.1.3, note 2).
///
/// ```
/// use preen_domain::formulas::linkage::geometry::LinkageGeometry;
/// use preen_domain::formulas::linkage::tolerance::{GeometryUncertainty, gain_uncertainty};
/// let drawn = LinkageGeometry {
///     arm_mm: 5.0, arm_deg: 0.0, hinge_x_mm: 60.0, hinge_z_mm: 0.0, horn_mm: 5.0, set_back_mm: 0.0, rod_mm: None,
/// };
/// // At neutral the gain is arm over horn, each within 0.1 of 5 mm, all else of second order.
/// let u = gain_uncertainty(&drawn, 0.0, &GeometryUncertainty { length_mm: 0.1, angle_deg: 0.0 })?;
/// assert_eq!(u.map(|u| format!("{u:.4}")).as_deref(), Some("0.0283"));
/// # Ok::<(), preen_domain::formulas::linkage::LinkageError>(())
/// ```
pub fn gain_uncertainty(
    drawn: &LinkageGeometry,
    servo_deg: f64,
    uncertainty: &GeometryUncertainty,
) -> Result<Option<f64>, LinkageError> {
    uncertainty_of(drawn, servo_deg, uncertainty, |at| at.gain)
}

fn uncertainty_of(
    drawn: &LinkageGeometry,
    servo_deg: f64,
    uncertainty: &GeometryUncertainty,
    of: fn(&LinkagePosition) -> f64,
) -> Result<Option<f64>, LinkageError> {
    checked_amount("length_mm", uncertainty.length_mm)?;
    checked_amount("angle_deg", uncertainty.angle_deg)?;
    Linkage::new(drawn)?.at(servo_deg)?;
    let mut square = 0.0;
    for parameter in LinkageParameter::ALL {
        let u = match parameter {
            LinkageParameter::RodMm if drawn.rod_mm.is_none() => continue,
            LinkageParameter::ArmDeg => uncertainty.angle_deg,
            _ => uncertainty.length_mm,
        };
        let Some(slopes) = slopes_of(drawn, std::iter::once(servo_deg), parameter, of) else {
            return Ok(None);
        };
        square += slopes.iter().map(|slope| (slope * u).powi(2)).sum::<f64>();
    }
    let combined = square.sqrt();
    if combined.is_finite() { Ok(Some(combined)) } else { Err(LinkageError::TooLarge) }
}

/// ∂δ/∂p at each servo angle by central differences; `None` where a step leads over a dead point.
pub(super) fn slopes(
    drawn: &LinkageGeometry,
    servo_deg: impl Iterator<Item = f64>,
    parameter: LinkageParameter,
) -> Option<Vec<f64>> {
    slopes_of(drawn, servo_deg, parameter, |at| at.deflection_deg)
}

fn slopes_of(
    drawn: &LinkageGeometry,
    servo_deg: impl Iterator<Item = f64>,
    parameter: LinkageParameter,
    of: fn(&LinkagePosition) -> f64,
) -> Option<Vec<f64>> {
    let value = parameter.of(drawn)?;
    let changed = |by: f64| Linkage::new(&parameter.set(drawn, value + by)).ok();
    let (more, less) = (changed(STEP)?, changed(-STEP)?);
    servo_deg
        .map(|deg| {
            let rise = of(&more.at(deg).ok()?) - of(&less.at(deg).ok()?);
            Some(rise / (2.0 * STEP))
        })
        .collect()
}
