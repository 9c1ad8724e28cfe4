//! Thin-aerofoil derivatives of a plain flap: what its deflection does to lift, to pitch and to its own hinge. No
//! thickness, no gap, no viscosity: a first estimate, and for the hinge an upper value.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::LinkageError;

/// Derivatives of a plain flap, each per radian but the ratio; flap down and nose up positive.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FlapDerivatives {
    /// Flap effectiveness a₂/a₁: degrees of incidence that a degree of flap is worth.
    pub tau: f64,
    /// Lift by flap, ∂C_L/∂η.
    pub a2_per_rad: f64,
    /// Pitching moment about the quarter chord by flap, ∂C_m/∂η.
    pub cm_per_rad: f64,
    /// Hinge moment by incidence, ∂C_H/∂α; negative: it blows the flap up.
    pub b1_per_rad: f64,
    /// Hinge moment by flap, ∂C_H/∂η; negative: it blows the flap back.
    pub b2_per_rad: f64,
}

/// Thinnest and thickest share of the chord taken.
const LEAST_RATIO: f64 = 0.01;
const MOST_RATIO: f64 = 0.95;

/// Beyond this deflection the flow over a plain flap lets go and the theory says too much, deg. Common practice, no
/// source.
pub const THEORY_HOLDS_TO_DEG: f64 = 15.0;

/// The derivatives of a flap that is `chord_ratio` of the whole chord (0.01 to 0.95), with hinge-moment coefficient
/// C_H = H/(½ρV²·S_f·c_f) over the flap's own area and chord.
///
/// With cos φ = 2F − 1: τ = 1 − (φ − sin φ)/π; a₂ = 2πτ; ∂C_m/∂η = −½ sin φ (1 − cos φ);
/// b₁ = −[(π − φ)(cos φ − ½) + sin φ (1 − ½ cos φ)]/F²;
/// b₂ = −[(1 − cos 2φ) − 2(π − φ)²(1 − 2 cos φ) + 4(π − φ) sin φ]/(4πF²).
///
/// # Errors
/// A ratio outside 0.01 to 0.95.
///
/// # Source
/// H. Glauert, *Theoretical Relationships for an Aerofoil with Hinged Flap*, 1927; E. L. Houghton, P. W. Carpenter,
/// *Aerodynamics for Engineering Students*, thin-aerofoil theory, equations 4.49 to 4.54.
///
/// ```
/// use preen_domain::formulas::linkage::flap_derivatives::flap_derivatives;
/// // Half the chord: φ = 90°, so τ = 1 − (π/2 − 1)/π = 1/2 + 1/π.
/// let half = flap_derivatives(0.5)?;
/// assert!((half.tau - (0.5 + std::f64::consts::FRAC_1_PI)).abs() < 1e-12);
/// assert!((half.cm_per_rad + 0.5).abs() < 1e-12);
/// # Ok::<(), preen_domain::formulas::linkage::LinkageError>(())
/// ```
pub fn flap_derivatives(chord_ratio: f64) -> Result<FlapDerivatives, LinkageError> {
    let field = "chord_ratio";
    if !chord_ratio.is_finite() {
        return Err(LinkageError::NotFinite { field });
    }
    if !(LEAST_RATIO..=MOST_RATIO).contains(&chord_ratio) {
        return Err(LinkageError::OutOfRange { field, least: LEAST_RATIO, most: MOST_RATIO });
    }
    let cos = 2.0 * chord_ratio - 1.0;
    let phi = cos.acos();
    let sin = phi.sin();
    let rest = PI - phi;
    let tau = 1.0 - (phi - sin) / PI;
    let square = chord_ratio * chord_ratio;
    let by_incidence = rest * (cos - 0.5) + sin * (1.0 - cos / 2.0);
    let by_flap = (1.0 - (2.0 * phi).cos()) - 2.0 * rest * rest * (1.0 - 2.0 * cos) + 4.0 * rest * sin;
    Ok(FlapDerivatives {
        tau,
        a2_per_rad: 2.0 * PI * tau,
        cm_per_rad: -0.5 * sin * (1.0 - cos),
        b1_per_rad: -by_incidence / square,
        b2_per_rad: -by_flap / (4.0 * PI * square),
    })
}

impl FlapDerivatives {
    /// How strongly the air turns the flap back to neutral at a deflection and an incidence (deg, nose up positive):
    /// −(b₁α + b₂η), positive against a flap that is down.
    #[must_use]
    pub fn hinge_coefficient(&self, deflection_deg: f64, incidence_deg: f64) -> f64 {
        -(self.b1_per_rad * incidence_deg.to_radians() + self.b2_per_rad * deflection_deg.to_radians())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ratio_that_is_no_flap_is_refused() {
        for ratio in [0.0, -0.2, 0.96, 1.0, 62.0] {
            assert!(matches!(flap_derivatives(ratio), Err(LinkageError::OutOfRange { .. })), "{ratio}");
        }
        assert!(matches!(flap_derivatives(f64::NAN), Err(LinkageError::NotFinite { .. })));
    }

    #[test]
    fn a_flap_that_is_down_is_blown_back_and_incidence_blows_it_up() {
        let flap = flap_derivatives(0.27).expect("a flap");
        assert!(flap.hinge_coefficient(9.1, 0.0) > 0.0);
        assert!(flap.hinge_coefficient(0.0, 4.0) > 0.0);
        assert_eq!(flap.hinge_coefficient(-9.1, 0.0), -flap.hinge_coefficient(9.1, 0.0));
    }
}
