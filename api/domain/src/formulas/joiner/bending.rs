//! The bending moment at a wing joint and the stress it makes. What the section sets against it lives in `section`.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::range::{OutOfRange, within};

/// Standard acceleration of free fall, m/s². Source: ISO 80000-3.
pub const GRAVITY_M_S2: f64 = 9.806_65;

/// A joint of a wing and what loads it. Places are measured along the panels from the centreline.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JointLoad {
    /// Mass of the whole model that the wing carries, grams.
    pub model_mass_g: f64,
    /// Half of the span, mm.
    pub half_span_mm: f64,
    /// Where the joint is, mm from the centreline.
    pub joint_y_mm: f64,
    /// Mass of everything outboard of the joint, grams.
    pub outboard_mass_g: f64,
    /// Where that mass has its CG, mm from the centreline.
    pub outboard_cg_y_mm: f64,
    /// Load factor: 1 in level flight.
    pub load_factor: f64,
}

/// What bends a joint.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct JointMoment {
    /// Part of a half wing's lift that acts outboard of the joint, 0 to 1.
    pub lift_share: f64,
    /// Where that lift acts, mm from the centreline.
    pub lift_at_y_mm: f64,
    /// Moment of the lift about the joint, N m, bending the tip up.
    pub lift_moment_nm: f64,
    /// Moment of the outboard mass about the joint, N m, relieving it.
    pub relief_moment_nm: f64,
    /// What the joiner carries, N m: lift less relief.
    pub moment_nm: f64,
}

/// Part of an elliptically loaded half wing's lift outboard of η = y/(half span): 1 − (2/π)(η√(1 − η²) + asin η).
///
/// # Errors
/// η outside 0 to 1.
///
/// # Source
/// Integral of the ellipse.
///
/// ```
/// use preen_domain::formulas::joiner::bending::elliptical_share;
/// assert_eq!(elliptical_share(0.0), Ok(1.0));
/// assert_eq!(elliptical_share(960.0 / 1950.0).map(|share| (share * 1000.0).round()), Ok(400.0));
/// ```
pub fn elliptical_share(eta: f64) -> Result<f64, OutOfRange> {
    within("eta", eta, 0.0, 1.0)?;
    Ok((1.0 - 2.0 / PI * (eta * (1.0 - eta * eta).sqrt() + eta.asin())).max(0.0))
}

/// Where the lift outboard of η acts, as a part of the half span: (1 − η²)^(3/2)/3 over the quarter circle's part
/// outboard of η. At the centreline 4/(3π), at the tip 1.
///
/// # Errors
/// η outside 0 to 1.
///
/// # Source
/// Centroid of the ellipse's segment.
///
/// ```
/// use preen_domain::formulas::joiner::bending::outboard_centroid;
/// assert_eq!(outboard_centroid(0.0).map(|at| (at * 1e4).round() / 1e4), Ok(0.4244));
/// assert_eq!(outboard_centroid(1.0), Ok(1.0));
/// ```
pub fn outboard_centroid(eta: f64) -> Result<f64, OutOfRange> {
    let area = PI / 4.0 * elliptical_share(eta)?;
    // Next to the tip both integrals vanish; the lift then acts between the joint and the tip.
    if area < 1e-9 {
        return Ok(f64::midpoint(eta, 1.0));
    }
    Ok(((1.0 - eta * eta).powf(1.5) / 3.0 / area).clamp(eta, 1.0))
}

