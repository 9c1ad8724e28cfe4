//! Which cells a symmetric loading fills alike.

use super::{BallastError, Cell};

/// Pairs of cells by their places: a cell beside the centreline with its mirror image across it; cells on the
/// centreline first with last from the front, so that a tube is filled evenly about its middle. A cell without a
/// partner (the middle one of a tube) stays out. Places count as equal within 0.5 mm.
///
/// ```
/// use preen_domain::formulas::ballast::{Cell, mirrored_cells};
/// let at = |x_mm, y_mm| Cell { x_mm, y_mm, capacity: 3 };
/// assert_eq!(mirrored_cells(&[at(62.0, 0.0), at(98.0, 0.0), at(134.0, 0.0)]), [(0, 2)]);
/// assert_eq!(mirrored_cells(&[at(80.0, -300.0), at(80.0, 300.0), at(98.0, 0.0)]), [(0, 1)]);
/// ```
#[must_use]
pub fn mirrored_cells(cells: &[Cell]) -> Vec<(usize, usize)> {
    const SAME_MM: f64 = 0.5;
    let mut pairs = Vec::new();
    let mut is_taken = vec![false; cells.len()];
    for (left, cell) in cells.iter().enumerate().filter(|(_, cell)| cell.y_mm < -SAME_MM) {
        let partner = cells.iter().enumerate().find(|(right, other)| {
            is_taken.get(*right) == Some(&false)
                && (other.x_mm - cell.x_mm).abs() <= SAME_MM
                && (other.y_mm + cell.y_mm).abs() <= SAME_MM
        });
        if let Some((right, _)) = partner {
            is_taken.iter_mut().skip(right).take(1).for_each(|taken| *taken = true);
            pairs.push((left, right));
        }
    }
    let mut tube: Vec<(usize, &Cell)> =
        cells.iter().enumerate().filter(|(_, cell)| cell.y_mm.abs() <= SAME_MM).collect();
    tube.sort_by(|(_, one), (_, other)| one.x_mm.total_cmp(&other.x_mm));
    let half = tube.len() / 2;
    let from_the_rear = tube.iter().rev().take(half);
    pairs.extend(tube.iter().take(half).zip(from_the_rear).map(|((front, _), (rear, _))| (*front, *rear)));
    pairs
}

pub(super) fn check(pairs: &[(usize, usize)], cells: usize) -> Result<(), BallastError> {
    let mut seen = std::collections::BTreeSet::new();
    for (index, (one, other)) in pairs.iter().enumerate() {
        let is_there = *one < cells && *other < cells && one != other;
        if !is_there || !seen.insert(*one) || !seen.insert(*other) {
            return Err(BallastError::BadPair { pair: index + 1 });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x_mm: f64, y_mm: f64) -> Cell {
        Cell { x_mm, y_mm, capacity: 1 }
    }

    #[test]
    fn a_cell_without_a_mirror_image_stays_out() {
        assert_eq!(mirrored_cells(&[at(80.0, -300.0), at(80.0, 320.0)]), []);
        assert_eq!(mirrored_cells(&[at(80.0, -300.0), at(80.0, -300.0), at(80.0, 300.0)]), [(0, 2)]);
        assert_eq!(mirrored_cells(&[at(98.0, 0.0)]), []);
        assert_eq!(mirrored_cells(&[at(134.0, 0.0), at(62.0, 0.0)]), [(1, 0)]);
    }

    #[test]
    fn pairs_name_two_cells_that_are_there() {
        assert_eq!(check(&[(0, 1), (2, 3)], 4), Ok(()));
        for wrong in [vec![(0, 0)], vec![(0, 4)], vec![(2, 3), (0, 2)]] {
            assert_eq!(check(&wrong, 4), Err(BallastError::BadPair { pair: wrong.len() }));
        }
    }
}
