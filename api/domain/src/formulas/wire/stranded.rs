//! Stranded wire: greatest resistances as published, by gauge and by metric area, and an estimate for gauges that no
//! table here holds. Solid wire follows from its area: see `gauge`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::gauge::{awg_area_mm2, copper_hot_ratio, copper_mohm_per_m};
use crate::formulas::range::{OutOfRange, within};

/// Gauge, greatest resistance at 20 °C in Ω for each 1000 ft, and area in circular mils of tin-plated stranded
/// copper. Source: FAA AC 43.13-1B with change 1, Table 11-9.
pub const TINNED_STRANDED: [(i32, f64, u32); 11] = [
    (24, 28.4, 475),
    (22, 16.2, 755),
    (20, 9.88, 1216),
    (18, 6.23, 1900),
    (16, 4.81, 2426),
    (14, 3.06, 3831),
    (12, 2.02, 5874),
    (10, 1.26, 9354),
    (8, 0.7, 16983),
    (6, 0.44, 26818),
    (4, 0.28, 42615),
];

/// Area in mm² and greatest resistance at 20 °C in Ω/km of plain flexible copper, class 5. Source: IEC 60228 (the
/// rows of 0.5 and 0.75 mm² and the attribution from memory).
pub const FLEXIBLE_CLASS_5: [(f64, f64); 10] = [
    (0.5, 39.0),
    (0.75, 26.0),
    (1.0, 19.5),
    (1.5, 13.3),
    (2.5, 7.98),
    (4.0, 4.95),
    (6.0, 3.3),
    (10.0, 1.91),
    (16.0, 1.21),
    (25.0, 0.78),
];

/// How much longer a strand is than the wire it lies in. From memory (lay allowance of concentric stranded copper,
/// ASTM B8).
pub const LAY_RATIO: f64 = 1.02;

const FEET_1000_M: f64 = 304.8;

/// Where a resistance comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WireSource {
    /// Resistivity over copper area: what a solid conductor of that size has.
    CopperArea,
    /// The greatest value that a published table permits: a real wire is at or below it.
    TableGreatest,
    /// Copper area and two per cent for the lay of the strands; no published table here holds the size.
    AreaAndLay,
    /// Measured by the asker.
    Given,
}

/// Resistance of a wire for each metre, and where it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WireResistance {
    /// mΩ for each metre, at the temperature asked for.
    pub mohm_per_m: f64,
    /// Where it comes from.
    pub source: WireSource,
}

/// Resistance of stranded copper by gauge at a temperature: the greatest permitted where the table has the gauge,
/// else area and lay.
///
/// # Errors
/// A gauge outside −3 to 40, a temperature outside −60 to 250 °C.
///
/// # Source
/// FAA AC 43.13-1B Table 11-9; beyond it ASTM B258 and [`LAY_RATIO`].
///
/// ```
/// use preen_domain::formulas::wire::stranded::{WireSource, stranded_awg};
/// let wire = stranded_awg(22, 20.0)?;
/// assert_eq!((format!("{:.2}", wire.mohm_per_m), wire.source), ("53.15".to_owned(), WireSource::TableGreatest));
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn stranded_awg(awg: i32, temperature_c: f64) -> Result<WireResistance, OutOfRange> {
    let row = TINNED_STRANDED.iter().find(|(gauge, ..)| *gauge == awg);
    Ok(match row {
        Some((_, ohm_per_1000_ft, _)) => WireResistance {
            mohm_per_m: 1000.0 * ohm_per_1000_ft / FEET_1000_M * copper_hot_ratio(temperature_c)?,
            source: WireSource::TableGreatest,
        },
        None => WireResistance {
            mohm_per_m: LAY_RATIO * copper_mohm_per_m(awg_area_mm2(awg)?, temperature_c)?,
            source: WireSource::AreaAndLay,
        },
    })
}

/// Resistance of flexible copper by metric area at a temperature: the greatest permitted where the table has the
/// area, else area and lay.
///
/// # Errors
/// An area outside 0.001 to 1000 mm², a temperature outside −60 to 250 °C.
///
/// # Source
/// IEC 60228, class 5; beyond it IEC 60028 and [`LAY_RATIO`].
///
/// ```
/// use preen_domain::formulas::wire::stranded::flexible_area;
/// assert_eq!(flexible_area(1.5, 20.0).map(|wire| wire.mohm_per_m), Ok(13.3));
/// ```
pub fn flexible_area(area_mm2: f64, temperature_c: f64) -> Result<WireResistance, OutOfRange> {
    within("area_mm2", area_mm2, 0.001, 1000.0)?;
    let row = FLEXIBLE_CLASS_5.iter().find(|(area, _)| (area - area_mm2).abs() < 1e-9);
    Ok(match row {
        Some((_, ohm_per_km)) => WireResistance {
            mohm_per_m: ohm_per_km * copper_hot_ratio(temperature_c)?,
            source: WireSource::TableGreatest,
        },
        None => WireResistance {
            mohm_per_m: LAY_RATIO * copper_mohm_per_m(area_mm2, temperature_c)?,
            source: WireSource::AreaAndLay,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gauge_without_a_row_is_an_estimate_and_says_so() {
        let wire = stranded_awg(28, 20.0).expect("a gauge");
        assert_eq!(wire.source, WireSource::AreaAndLay);
        assert_eq!(format!("{:.1}", wire.mohm_per_m), "217.2");
        assert_eq!(flexible_area(0.34, 20.0).map(|wire| wire.source), Ok(WireSource::AreaAndLay));
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        assert_eq!(stranded_awg(99, 20.0).map_err(|why| why.input), Err("awg"));
        assert_eq!(stranded_awg(22, 999.0).map_err(|why| why.input), Err("temperature_c"));
        assert_eq!(flexible_area(-1.0, 20.0).map_err(|why| why.input), Err("area_mm2"));
    }
}
