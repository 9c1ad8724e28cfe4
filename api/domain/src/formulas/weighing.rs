//! Mass and CG from readings on two or more supports, with standard uncertainties of scales, places and levelling.
//! Several weighings taken together live in `reweigh`, readings beyond what a CG needs in `support_check`, the
//! comparison with a mass list in `reconcile`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;

/// One support on a scale: its net reading and where it touches.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SupportReading {
    /// Reading without tare, grams, not negative.
    pub reading_g: f64,
    /// Where the support touches, mm aft of the datum.
    pub x_mm: f64,
    /// Where the support touches, mm right of the centreline.
    #[serde(default)]
    pub y_mm: f64,
    /// Standard uncertainty of the reading, grams.
    #[serde(default)]
    pub u_reading_g: f64,
    /// Standard uncertainty of the place, mm, the same along x and y.
    #[serde(default)]
    pub u_place_mm: f64,
}

/// How the model stood while it was weighed. The default is a model that stood perfectly level.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Levelling {
    /// Standard uncertainty (1u) of the angle at which the model stands, in pitch and in roll alike, degrees.
    pub u_angle_deg: f64,
    /// Height of the CG above the plane of the supports, mm; below it negative.
    pub cg_height_mm: f64,
}

impl Levelling {
    /// What the angle makes of a CG coordinate: height · tan(angle), mm (1u).
    ///
    /// # Errors
    /// An angle that is negative, 90° or more, or a height that is not finite.
    fn u_mm(self) -> Result<f64, WeighingError> {
        let shift_mm = levelling_error_mm(self.u_angle_deg, self.cg_height_mm);
        shift_mm.filter(|_| self.u_angle_deg >= 0.0).map(f64::abs).ok_or(WeighingError::BadLevelling)
    }
}

/// A weighed CG coordinate with its standard uncertainty (1u) and what that is made of.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeighedArm {
    /// The coordinate, mm.
    pub at_mm: f64,
    /// Combined standard uncertainty (1u), mm.
    pub u_mm: f64,
    /// The share of the scales, mm.
    pub u_scale_mm: f64,
    /// The share of where the supports touch, mm.
    pub u_place_mm: f64,
    /// The share of how level the model stood, mm.
    pub u_level_mm: f64,
    /// The share of the scatter between repeated weighings, mm; 0 for one.
    pub u_scatter_mm: f64,
}

/// What a weighing shows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Weighed {
    /// Sum of the readings, grams.
    pub mass_g: f64,
    /// Standard uncertainty (1u) of the mass, grams.
    pub u_mass_g: f64,
    /// CG along x; `None` when all supports share one x, which shows nothing about it.
    pub x: Option<WeighedArm>,
    /// CG along y; `None` when all supports share one y.
    pub y: Option<WeighedArm>,
}

/// Why readings give no CG. Supports are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WeighingError {
    /// Fewer than two supports.
    #[error("a CG needs at least two supports")]
    TooFewSupports,
    /// All supports touch at one place.
    #[error("all supports touch at the same place, so the readings say nothing about the CG; move one")]
    CoincidentSupports,
    /// A number of a support is infinite or not a number.
    #[error("support {support} holds a number that is not finite")]
    NotFinite {
        /// Support, from 1.
        support: usize,
    },
    /// A reading is negative.
    #[error("support {support} reads below zero; tare the scale and weigh again")]
    NegativeReading {
        /// Support, from 1.
        support: usize,
    },
    /// An uncertainty is negative.
    #[error("support {support} has a negative uncertainty; give 0 or more")]
    NegativeUncertainty {
        /// Support, from 1.
        support: usize,
    },
    /// The levelling is none.
    #[error("the levelling needs an angle from 0 to below 90° and a finite height of the CG")]
    BadLevelling,
    /// The readings add up to zero.
    #[error("the readings add up to zero, so there is nothing to balance")]
    NoMass,
    /// The numbers are too large for the sums to be finite.
    #[error("the numbers are too large to add up; check the units (grams and millimetres)")]
    TooLarge,
}

/// Mass and CG of a model standing level on supports: M = ΣW, x = Σ(W·x)/M, y alike. However the load is shared between
/// more supports than three, equilibrium alone gives the CG.
///
/// u²(x) = Σ[(xᵢ − x)²·u²(Wᵢ)]/M² + Σ[(Wᵢ/M)²·u²(xᵢ)] + (h·tan u(φ))²: the scales' share, the share of where the
/// supports touch, the share of the levelling with the CG h above the supports. Units g and mm; x aft, y right
/// positive; uncertainties are 1u.
///
/// # Errors
/// Fewer than two supports, all at one place, numbers that are not finite, negative readings or uncertainties,
/// a levelling of 90° or more, readings that add up to zero.
///
/// # Source
/// Moments: FAA-H-8083-1B ch. 3. Combination of uncertainties: JCGM 100:2008, 5.1.2.
///
/// ```
/// use preen_domain::formulas::weighing::{Levelling, SupportReading, weigh};
/// let on = |x_mm, reading_g| SupportReading { reading_g, x_mm, y_mm: 0.0, u_reading_g: 0.5, u_place_mm: 0.5 };
/// let supports = [on(-60.0, 878.0), on(520.0, 324.5)];
/// let weighed = weigh(&supports, Levelling::default())?;
/// let x = weighed.x.ok_or("both supports at one x")?;
/// assert_eq!(weighed.mass_g, 1202.5);
/// assert_eq!(format!("{:.2} ± {:.2}", x.at_mm, x.u_mm), "96.52 ± 0.43");
/// assert_eq!(weighed.y, None);
/// // Level within 1°, the CG 40 mm above the supports: 0.70 mm more, the largest share.
/// let tilted = weigh(&supports, Levelling { u_angle_deg: 1.0, cg_height_mm: 40.0 })?;
/// let x = tilted.x.ok_or("both supports at one x")?;
/// assert_eq!(format!("{:.2} {:.2}", x.u_level_mm, x.u_mm), "0.70 0.82");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn weigh(supports: &[SupportReading], levelling: Levelling) -> Result<Weighed, WeighingError> {
    check_supports(supports)?;
    let u_level_mm = levelling.u_mm()?;
    let mass_g: f64 = supports.iter().map(|support| support.reading_g).sum();
    if mass_g <= 0.0 {
        return Err(WeighingError::NoMass);
    }
    let u_mass_g = supports.iter().map(|support| support.u_reading_g.powi(2)).sum::<f64>().sqrt();
    let x = arm(supports, mass_g, u_level_mm, |support| support.x_mm);
    let y = arm(supports, mass_g, u_level_mm, |support| support.y_mm);
    if x.is_none() && y.is_none() {
        return Err(WeighingError::CoincidentSupports);
    }
    let arms_finite = [x, y].iter().flatten().all(|arm| all_finite(&[arm.at_mm, arm.u_mm]));
    if arms_finite && all_finite(&[mass_g, u_mass_g]) {
        Ok(Weighed { mass_g, u_mass_g, x, y })
    } else {
        Err(WeighingError::TooLarge)
    }
}

