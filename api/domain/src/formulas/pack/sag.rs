//! Voltage of the cells under load: what each loses in its own resistance. The resistance itself lives in
//! `resistance`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::MOST_CELLS;
use crate::formulas::range::{OutOfRange, within};

/// Cells under load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Sag {
    /// What each cell loses, V, in their order.
    pub cells_v: Vec<f64>,
    /// The cell that loses most, counted from 1.
    pub lowest_cell: usize,
    /// Its voltage under load, V, all cells starting from the same.
    pub lowest_cell_v: f64,
}

/// Sag of each cell, U = I·r, and the lowest cell's voltage from one open voltage of all.
///
/// # Errors
/// No cells or more than [`MOST_CELLS`], resistances outside 0 to 10 000 mΩ, a current outside 0 to 1000 A, an open
/// voltage outside 0.1 to 5 V, a load under which a cell would fall to nothing.
///
/// # Source
/// Ohm's law; the slow part of the sag (polarisation) is not in a pulse's resistance and comes on top.
///
/// ```
/// use preen_domain::formulas::pack::sag::sag;
/// let under_load = sag(&[6.1, 6.3, 8.9], 32.0, 3.75)?;
/// assert_eq!(format!("cell {}: {:.2} V", under_load.lowest_cell, under_load.lowest_cell_v), "cell 3: 3.47 V");
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn sag(cells_mohm: &[f64], current_a: f64, open_v: f64) -> Result<Sag, OutOfRange> {
    if cells_mohm.is_empty() || cells_mohm.len() > MOST_CELLS {
        return Err(OutOfRange { input: "cells_mohm (values)", least: 1.0, most: 24.0 });
    }
    within("current_a", current_a, 0.0, 1000.0)?;
    within("open_v", open_v, 0.1, 5.0)?;
    let mut cells_v = Vec::with_capacity(cells_mohm.len());
    let (mut lowest_cell, mut most_v) = (1, 0.0);
    for (index, mohm) in cells_mohm.iter().enumerate() {
        within("cells_mohm", *mohm, 0.0, 10_000.0)?;
        let lost_v = current_a * mohm / 1000.0;
        if lost_v > most_v {
            (lowest_cell, most_v) = (index + 1, lost_v);
        }
        cells_v.push(lost_v);
    }
    if most_v >= open_v {
        // A cell cannot lose more than it has: such a current does not flow.
        return Err(OutOfRange { input: "current_a", least: 0.0, most: current_a * open_v / most_v });
    }
    Ok(Sag { cells_v, lowest_cell, lowest_cell_v: open_v - most_v })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        let refused =
            |cells: &[f64], current, open| sag(cells, current, open).map_err(|why| why.input).unwrap_err();
        assert_eq!(refused(&[], 1.0, 3.7), "cells_mohm (values)");
        assert_eq!(refused(&[5.0], -1.0, 3.7), "current_a");
        assert_eq!(refused(&[5.0], 1.0, 0.0), "open_v");
        assert_eq!(refused(&[5.0, f64::NAN], 1.0, 3.7), "cells_mohm");
        let short = sag(&[100.0], 50.0, 3.7).unwrap_err();
        assert_eq!(short.to_string(), "current_a must be from 0 to 37");
    }
}
