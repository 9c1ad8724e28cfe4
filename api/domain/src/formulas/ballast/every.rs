//! Every loading tried one by one: slow, and beyond doubt. The branch and bound of `search` is held against it.

use super::rank::{Best, Goal, weigh_loading};
use super::{BallastError, BallastFound, BallastProblem, SearchSaid, check};

/// Most loadings that are tried one by one at all.
const MOST_LOADINGS: u64 = 5_000_000;

/// A number that the loadings of a problem do not exceed: per cell the ways to draw at most its capacity from the
/// kinds, multiplied over the cells; the stock is not looked at. Ends at the largest whole number that fits.
///
/// ```
/// use preen_domain::formulas::ballast::{BallastProblem, Cell, SlugKind, combinations_at_most};
/// use preen_domain::formulas::balance::MassAndCg;
/// let problem = BallastProblem {
///     base: MassAndCg { mass_g: 900.0, x_mm: 100.0, ..MassAndCg::default() },
///     kinds: vec![SlugKind { mass_g: 50.0, count: 6 }; 3],
///     cells: vec![Cell { x_mm: 98.0, y_mm: 0.0, capacity: 3 }; 3], pairs: vec![],
///     target_mass_g: 1000.0, mass_tolerance_g: 1.0,
///     target_x_mm: 100.0, x_tolerance_mm: 2.0, y_tolerance_mm: 1.0,
/// };
/// assert_eq!(combinations_at_most(&problem), 20 * 20 * 20);
/// ```
#[must_use]
pub fn combinations_at_most(problem: &BallastProblem) -> u64 {
    let kinds = u64::try_from(problem.kinds.len()).unwrap_or(u64::MAX);
    let ways = |capacity: u32| {
        // C(capacity + kinds, capacity), growing by one factor a step, exact at each.
        (1..=u64::from(capacity)).try_fold(1_u64, |ways, step| Some(ways.checked_mul(kinds + step)? / step))
    };
    problem
        .cells
        .iter()
        .try_fold(1_u64, |product, cell| product.checked_mul(ways(cell.capacity)?))
        .unwrap_or(u64::MAX)
}

/// Tries every loading and keeps the best of each goal; also counts those within tolerance.
///
/// # Errors
/// As [`super::choose_ballast`]; a problem with more than five million loadings.
///
/// ```
/// use preen_domain::formulas::ballast::{BallastProblem, Cell, SlugKind, try_every};
/// use preen_domain::formulas::balance::MassAndCg;
/// let found = try_every(&BallastProblem {
///     base: MassAndCg { mass_g: 900.0, x_mm: 100.0, ..MassAndCg::default() },
///     kinds: vec![SlugKind { mass_g: 50.0, count: 2 }],
///     cells: vec![Cell { x_mm: 100.0, y_mm: 0.0, capacity: 2 }], pairs: vec![],
///     target_mass_g: 1000.0, mass_tolerance_g: 60.0,
///     target_x_mm: 100.0, x_tolerance_mm: 1.0, y_tolerance_mm: 1.0,
/// })?;
/// assert_eq!(found.search.within_all_tolerances, Some(2));
/// assert_eq!(found.best.map(|best| best.slugs), Some(1));
/// assert_eq!(found.nearest_mass.map(|nearest| nearest.slugs), Some(2));
/// # Ok::<(), preen_domain::formulas::ballast::BallastError>(())
/// ```
pub fn try_every(problem: &BallastProblem) -> Result<BallastFound, BallastError> {
    check(problem)?;
    if combinations_at_most(problem) > MOST_LOADINGS {
        return Err(BallastError::TooMany);
    }
    let mut trial = Trial {
        problem,
        stock: problem.kinds.iter().map(|kind| kind.count).collect(),
        held: Vec::new(),
        goals: [Goal::Rank, Goal::NearestMass, Goal::Outside].map(Best::new),
        within_mass: 0,
        within_all: 0,
    };
    trial.next_cell();
    let Trial { goals: [best, nearest_mass, outside], within_mass, within_all, .. } = trial;
    let best = best.loading();
    let fewest_slugs_at_least = best.as_ref().map_or(0, |best| best.slugs);
    Ok(BallastFound {
        nearest_mass: nearest_mass.loading(),
        nearest_outside: if best.is_none() { outside.loading() } else { None },
        best,
        search: SearchSaid {
            is_every_loading_tried: true,
            within_mass_tolerance: Some(within_mass),
            within_all_tolerances: Some(within_all),
            is_proven: true,
            is_nearest_proven: true,
            fewest_slugs_at_least,
            gap_slugs: 0,
        },
    })
}

struct Trial<'a> {
    problem: &'a BallastProblem,
    /// Slugs of each kind that lie in no cell yet.
    stock: Vec<u32>,
    held: Vec<Vec<u32>>,
    goals: [Best; 3],
    within_mass: u64,
    within_all: u64,
}

impl Trial<'_> {
    fn next_cell(&mut self) {
        match self.problem.cells.get(self.held.len()) {
            Some(cell) => {
                self.held.push(Vec::new());
                self.next_kind(cell.capacity);
                self.held.pop();
            }
            None => self.offer(),
        }
    }

    /// Decides how many of the next kind the last cell holds, with `room` left in it.
    fn next_kind(&mut self, room: u32) {
        let kind = self.held.last().map_or(0, Vec::len);
        let Some(left) = self.stock.get(kind).copied() else { return self.next_cell() };
        for count in 0..=room.min(left) {
            self.take(kind, left - count);
            if let Some(cell) = self.held.last_mut() {
                cell.push(count);
            }
            self.next_kind(room - count);
            if let Some(cell) = self.held.last_mut() {
                cell.pop();
            }
        }
        self.take(kind, left);
    }

    fn take(&mut self, kind: usize, left: u32) {
        self.stock.iter_mut().skip(kind).take(1).for_each(|stock| *stock = left);
    }

    fn offer(&mut self) {
        let loading = weigh_loading(self.problem, self.held.clone());
        self.within_mass += u64::from(loading.is_mass_within);
        self.within_all += u64::from(loading.is_within());
        for goal in &mut self.goals {
            goal.offer(&loading, self.problem);
        }
    }
}
