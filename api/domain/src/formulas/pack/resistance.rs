//! Internal resistance of cells: brought to 25 °C, compared with new, and the cell that leaves the others. Sag under
//! load lives in `sag`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{MOST_CELLS, lower_median};
use crate::formulas::class::ClassLimits;
use crate::formulas::range::{OutOfRange, within};
use crate::words::Severity;

/// Rise of a lithium polymer cell's resistance for each kelvin below 25 °C. From memory: cells differ; compare
/// readings taken warm where it matters.
pub const PER_K_BELOW_25: f64 = 0.022;

/// Resistance at 25 °C over that of the new cell: starting values of a club, common practice, no source.
pub const RATIO_LIMITS: ClassLimits = ClassLimits::new(1.5, 2.0, 2.5);

/// A cell whose ratio is so many times the median cell's is called odd. Common practice, no source.
pub const ODD_TIMES: f64 = 1.2;

/// Temperatures in which the correction is used, °C.
pub const TEMPERATURES_C: (f64, f64) = (-10.0, 50.0);

/// One cell, corrected and compared.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CellResistance {
    /// Resistance at 25 °C, mΩ.
    pub at_25_mohm: f64,
    /// Standard uncertainty (1u) of that, mΩ, from those given.
    pub u_mohm: f64,
    /// How many times the new cell's it is; absent where no value as new is given.
    pub ratio_to_new: Option<f64>,
    /// Class of the ratio; absent: better than all limits, or nothing to compare with.
    pub class: Option<Severity>,
}

/// The cells of a pack.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PackResistance {
    /// The cells in their order.
    pub cells: Vec<CellResistance>,
    /// The cell that leaves the others, counted from 1; absent where they stay together.
    pub odd_cell: Option<usize>,
    /// How many times the median cell's ratio (or resistance) the largest has; absent for a single cell.
    pub odd_times: Option<f64>,
}

/// Resistance at 25 °C of a reading at T °C: r/(1 + 0.022·(25 − T)). Cold cells read high.
///
/// # Errors
/// A resistance outside 0.01 to 10 000 mΩ, a temperature outside −10 to 50 °C.
///
/// # Source
/// Coefficient from memory, common practice.
///
/// ```
/// use preen_domain::formulas::pack::resistance::at_25_mohm;
/// assert_eq!(at_25_mohm(8.9, 14.0).map(|mohm| (mohm * 100.0).round() / 100.0), Ok(7.17));
/// ```
pub fn at_25_mohm(mohm: f64, temperature_c: f64) -> Result<f64, OutOfRange> {
    within("cells_mohm", mohm, 0.01, 10_000.0)?;
    Ok(mohm / cold_ratio(temperature_c)?)
}

fn cold_ratio(temperature_c: f64) -> Result<f64, OutOfRange> {
    within("temperature_c", temperature_c, TEMPERATURES_C.0, TEMPERATURES_C.1)?;
    Ok(1.0 + PER_K_BELOW_25 * (25.0 - temperature_c))
}

/// What is known about the readings.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ReadingUncertainty {
    /// Standard uncertainty (1u) of each resistance, mΩ.
    pub mohm: f64,
    /// Standard uncertainty (1u) of the cells' temperature, K.
    pub temperature_k: f64,
}