/// Moment at a joint: M = n·W/2·share·(y_c − y_j) − n·m·g·(y_m − y_j), lift distributed as an ellipse over the whole
/// span, the outboard panel's own weight relieving it. An estimate: flaps, gusts and a hard landing load it
/// otherwise.
///
/// # Errors
/// Masses outside 0 to 1e5 g, a half span outside 10 to 20 000 mm, a joint or an outboard CG off the wing, a load
/// factor outside −100 to 100, an outboard CG inboard of the joint.
///
/// # Source
/// Moment equation with the elliptical lift distribution of lifting-line theory.
///
/// ```
/// use preen_domain::formulas::joiner::bending::{JointLoad, bend_joint};
/// let tip = JointLoad { model_mass_g: 1202.5, half_span_mm: 1950.0, joint_y_mm: 960.0, outboard_mass_g: 130.5,
///     outboard_cg_y_mm: 1392.0, load_factor: 10.0 };
/// let bent = bend_joint(&tip)?;
/// assert_eq!(format!("{:.2} - {:.2}", bent.lift_moment_nm, bent.relief_moment_nm), "9.57 - 5.53");
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn bend_joint(load: &JointLoad) -> Result<JointMoment, OutOfRange> {
    within("model_mass_g", load.model_mass_g, 0.0, 1e5)?;
    within("half_span_mm", load.half_span_mm, 10.0, 20_000.0)?;
    within("joint_y_mm", load.joint_y_mm, 0.0, load.half_span_mm)?;
    within("outboard_mass_g", load.outboard_mass_g, 0.0, 1e5)?;
    within("outboard_cg_y_mm", load.outboard_cg_y_mm, load.joint_y_mm, load.half_span_mm)?;
    within("load_factor", load.load_factor, -100.0, 100.0)?;
    let eta = load.joint_y_mm / load.half_span_mm;
    let lift_share = elliptical_share(eta)?;
    let lift_at_y_mm = load.half_span_mm * outboard_centroid(eta)?;
    let weight_n = |grams: f64| load.load_factor * grams / 1000.0 * GRAVITY_M_S2;
    let lift_moment_nm =
        weight_n(load.model_mass_g) / 2.0 * lift_share * (lift_at_y_mm - load.joint_y_mm) / 1000.0;
    let relief_moment_nm =
        weight_n(load.outboard_mass_g) * (load.outboard_cg_y_mm - load.joint_y_mm) / 1000.0;
    let moment_nm = lift_moment_nm - relief_moment_nm;
    Ok(JointMoment { lift_share, lift_at_y_mm, lift_moment_nm, relief_moment_nm, moment_nm })
}

/// Stress in the outer fibre, MPa: |M|/Z.
///
/// # Errors
/// A moment outside ±1e6 N m, a section modulus outside 1e-6 to 1e9 mm³.
///
/// # Source
/// σ = M/Z.
///
/// ```
/// use preen_domain::formulas::joiner::bending::stress_mpa;
/// assert_eq!(stress_mpa(45.0, 1098.6666666666667 / 3.0).map(|mpa| (mpa * 100.0).round() / 100.0), Ok(122.88));
/// ```
pub fn stress_mpa(moment_nm: f64, z_mm3: f64) -> Result<f64, OutOfRange> {
    within("moment_nm", moment_nm, -1e6, 1e6)?;
    within("z_mm3", z_mm3, 1e-6, 1e9)?;
    Ok(1000.0 * moment_nm.abs() / z_mm3)
}

#[cfg(test)]
mod tests {
    use super::*;

    const LOAD: JointLoad = JointLoad {
        model_mass_g: 1200.0,
        half_span_mm: 1950.0,
        joint_y_mm: 960.0,
        outboard_mass_g: 130.0,
        outboard_cg_y_mm: 1400.0,
        load_factor: 10.0,
    };

    #[test]
    fn a_joint_at_the_very_tip_carries_nothing() {
        let bent = bend_joint(&JointLoad { joint_y_mm: 1950.0, outboard_cg_y_mm: 1950.0, ..LOAD })
            .expect("computable");
        assert_eq!((bent.lift_share, bent.lift_at_y_mm, bent.moment_nm), (0.0, 1950.0, 0.0));
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        let refused = |load: &JointLoad| bend_joint(load).unwrap_err().input;
        assert_eq!(refused(&JointLoad { half_span_mm: 0.0, ..LOAD }), "half_span_mm");
        assert_eq!(refused(&JointLoad { joint_y_mm: 1951.0, ..LOAD }), "joint_y_mm");
        assert_eq!(refused(&JointLoad { outboard_cg_y_mm: 900.0, ..LOAD }), "outboard_cg_y_mm");
        assert_eq!(refused(&JointLoad { load_factor: f64::NAN, ..LOAD }), "load_factor");
        assert_eq!(stress_mpa(1.0, 0.0).map_err(|why| why.input), Err("z_mm3"));
    }
}
