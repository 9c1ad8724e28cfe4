//! Principal axes of inertia: about which axes a model turns freely, without being pulled out of the turn. Moments
//! and products come from `inertia`.

use nalgebra::{Matrix3, SymmetricEigen};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;
use super::inertia::Inertia;

/// One principal axis: a unit vector and the moment about it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PrincipalAxis {
    /// Moment about it, kg·m².
    pub moment_kg_m2: f64,
    /// Its direction, part along x (aft).
    pub x: f64,
    /// Its direction, part along y (right).
    pub y: f64,
    /// Its direction, part along z (up).
    pub z: f64,
}

/// The three principal axes, each named after the axis of the model that it lies nearest to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PrincipalAxes {
    /// Nearest to x.
    pub roll: PrincipalAxis,
    /// Nearest to y.
    pub pitch: PrincipalAxis,
    /// Nearest to z.
    pub yaw: PrincipalAxis,
    /// How far the roll axis is tilted against x in the side view, degrees; its rear end up is positive.
    pub roll_axis_tilt_deg: f64,
}

/// Why there are no principal axes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PrincipalError {
    /// A number is not finite, or nothing has any inertia.
    #[error("moments and products of inertia must be finite, and not all zero")]
    BadInertia,
    /// The iteration did not end.
    #[error("the principal axes of these moments and products cannot be found")]
    NotFound,
}

/// Principal moments and axes: eigenvalues and eigenvectors of the inertia tensor. Each axis points along the positive
/// axis it is named after. Where two moments are equal, any axes in their plane would do, and some are given.
///
/// # Errors
/// Numbers that are not finite, or all of them zero.
///
/// # Source
/// Textbook mechanics; the eigenvalues by `nalgebra`.
///
/// ```
/// use preen_domain::formulas::{inertia::Inertia, principal::principal_axes};
/// let tilted = Inertia { roll_kg_m2: 2.0, pitch_kg_m2: 4.0, yaw_kg_m2: 2.0, product_xz_kg_m2: 1.0, ..Inertia::default() };
/// let axes = principal_axes(&tilted)?;
/// assert_eq!(format!("{:.3} {:.3}", axes.pitch.moment_kg_m2, axes.roll_axis_tilt_deg.abs()), "4.000 45.000");
/// # Ok::<(), preen_domain::formulas::principal::PrincipalError>(())
/// ```
pub fn principal_axes(about: &Inertia) -> Result<PrincipalAxes, PrincipalError> {
    let Inertia { roll_kg_m2, pitch_kg_m2, yaw_kg_m2, .. } = *about;
    let (xy, xz, yz) = (about.product_xy_kg_m2, about.product_xz_kg_m2, about.product_yz_kg_m2);
    let all = [roll_kg_m2, pitch_kg_m2, yaw_kg_m2, xy, xz, yz];
    let scale = all.iter().fold(0.0_f64, |most, number| most.max(number.abs()));
    if !all_finite(&all) || scale < f64::MIN_POSITIVE {
        return Err(PrincipalError::BadInertia);
    }
    let tensor = Matrix3::new(roll_kg_m2, -xy, -xz, -xy, pitch_kg_m2, -yz, -xz, -yz, yaw_kg_m2) / scale;
    let eigen = SymmetricEigen::try_new(tensor, f64::EPSILON, 1000).ok_or(PrincipalError::NotFound)?;
    let axes: Vec<PrincipalAxis> = eigen
        .eigenvalues
        .iter()
        .zip(eigen.eigenvectors.column_iter())
        .filter_map(|(moment, axis)| {
            let mut parts = axis.iter().copied();
            let (x, y, z) = (parts.next()?, parts.next()?, parts.next()?);
            Some(PrincipalAxis { moment_kg_m2: (moment * scale).max(0.0), x, y, z })
        })
        .collect();
    let [one, two, three] = axes.as_slice() else { return Err(PrincipalError::NotFound) };
    named([*one, *two, *three]).ok_or(PrincipalError::NotFound)
}

/// Gives each axis the name that makes all three lie nearest to the axes they are named after.
fn named([a, b, c]: [PrincipalAxis; 3]) -> Option<PrincipalAxes> {
    let orders = [[a, b, c], [a, c, b], [b, a, c], [b, c, a], [c, a, b], [c, b, a]];
    let nearness = |[roll, pitch, yaw]: &[PrincipalAxis; 3]| roll.x.powi(2) + pitch.y.powi(2) + yaw.z.powi(2);
    let [roll, pitch, yaw] =
        orders.into_iter().max_by(|one, other| nearness(one).total_cmp(&nearness(other)))?;
    let roll = roll.pointing(roll.x);
    Some(PrincipalAxes {
        roll,
        pitch: pitch.pointing(pitch.y),
        yaw: yaw.pointing(yaw.z),
        roll_axis_tilt_deg: roll.z.atan2(roll.x).to_degrees(),
    })
}

impl PrincipalAxis {
    /// The same axis, turned round if its wanted part is negative.
    fn pointing(self, part: f64) -> Self {
        if part < 0.0 { Self { x: -self.x, y: -self.y, z: -self.z, ..self } } else { self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_symmetric_model_has_its_own_axes() {
        let about = Inertia { roll_kg_m2: 0.67, pitch_kg_m2: 0.09, yaw_kg_m2: 0.75, ..Inertia::default() };
        let axes = principal_axes(&about).expect("axes");
        assert_eq!((axes.roll.x, axes.pitch.y, axes.yaw.z), (1.0, 1.0, 1.0));
        assert_eq!((axes.roll.moment_kg_m2, axes.roll_axis_tilt_deg), (0.67, 0.0));
    }

    #[test]
    fn what_has_no_axes_is_refused() {
        assert_eq!(principal_axes(&Inertia::default()), Err(PrincipalError::BadInertia));
        let wrong = Inertia { roll_kg_m2: f64::NAN, ..Inertia::default() };
        assert_eq!(principal_axes(&wrong), Err(PrincipalError::BadInertia));
    }
}