/// All cells of a pack, corrected to 25 °C, compared with new where values at 25 °C as new are given (one for each
/// cell, or none at all), and the cell that leaves the others.
///
/// Uncertainty by first order: u² = (u_r/k)² + (r₂₅·0.022·u_T/k)², k = 1 + 0.022·(25 − T).
///
/// # Errors
/// No cells or more than [`MOST_CELLS`], values as new that are not one for each cell, readings outside 0.01 to
/// 10 000 mΩ, temperatures outside −10 to 50 °C, uncertainties outside 0 to 10 000.
///
/// # Source
/// Coefficient and limits: common practice; uncertainties JCGM 100:2008, 5.1.2.
///
/// ```
/// use preen_domain::formulas::pack::resistance::{RATIO_LIMITS, ReadingUncertainty, pack_resistance};
/// let pack = pack_resistance(&[6.1, 6.3, 8.9], 14.0, &[4.9, 5.0, 5.0], &RATIO_LIMITS, ReadingUncertainty::default())?;
/// let ratios: Vec<String> =
///     pack.cells.iter().filter_map(|cell| cell.ratio_to_new).map(|ratio| format!("{ratio:.2}")).collect();
/// assert_eq!((ratios.join(" "), pack.odd_cell), ("1.00 1.01 1.43".to_owned(), Some(3)));
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn pack_resistance(
    cells_mohm: &[f64],
    temperature_c: f64,
    new_mohm: &[f64],
    limits: &ClassLimits,
    u: ReadingUncertainty,
) -> Result<PackResistance, OutOfRange> {
    if cells_mohm.is_empty() || cells_mohm.len() > MOST_CELLS {
        return Err(OutOfRange { input: "cells_mohm (values)", least: 1.0, most: 24.0 });
    }
    if !new_mohm.is_empty() && new_mohm.len() != cells_mohm.len() {
        let cells = cells_mohm.iter().map(|_| 1.0).sum();
        return Err(OutOfRange { input: "new_mohm (values)", least: cells, most: cells });
    }
    for new in new_mohm {
        within("new_mohm", *new, 0.01, 10_000.0)?;
    }
    within("u_mohm", u.mohm, 0.0, 10_000.0)?;
    within("u_temperature_k", u.temperature_k, 0.0, 10_000.0)?;
    let cold = cold_ratio(temperature_c)?;
    let mut cells = Vec::with_capacity(cells_mohm.len());
    for (index, mohm) in cells_mohm.iter().enumerate() {
        let at_25_mohm = at_25_mohm(*mohm, temperature_c)?;
        let u_mohm = (u.mohm / cold).hypot(at_25_mohm * PER_K_BELOW_25 * u.temperature_k / cold);
        let ratio_to_new = new_mohm.get(index).map(|new| at_25_mohm / new);
        let class = ratio_to_new.and_then(|ratio| limits.rising(ratio));
        cells.push(CellResistance { at_25_mohm, u_mohm, ratio_to_new, class });
    }
    let compared: Vec<f64> = cells.iter().map(|cell| cell.ratio_to_new.unwrap_or(cell.at_25_mohm)).collect();
    let odd = odd_of(&compared);
    Ok(PackResistance {
        cells,
        odd_cell: odd.filter(|(_, times)| *times >= ODD_TIMES).map(|(cell, _)| cell),
        odd_times: odd.map(|(_, times)| times),
    })
}

/// The largest value, counted from 1, and how many times the median it is; `None` for fewer than two values.
fn odd_of(values: &[f64]) -> Option<(usize, f64)> {
    if values.len() < 2 {
        return None;
    }
    let median = lower_median(values)?;
    let (index, largest) = values.iter().enumerate().max_by(|(_, one), (_, other)| one.total_cmp(other))?;
    Some((index + 1, largest / median))
}

#[cfg(test)]
mod tests {
    use super::*;

    const NO_U: ReadingUncertainty = ReadingUncertainty { mohm: 0.0, temperature_k: 0.0 };

    #[test]
    fn of_two_cells_the_worse_one_is_not_hidden_in_their_mean() {
        let pack = pack_resistance(&[5.0, 6.5], 25.0, &[], &RATIO_LIMITS, NO_U).expect("computable");
        assert_eq!((pack.odd_cell, pack.odd_times), (Some(2), Some(1.3)));
        assert_eq!(pack.cells[1].ratio_to_new, None);
        let single = pack_resistance(&[31.0], 25.0, &[], &RATIO_LIMITS, NO_U).expect("computable");
        assert_eq!((single.odd_cell, single.odd_times), (None, None));
    }

    #[test]
    fn temperature_alone_makes_the_uncertainty_it_should() {
        let u = ReadingUncertainty { mohm: 0.0, temperature_k: 2.0 };
        let pack = pack_resistance(&[10.0], 25.0, &[], &RATIO_LIMITS, u).expect("computable");
        assert!((pack.cells[0].u_mohm - 0.44).abs() < 1e-12);
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        let refused = |cells: &[f64], temperature, new: &[f64]| {
            pack_resistance(cells, temperature, new, &RATIO_LIMITS, NO_U).unwrap_err().to_string()
        };
        assert_eq!(refused(&[], 20.0, &[]), "cells_mohm (values) must be from 1 to 24");
        assert_eq!(refused(&[5.0; 25], 20.0, &[]), "cells_mohm (values) must be from 1 to 24");
        assert_eq!(refused(&[5.0, 5.0], 20.0, &[5.0]), "new_mohm (values) must be from 2 to 2");
        assert!(refused(&[5.0], 70.0, &[]).starts_with("temperature_c"));
        assert!(refused(&[0.0], 20.0, &[]).starts_with("cells_mohm"));
        assert!(refused(&[5.0], 20.0, &[f64::NAN]).starts_with("new_mohm"));
    }
}
