//! Neutral point and static margin, estimated from wing and tail alone. Geometry comes from `planform`; anything that
//! needs an aerofoil's polar is not here.
//!
//! No fuselage is in the estimate: about ± 3 % MAC (common practice, no source); flight trim decides.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;

/// How far the estimate may be off, per cent MAC. Common practice, no source.
pub const UNCERTAIN_BY_PERCENT_MAC: f64 = 3.0;

/// Wing and tail of the estimate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WingAndTail {
    /// Wing area, dm².
    pub wing_area_dm2: f64,
    /// Wing aspect ratio.
    pub wing_aspect_ratio: f64,
    /// Mean aerodynamic chord of the wing, mm.
    pub mac_mm: f64,
    /// Aerodynamic centre of the wing (quarter chord of the MAC), mm aft of the datum.
    pub wing_centre_x_mm: f64,
    /// Tail area, dm²; of a V-tail, see [`pitch_area_dm2`].
    pub tail_area_dm2: f64,
    /// Tail span, mm.
    pub tail_span_mm: f64,
    /// Aerodynamic centre of the tail, mm aft of the datum.
    pub tail_centre_x_mm: f64,
}

/// The estimate, and the steps it went through.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct NeutralPoint {
    /// Neutral point, mm aft of the datum.
    pub neutral_x_mm: f64,
    /// Lift slope of the wing, per radian.
    pub wing_lift_slope_per_rad: f64,
    /// Lift slope of the tail, per radian.
    pub tail_lift_slope_per_rad: f64,
    /// Change of downwash with the angle of attack.
    pub downwash_slope: f64,
    /// Tail volume: tail area × arm between the aerodynamic centres / (wing area × MAC).
    pub tail_volume: f64,
}

/// Why there is no neutral point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StabilityError {
    /// Areas, spans, chords and aspect ratios must be positive.
    #[error("areas, spans, chords and aspect ratios must be finite and above zero")]
    NotPositive,
    /// A place or an angle is not a number that can be used.
    #[error("places must be finite, and the dihedral of a V-tail below 90 degrees")]
    BadPlace,
}

/// Share of the free stream's dynamic pressure at the tail. Common practice, no source.
const TAIL_PRESSURE: f64 = 0.95;

/// Estimates the neutral point: a = 2πA/(A+2) for wing and tail, dε/dα = 2·a_w/(πA),
/// k = 0.95·(a_t/a_w)·(1 − dε/dα)·(S_t/S), x_np = (x_w + k·x_t)/(1 + k).
///
/// Units dm² and mm, x aft.
///
/// # Errors
/// Sizes that are not positive, places that are not finite.
///
/// # Source
/// Lifting-line slopes and downwash of an elliptical wing (textbook aerodynamics); the tail's share of the lift is in
/// the denominator.
///
/// ```
/// use preen_domain::formulas::stability::{WingAndTail, neutral_point};
/// let estimate = neutral_point(&WingAndTail {
///     wing_area_dm2: 70.89, wing_aspect_ratio: 21.46, mac_mm: 193.7, wing_centre_x_mm: 65.1,
///     tail_area_dm2: 5.9, tail_span_mm: 560.0, tail_centre_x_mm: 1072.0,
/// })?;
/// assert_eq!(estimate.neutral_x_mm.round(), 115.0);
/// # Ok::<(), preen_domain::formulas::stability::StabilityError>(())
/// ```
pub fn neutral_point(of: &WingAndTail) -> Result<NeutralPoint, StabilityError> {
    let sizes = [of.wing_area_dm2, of.wing_aspect_ratio, of.mac_mm, of.tail_area_dm2, of.tail_span_mm];
    if !all_finite(&sizes) || sizes.iter().any(|size| *size <= 0.0) {
        return Err(StabilityError::NotPositive);
    }
    // dm² to mm² for the aspect ratio.
    let tail_aspect_ratio = of.tail_span_mm.powi(2) / (of.tail_area_dm2 * 1e4);
    let wing_slope = lift_slope(of.wing_aspect_ratio);
    let tail_slope = lift_slope(tail_aspect_ratio);
    let downwash_slope = 2.0 * wing_slope / (std::f64::consts::PI * of.wing_aspect_ratio);
    let area_ratio = of.tail_area_dm2 / of.wing_area_dm2;
    let share = TAIL_PRESSURE * (tail_slope / wing_slope) * (1.0 - downwash_slope) * area_ratio;
    let neutral_x_mm = (of.wing_centre_x_mm + share * of.tail_centre_x_mm) / (1.0 + share);
    let tail_volume = area_ratio * (of.tail_centre_x_mm - of.wing_centre_x_mm) / of.mac_mm;
    if !all_finite(&[neutral_x_mm, tail_volume, tail_slope]) {
        return Err(StabilityError::BadPlace);
    }
    Ok(NeutralPoint {
        neutral_x_mm,
        wing_lift_slope_per_rad: wing_slope,
        tail_lift_slope_per_rad: tail_slope,
        downwash_slope,
        tail_volume,
    })
}

