//! From the angle of a surface to millimetres at its trailing edge and back. Three measures are in use and differ, so
//! which one is meant is always said.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::error::{LinkageError, checked_angle, checked_length, checked_place};

/// How a throw is measured at the trailing edge.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ThrowMeasure {
    /// Straight from where the edge was to where it is: what a ruler between the two shows.
    #[default]
    StraightChord,
    /// At right angles to the surface's neutral plane.
    Normal,
    /// Along the arc.
    Arc,
}

impl ThrowMeasure {
    /// The throw for a deflection, mm, with its sign: 2c·sin(δ/2), c·sin δ or c·δ.
    ///
    /// # Errors
    /// A chord that is no length; an angle beyond one turn.
    ///
    /// # Source
    /// Geometry.
    ///
    /// ```
    /// use preen_domain::formulas::linkage::throws::ThrowMeasure;
    /// let mm = |measure: ThrowMeasure| measure.throw_mm(100.0, 30.0).map(|mm| (mm * 100.0).round() / 100.0);
    /// assert_eq!(mm(ThrowMeasure::Normal)?, 50.0);
    /// assert_eq!(mm(ThrowMeasure::StraightChord)?, 51.76);
    /// assert_eq!(mm(ThrowMeasure::Arc)?, 52.36);
    /// # Ok::<(), preen_domain::formulas::linkage::LinkageError>(())
    /// ```
    pub fn throw_mm(self, chord_mm: f64, deflection_deg: f64) -> Result<f64, LinkageError> {
        checked_length("chord_mm", chord_mm)?;
        checked_angle("deflection_deg", deflection_deg)?;
        let deflection = deflection_deg.to_radians();
        Ok(match self {
            Self::StraightChord => 2.0 * chord_mm * (deflection / 2.0).sin(),
            Self::Normal => chord_mm * deflection.sin(),
            Self::Arc => chord_mm * deflection,
        })
    }

    /// The deflection for a throw, deg, the smaller one where two give the same.
    ///
    /// # Errors
    /// A chord that is no length; a throw longer than this measure can be.
    pub fn deflection_deg(self, chord_mm: f64, throw_mm: f64) -> Result<f64, LinkageError> {
        checked_length("chord_mm", chord_mm)?;
        checked_place("throw_mm", throw_mm)?;
        let (most_mm, deflection) = match self {
            Self::StraightChord => (2.0 * chord_mm, 2.0 * (throw_mm / (2.0 * chord_mm)).asin()),
            Self::Normal => (chord_mm, (throw_mm / chord_mm).asin()),
            Self::Arc => (std::f64::consts::TAU * chord_mm, throw_mm / chord_mm),
        };
        if throw_mm.abs() <= most_mm && deflection.is_finite() {
            Ok(deflection.to_degrees())
        } else {
            Err(LinkageError::OutOfRange { field: "throw_mm", least: -most_mm, most: most_mm })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_throw_comes_back_as_its_deflection() {
        for measure in [ThrowMeasure::StraightChord, ThrowMeasure::Normal, ThrowMeasure::Arc] {
            for deg in [-80.0, -6.5, 0.0, 15.0, 89.0] {
                let throw = measure.throw_mm(62.0, deg).expect("a throw");
                assert!((measure.deflection_deg(62.0, throw).expect("a deflection") - deg).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn a_throw_longer_than_the_chord_allows_is_refused() {
        let refused = ThrowMeasure::Normal.deflection_deg(40.0, 40.5);
        assert_eq!(refused, Err(LinkageError::OutOfRange { field: "throw_mm", least: -40.0, most: 40.0 }));
        assert_eq!(
            ThrowMeasure::Arc.throw_mm(0.0, 5.0),
            Err(LinkageError::NotPositive { field: "chord_mm" })
        );
    }
}
