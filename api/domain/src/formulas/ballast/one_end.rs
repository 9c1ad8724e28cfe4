//! What the same slugs do when a tube is filled from one end, as a hurried hand does.

use super::{BallastError, BallastProblem, Loading, load};

/// From which end cells are filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// Foremost cell first.
    Front,
    /// Rearmost cell first.
    Rear,
}

/// The slugs of a loading put in from one end, each cell filled before the next, in the order of the kinds.
///
/// # Errors
/// As [`super::choose_ballast`].
///
/// ```
/// use preen_domain::formulas::ballast::{BallastProblem, Cell, End, SlugKind, load, fill_from};
/// use preen_domain::formulas::balance::MassAndCg;
/// let problem = BallastProblem {
///     base: MassAndCg { mass_g: 900.0, x_mm: 100.0, ..MassAndCg::default() },
///     kinds: vec![SlugKind { mass_g: 50.0, count: 2 }],
///     cells: [90.0, 110.0].map(|x_mm| Cell { x_mm, y_mm: 0.0, capacity: 2 }).to_vec(), pairs: vec![(0, 1)],
///     target_mass_g: 1000.0, mass_tolerance_g: 1.0,
///     target_x_mm: 100.0, x_tolerance_mm: 0.5, y_tolerance_mm: 1.0,
/// };
/// let even = load(&problem, vec![vec![1], vec![1]])?;
/// let hurried = fill_from(End::Front, &problem, &even)?;
/// assert_eq!((hurried.slugs_in_cells, hurried.x_off_mm), (vec![vec![2], vec![0]], -1.0));
/// # Ok::<(), preen_domain::formulas::ballast::BallastError>(())
/// ```
pub fn fill_from(end: End, problem: &BallastProblem, loading: &Loading) -> Result<Loading, BallastError> {
    let of_kind =
        |kind: usize| -> u32 { loading.slugs_in_cells.iter().filter_map(|cell| cell.get(kind)).sum() };
    let mut left: Vec<u32> = (0..problem.kinds.len()).map(of_kind).collect();
    let mut cells: Vec<_> = problem.cells.iter().enumerate().collect();
    cells.sort_by(|(_, one), (_, other)| match end {
        End::Front => one.x_mm.total_cmp(&other.x_mm),
        End::Rear => other.x_mm.total_cmp(&one.x_mm),
    });
    let mut filled: Vec<(usize, Vec<u32>)> = Vec::new();
    for (index, cell) in cells {
        let mut room = cell.capacity;
        let mut held = Vec::new();
        for stock in &mut left {
            let count = room.min(*stock);
            room -= count;
            *stock -= count;
            held.push(count);
        }
        filled.push((index, held));
    }
    filled.sort_by_key(|(index, _)| *index);
    load(problem, filled.into_iter().map(|(_, held)| held).collect())
}
