//! Solid wire by gauge: diameter, area, resistance at a temperature. Stranded wire is bought by tables: see
//! `stranded`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::range::{OutOfRange, within};

/// Thickest gauge taken: 4/0, counted as −3.
pub const THICKEST_AWG: i32 = -3;

/// Thinnest gauge taken.
pub const THINNEST_AWG: i32 = 40;

/// Resistivity of annealed copper at 20 °C, Ω mm²/m. Source: IEC 60028.
pub const COPPER_OHM_MM2_PER_M: f64 = 0.017_241;

/// Change of copper's resistance for each kelvin away from 20 °C. Source: IEC 60028.
pub const COPPER_PER_K: f64 = 0.003_93;

/// Lowest and highest temperature of a conductor taken, °C.
pub const TEMPERATURES_C: (f64, f64) = (-60.0, 250.0);

/// What a conductor is made of, for run lengths by temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Metal {
    /// Copper.
    Copper,
    /// Aluminium.
    Aluminium,
}

/// Diameter of a gauge, mm: d = 0.127·92^((36 − n)/39), so that 36 is 0.127 mm and 4/0 (n = −3) is 92 times that.
///
/// # Errors
/// A gauge outside −3 to 40.
///
/// # Source
/// ASTM B258, formula.
///
/// ```
/// use preen_domain::formulas::wire::gauge::awg_diameter_mm;
/// assert_eq!(awg_diameter_mm(36), Ok(0.127));
/// assert_eq!(awg_diameter_mm(22).map(|mm| (mm * 1e4).round() / 1e4), Ok(0.6438));
/// ```
pub fn awg_diameter_mm(awg: i32) -> Result<f64, OutOfRange> {
    let gauge = f64::from(awg);
    within("awg", gauge, f64::from(THICKEST_AWG), f64::from(THINNEST_AWG))?;
    Ok(0.127 * 92_f64.powf((36.0 - gauge) / 39.0))
}

/// Copper area of a gauge, mm²: π·d²/4.
///
/// # Errors
/// A gauge outside −3 to 40.
///
/// # Source
/// ASTM B258, formula.
///
/// ```
/// use preen_domain::formulas::wire::gauge::awg_area_mm2;
/// assert_eq!(awg_area_mm2(20).map(|mm2| (mm2 * 1e4).round() / 1e4), Ok(0.5176));
/// ```
pub fn awg_area_mm2(awg: i32) -> Result<f64, OutOfRange> {
    Ok(std::f64::consts::PI / 4.0 * awg_diameter_mm(awg)?.powi(2))
}

/// How many times its resistance at 20 °C copper has at another temperature: 1 + 0.00393·(T − 20).
///
/// # Errors
/// A temperature outside −60 to 250 °C.
///
/// # Source
/// IEC 60028.
///
/// ```
/// use preen_domain::formulas::wire::gauge::copper_hot_ratio;
/// assert_eq!(copper_hot_ratio(20.0), Ok(1.0));
/// assert_eq!(copper_hot_ratio(60.0).map(|ratio| (ratio * 1e4).round() / 1e4), Ok(1.1572));
/// ```
pub fn copper_hot_ratio(temperature_c: f64) -> Result<f64, OutOfRange> {
    within("temperature_c", temperature_c, TEMPERATURES_C.0, TEMPERATURES_C.1)?;
    Ok(1.0 + COPPER_PER_K * (temperature_c - 20.0))
}

/// Resistance of solid copper, mΩ for each metre: 1000·ρ·(1 + 0.00393·(T − 20))/A.
///
/// # Errors
/// An area outside 0.001 to 1000 mm², a temperature outside −60 to 250 °C.
///
/// # Source
/// Resistivity and its temperature coefficient: IEC 60028.
///
/// ```
/// use preen_domain::formulas::wire::gauge::{awg_area_mm2, copper_mohm_per_m};
/// let cold = copper_mohm_per_m(awg_area_mm2(26)?, 20.0)?;
/// assert_eq!(format!("{cold:.1}"), "133.9");
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn copper_mohm_per_m(area_mm2: f64, temperature_c: f64) -> Result<f64, OutOfRange> {
    within("area_mm2", area_mm2, 0.001, 1000.0)?;
    Ok(1000.0 * COPPER_OHM_MM2_PER_M * copper_hot_ratio(temperature_c)? / area_mm2)
}

/// Length at which a hot conductor drops as much as `length` of it does at 20 °C, in the unit of `length`:
/// L₂ = (K + 20)·L₁/(K + T), K = 234.5 for copper, 238.1 for aluminium (both minus the temperature at which the
/// straight line of resistance would reach zero).
///
/// # Errors
/// A length outside 0 to 1e6, a temperature outside −60 to 250 °C.
///
/// # Source
/// FAA AC 43.13-1B, para 11-66d(4).
///
/// ```
/// use preen_domain::formulas::wire::gauge::{Metal, hot_run_length};
/// let hot = hot_run_length(Metal::Copper, 39.0, 60.0)?;
/// assert_eq!(format!("{hot:.4}"), "33.7029");
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn hot_run_length(metal: Metal, length: f64, temperature_c: f64) -> Result<f64, OutOfRange> {
    within("length", length, 0.0, 1e6)?;
    within("temperature_c", temperature_c, TEMPERATURES_C.0, TEMPERATURES_C.1)?;
    let zero_at = match metal {
        Metal::Copper => 234.5,
        Metal::Aluminium => 238.1,
    };
    Ok((zero_at + 20.0) * length / (zero_at + temperature_c))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        assert_eq!(awg_diameter_mm(41).map_err(|why| why.input), Err("awg"));
        assert_eq!(awg_area_mm2(i32::MIN).map_err(|why| why.input), Err("awg"));
        assert_eq!(copper_mohm_per_m(0.0, 20.0).map_err(|why| why.input), Err("area_mm2"));
        assert_eq!(copper_hot_ratio(f64::NAN).map_err(|why| why.input), Err("temperature_c"));
        assert_eq!(hot_run_length(Metal::Copper, 1.0, -234.5).map_err(|why| why.input), Err("temperature_c"));
    }

    #[test]
    fn four_times_zero_is_the_thickest() {
        let thickest = awg_diameter_mm(THICKEST_AWG).expect("a gauge");
        assert!((thickest - 0.127 * 92.0).abs() < 1e-12, "{thickest}");
    }
}