fn arm(
    supports: &[SupportReading],
    mass_g: f64,
    u_level_mm: f64,
    place: fn(&SupportReading) -> f64,
) -> Option<WeighedArm> {
    let first = supports.first().map(place)?;
    if supports.iter().all(|support| place(support) == first) {
        return None;
    }
    let at_mm = supports.iter().map(|support| support.reading_g * place(support)).sum::<f64>() / mass_g;
    let scale: f64 = supports
        .iter()
        .map(|support| ((place(support) - at_mm) * support.u_reading_g / mass_g).powi(2))
        .sum();
    let touch: f64 =
        supports.iter().map(|support| (support.reading_g * support.u_place_mm / mass_g).powi(2)).sum();
    let u_mm = (scale + touch + u_level_mm.powi(2)).sqrt();
    Some(WeighedArm {
        at_mm,
        u_mm,
        u_scale_mm: scale.sqrt(),
        u_place_mm: touch.sqrt(),
        u_level_mm,
        u_scatter_mm: 0.0,
    })
}

fn check_supports(supports: &[SupportReading]) -> Result<(), WeighingError> {
    if supports.len() < 2 {
        return Err(WeighingError::TooFewSupports);
    }
    for (index, on) in supports.iter().enumerate() {
        let support = index + 1;
        if !all_finite(&[on.reading_g, on.x_mm, on.y_mm, on.u_reading_g, on.u_place_mm]) {
            return Err(WeighingError::NotFinite { support });
        }
        if on.reading_g < 0.0 {
            return Err(WeighingError::NegativeReading { support });
        }
        if on.u_reading_g < 0.0 || on.u_place_mm < 0.0 {
            return Err(WeighingError::NegativeUncertainty { support });
        }
    }
    Ok(())
}

/// How far a weighed x is off when the model stands nose up or down by `pitch_deg` with its CG `height_mm` above
/// the supports: height · tan(pitch), mm; nose up positive moves the reading aft.
///
/// # Errors
/// `None` when an input is not finite or the pitch is 90° or more.
///
/// # Source
/// Geometry.
///
/// ```
/// use preen_domain::formulas::weighing::levelling_error_mm;
/// assert_eq!(levelling_error_mm(1.0, 40.0).map(|mm| (mm * 100.0).round() / 100.0), Some(0.70));
/// ```
#[must_use]
pub fn levelling_error_mm(pitch_deg: f64, height_mm: f64) -> Option<f64> {
    let shift_mm = height_mm * pitch_deg.to_radians().tan();
    (pitch_deg.abs() < 90.0 && shift_mm.is_finite()).then_some(shift_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(x_mm: f64, reading_g: f64) -> SupportReading {
        SupportReading { reading_g, x_mm, y_mm: 0.0, u_reading_g: 0.5, u_place_mm: 0.5 }
    }

    #[test]
    fn what_gives_no_cg_is_refused_with_its_support() {
        let check = |supports: &[SupportReading], expected| {
            assert_eq!(weigh(supports, Levelling::default()), Err(expected));
        };
        check(&[on(0.0, 1.0)], WeighingError::TooFewSupports);
        check(&[on(5.0, 1.0), on(5.0, 2.0)], WeighingError::CoincidentSupports);
        check(&[on(0.0, 0.0), on(5.0, 0.0)], WeighingError::NoMass);
        check(&[on(0.0, 1.0), on(5.0, -1.0)], WeighingError::NegativeReading { support: 2 });
        check(&[on(f64::INFINITY, 1.0), on(5.0, 1.0)], WeighingError::NotFinite { support: 1 });
        let shy = SupportReading { u_place_mm: -0.5, ..on(5.0, 1.0) };
        check(&[on(0.0, 1.0), shy], WeighingError::NegativeUncertainty { support: 2 });
        check(&[on(1e200, 1e200), on(0.0, 1.0)], WeighingError::TooLarge);
        assert_eq!(levelling_error_mm(90.0, 40.0), None);
        for (u_angle_deg, cg_height_mm) in [(-1.0, 40.0), (90.0, 40.0), (f64::NAN, 1.0), (1.0, f64::INFINITY)]
        {
            let level = Levelling { u_angle_deg, cg_height_mm };
            assert_eq!(
                weigh(&[on(0.0, 1.0), on(5.0, 1.0)], level),
                Err(WeighingError::BadLevelling),
                "{u_angle_deg} {cg_height_mm}"
            );
        }
    }
}