fn lift_slope(aspect_ratio: f64) -> f64 {
    std::f64::consts::TAU * aspect_ratio / (aspect_ratio + 2.0)
}

/// Static margin, per cent MAC: positive when the CG lies in front of the neutral point (stable).
///
/// # Errors
/// A MAC that is not positive, places that are not finite.
///
/// ```
/// use preen_domain::formulas::stability::static_margin_percent;
/// assert_eq!(static_margin_percent(115.0, 96.5, 185.0), Ok(10.0));
/// ```
pub fn static_margin_percent(neutral_x_mm: f64, cg_x_mm: f64, mac_mm: f64) -> Result<f64, StabilityError> {
    if !mac_mm.is_finite() || mac_mm <= 0.0 {
        return Err(StabilityError::NotPositive);
    }
    let margin = 100.0 * (neutral_x_mm - cg_x_mm) / mac_mm;
    if margin.is_finite() { Ok(margin) } else { Err(StabilityError::BadPlace) }
}

/// Area of a V-tail that counts for pitch: area · cos²(dihedral of its panels against the horizontal), dm².
///
/// # Errors
/// An area that is not positive, an angle of 90° or more.
///
/// ```
/// use preen_domain::formulas::stability::pitch_area_dm2;
/// assert_eq!(pitch_area_dm2(8.0, 45.0).map(|area| (area * 1e6).round() / 1e6), Ok(4.0));
/// ```
pub fn pitch_area_dm2(area_dm2: f64, dihedral_deg: f64) -> Result<f64, StabilityError> {
    if !area_dm2.is_finite() || area_dm2 <= 0.0 {
        return Err(StabilityError::NotPositive);
    }
    if !dihedral_deg.is_finite() || dihedral_deg.abs() >= 90.0 {
        return Err(StabilityError::BadPlace);
    }
    Ok(area_dm2 * dihedral_deg.to_radians().cos().powi(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: WingAndTail = WingAndTail {
        wing_area_dm2: 70.89,
        wing_aspect_ratio: 21.46,
        mac_mm: 193.7,
        wing_centre_x_mm: 65.1,
        tail_area_dm2: 5.9,
        tail_span_mm: 560.0,
        tail_centre_x_mm: 1072.0,
    };

    #[test]
    fn sizes_and_places_that_make_no_sense_are_refused() {
        let check = |of, expected| assert_eq!(neutral_point(&of), Err(expected));
        check(WingAndTail { wing_area_dm2: 0.0, ..GOOD }, StabilityError::NotPositive);
        check(WingAndTail { tail_span_mm: f64::NAN, ..GOOD }, StabilityError::NotPositive);
        check(WingAndTail { tail_centre_x_mm: f64::INFINITY, ..GOOD }, StabilityError::BadPlace);
        assert_eq!(static_margin_percent(115.0, 96.5, 0.0), Err(StabilityError::NotPositive));
        assert_eq!(static_margin_percent(f64::NAN, 96.5, 193.7), Err(StabilityError::BadPlace));
        assert_eq!(pitch_area_dm2(8.0, 90.0), Err(StabilityError::BadPlace));
        assert_eq!(pitch_area_dm2(0.0, 35.0), Err(StabilityError::NotPositive));
    }
}
