//! Free play at the trailing edge: what the servo's gears and the holes of the rod let the surface move by itself.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::{LinkageError, checked_amount, checked_length, finite};
use super::geometry::LinkagePosition;

/// The movement without a command at one position, from end to end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SurfacePlay {
    /// From the servo, deg at the surface.
    pub servo_deg: f64,
    /// From the holes, deg at the surface.
    pub holes_deg: f64,
    /// From the servo, mm along the arc at the trailing edge.
    pub servo_mm: f64,
    /// From the holes, mm.
    pub holes_mm: f64,
    /// Both, mm: they add up in full, since each is taken up from end to end.
    pub total_mm: f64,
}

/// Play at the surface from the servo's play (deg at its arm, end to end) and from play along the rod (mm, the holes of
/// both ends together): gain·servo play, and rod play over the lever of the horn.
///
/// # Errors
/// A chord that is no length; negative play.
///
/// # Source
/// Geometry of small angles.
///
/// ```
/// use preen_domain::formulas::linkage::geometry::LinkagePosition;
/// use preen_domain::formulas::linkage::play::surface_play;
/// let at = LinkagePosition { servo_deg: 0.0, deflection_deg: 0.0, gain: 1.0, arm_lever_mm: 5.0,
///     horn_lever_mm: 5.0, transmission_deg: 90.0 };
/// // 0.1 mm at a 5 mm horn is 0.02 rad, which is 1.2 mm at a chord of 60 mm.
/// let play = surface_play(&at, 60.0, 0.0, 0.1)?;
/// assert_eq!(format!("{:.2} mm, {:.3}°", play.total_mm, play.holes_deg), "1.20 mm, 1.146°");
/// # Ok::<(), preen_domain::formulas::linkage::LinkageError>(())
/// ```
pub fn surface_play(
    at: &LinkagePosition,
    chord_mm: f64,
    servo_play_deg: f64,
    hole_play_mm: f64,
) -> Result<SurfacePlay, LinkageError> {
    checked_length("chord_mm", chord_mm)?;
    checked_amount("servo_play_deg", servo_play_deg)?;
    checked_amount("hole_play_mm", hole_play_mm)?;
    let servo_deg = finite(at.gain.abs() * servo_play_deg)?;
    let holes_deg = finite((hole_play_mm / at.horn_lever_mm).to_degrees())?;
    let [servo_mm, holes_mm] = [servo_deg, holes_deg].map(|deg| chord_mm * deg.to_radians());
    Ok(SurfacePlay { servo_deg, holes_deg, servo_mm, holes_mm, total_mm: finite(servo_mm + holes_mm)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn play_is_never_negative() {
        let at = LinkagePosition {
            servo_deg: 0.0,
            deflection_deg: 0.0,
            gain: -1.0,
            arm_lever_mm: 5.0,
            horn_lever_mm: 5.0,
            transmission_deg: 90.0,
        };
        assert_eq!(surface_play(&at, 60.0, 0.5, 0.0).expect("play").servo_deg, 0.5);
        let check = |servo, holes, field| {
            assert_eq!(surface_play(&at, 60.0, servo, holes), Err(LinkageError::Negative { field }));
        };
        check(-0.1, 0.0, "servo_play_deg");
        check(0.0, -0.1, "hole_play_mm");
    }
}
