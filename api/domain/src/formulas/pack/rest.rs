//! What cells lose at rest: the drop over 30 days at storage voltage, and the cell that drops more than the others.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{MOST_CELLS, lower_median};
use crate::formulas::class::ClassLimits;
use crate::formulas::range::{OutOfRange, within};
use crate::words::Severity;

/// Drop of one cell beyond the median cell's over 30 days, mV: starting values of a club, common practice, no source.
pub const ODD_DROP_LIMITS_MV: ClassLimits = ClassLimits::new(10.0, 20.0, 50.0);

/// Drops of the cells over 30 days.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RestDrop {
    /// Drop of each cell over 30 days, mV, in their order.
    pub cells_mv: Vec<f64>,
    /// Drop of the median cell, mV; of two middle ones the smaller.
    pub median_mv: f64,
    /// The cell that drops most beyond the median, counted from 1; absent for a single cell.
    pub odd_cell: Option<usize>,
    /// How far beyond, mV; absent for a single cell.
    pub odd_mv: Option<f64>,
    /// Class of that; absent: better than all limits, or a single cell.
    pub class: Option<Severity>,
}

/// Drop over 30 days, from drops over another time taken as even, and the odd cell: the largest less the median.
///
/// # Errors
/// No cells or more than [`MOST_CELLS`], drops outside −5000 to 5000 mV (negative: the cell reads higher than
/// before), a time outside 3 to 400 days.
///
/// # Source
/// Common practice, no source.
///
/// ```
/// use preen_domain::formulas::pack::rest::{ODD_DROP_LIMITS_MV, rest_drop};
/// use preen_domain::words::Severity;
/// let drop = rest_drop(&[6.0, 6.0, 31.0], 30.0, &ODD_DROP_LIMITS_MV)?;
/// assert_eq!((drop.odd_cell, drop.odd_mv, drop.class), (Some(3), Some(25.0), Some(Severity::Restrict)));
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn rest_drop(drops_mv: &[f64], days: f64, limits: &ClassLimits) -> Result<RestDrop, OutOfRange> {
    let none = OutOfRange { input: "drops_mv (values)", least: 1.0, most: 24.0 };
    if drops_mv.len() > MOST_CELLS {
        return Err(none);
    }
    within("days", days, 3.0, 400.0)?;
    for drop in drops_mv {
        within("drops_mv", *drop, -5000.0, 5000.0)?;
    }
    // Thirty thirtieths leave a reading as it is.
    let cells_mv: Vec<f64> = drops_mv.iter().map(|drop| drop * (30.0 / days)).collect();
    let median_mv = lower_median(&cells_mv).ok_or(none)?;
    let odd = cells_mv
        .iter()
        .enumerate()
        .max_by(|(_, one), (_, other)| one.total_cmp(other))
        .filter(|_| cells_mv.len() > 1)
        .map(|(index, largest)| (index + 1, largest - median_mv));
    Ok(RestDrop {
        median_mv,
        odd_cell: odd.map(|(cell, _)| cell),
        odd_mv: odd.map(|(_, beyond)| beyond),
        class: odd.and_then(|(_, beyond)| limits.rising(beyond)),
        cells_mv,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_time_is_brought_to_thirty_days() {
        let drop = rest_drop(&[2.0, 14.0], 15.0, &ODD_DROP_LIMITS_MV).expect("computable");
        assert_eq!((drop.cells_mv, drop.odd_mv), (vec![4.0, 28.0], Some(24.0)));
        assert_eq!(drop.class, Some(Severity::Restrict));
    }

    #[test]
    fn a_single_cell_has_nothing_to_be_odd_against() {
        let drop = rest_drop(&[80.0], 30.0, &ODD_DROP_LIMITS_MV).expect("computable");
        assert_eq!((drop.odd_cell, drop.odd_mv, drop.class), (None, None, None));
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        let refused = |drops: &[f64], days| rest_drop(drops, days, &ODD_DROP_LIMITS_MV).unwrap_err().input;
        assert_eq!(refused(&[], 30.0), "drops_mv (values)");
        assert_eq!(refused(&[1.0; 25], 30.0), "drops_mv (values)");
        assert_eq!(refused(&[1.0], 0.0), "days");
        assert_eq!(refused(&[f64::NAN], 30.0), "drops_mv");
    }
}
