//! What a loading comes to, and which of two is better. Nothing is searched here.

use super::{BallastError, BallastProblem, check};

/// Slugs in cells, and what mass and CG they bring about.
#[derive(Clone, Debug, PartialEq)]
pub struct Loading {
    /// Number of slugs of each kind (inner list) in each cell (outer list), in the order of the problem.
    pub slugs_in_cells: Vec<Vec<u32>>,
    /// Slugs in all.
    pub slugs: u32,
    /// Their mass, grams.
    pub added_g: f64,
    /// Mass with them, grams.
    pub mass_g: f64,
    /// Mass less wanted mass, grams.
    pub mass_off_g: f64,
    /// CG with them, mm aft of the datum.
    pub x_mm: f64,
    /// CG less wanted CG, mm, aft positive.
    pub x_off_mm: f64,
    /// How far the slugs alone pull the CG to the right, mm.
    pub y_pull_mm: f64,
    /// Slugs that have no like in the cell paired with theirs; 0 is symmetric.
    pub unlike_slugs: u32,
    /// Slugs in the fullest cell.
    pub most_in_a_cell: u32,
    /// Whether the mass is within its tolerance.
    pub is_mass_within: bool,
    /// Whether the CG is within its tolerances, along x and y.
    pub is_cg_within: bool,
}

/// What makes one loading better than another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Goal {
    /// Fewest slugs, symmetric, fewest in one cell, smallest move, nearest mass.
    Rank,
    /// Nearest mass, fewest slugs, smallest move.
    NearestMass,
    /// Smallest excess over any tolerance, then as `Rank`.
    Outside,
}

/// Numbers to compare, the first first; smaller is better.
pub(super) type Key = [f64; 6];

/// Tolerances hold to this, so that a sum that is off in its last digit still counts as inside.
const SLACK: f64 = 1e-9;

/// Whether a size is within a tolerance, up to the last digits.
pub(super) fn is_within(size: f64, tolerance: f64) -> bool {
    size.abs() <= tolerance + SLACK
}

/// What is known of a loading, or of every loading that a search could still reach: lower bounds then.
#[derive(Clone, Copy, Debug)]
pub(super) struct Known {
    pub slugs: u32,
    pub unlike_slugs: u32,
    pub most_in_a_cell: u32,
    pub mass_off_g: f64,
    pub x_off_mm: f64,
    pub y_pull_mm: f64,
}

/// Sizes are compared in millionths, so that equal sums in another order stay equal.
fn millionths(size: f64) -> f64 {
    (size.abs() * 1e6).round()
}

impl Known {
    /// The numbers that a goal compares.
    pub fn key(&self, goal: Goal, problem: &BallastProblem) -> Key {
        let (slugs, unlike) = (f64::from(self.slugs), f64::from(self.unlike_slugs));
        let most = f64::from(self.most_in_a_cell);
        let (x, mass) = (millionths(self.x_off_mm), millionths(self.mass_off_g));
        match goal {
            Goal::Rank => [slugs, unlike, most, x, mass, 0.0],
            Goal::NearestMass => [mass, slugs, x, unlike, most, 0.0],
            Goal::Outside => {
                let excess = (self.mass_off_g.abs() / problem.mass_tolerance_g)
                    .max(self.x_off_mm.abs() / problem.x_tolerance_mm)
                    .max(self.y_pull_mm.abs() / problem.y_tolerance_mm);
                [millionths(excess), slugs, unlike, most, x, mass]
            }
        }
    }
}

impl Loading {
    pub(super) fn key(&self, goal: Goal, problem: &BallastProblem) -> Key {
        let known = Known {
            slugs: self.slugs,
            unlike_slugs: self.unlike_slugs,
            most_in_a_cell: self.most_in_a_cell,
            mass_off_g: self.mass_off_g,
            x_off_mm: self.x_off_mm,
            y_pull_mm: self.y_pull_mm,
        };
        known.key(goal, problem)
    }

    /// Whether mass and CG are within their tolerances.
    #[must_use]
    pub fn is_within(&self) -> bool {
        self.is_mass_within && self.is_cg_within
    }

    /// Whether paired cells hold the same.
    #[must_use]
    pub fn is_symmetric(&self) -> bool {
        self.unlike_slugs == 0
    }
}

/// The best loading so far by one goal. Equal keys are parted by the loading itself, so that every way of searching
/// ends at the same one.
#[derive(Clone, Debug)]
pub(super) struct Best {
    pub goal: Goal,
    pub found: Option<(Key, Loading)>,
}

impl Best {
    pub const fn new(goal: Goal) -> Self {
        Self { goal, found: None }
    }

    pub fn offer(&mut self, loading: &Loading, problem: &BallastProblem) {
        if self.goal != Goal::Outside && !loading.is_within() {
            return;
        }
        let key = loading.key(self.goal, problem);
        let is_better = match &self.found {
            None => true,
            Some((best, _)) if key != *best => key < *best,
            Some((_, held)) => loading.slugs_in_cells > held.slugs_in_cells,
        };
        if is_better {
            self.found = Some((key, loading.clone()));
        }
    }

    /// Whether nothing with these lower bounds can be better.
    pub fn excludes(&self, bound: &Key) -> bool {
        self.found.as_ref().is_some_and(|(best, _)| bound > best)
    }

    pub fn loading(self) -> Option<Loading> {
        self.found.map(|(_, loading)| loading)
    }
}

/// What given slugs in given cells come to: mass, CG, and how they keep the tolerances.
///
/// x = x₀ + Σm(xᵢ − x₀)/M with the mass M of everything; the slugs' own pull to one side is Σm·yᵢ/M.
///
/// # Errors
/// As [`super::choose_ballast`]. Lists shorter than the problem's count as empty; longer ones are cut.
///
/// ```
/// use preen_domain::formulas::ballast::{BallastProblem, Cell, SlugKind, load};
/// use preen_domain::formulas::balance::MassAndCg;
/// let problem = BallastProblem {
///     base: MassAndCg { mass_g: 900.0, x_mm: 100.0, ..MassAndCg::default() },
///     kinds: vec![SlugKind { mass_g: 50.0, count: 2 }],
///     cells: vec![Cell { x_mm: 110.0, y_mm: 0.0, capacity: 2 }], pairs: vec![],
///     target_mass_g: 1000.0, mass_tolerance_g: 1.0,
///     target_x_mm: 100.0, x_tolerance_mm: 2.0, y_tolerance_mm: 1.0,
/// };
/// let loaded = load(&problem, vec![vec![2]])?;
/// assert_eq!((loaded.mass_g, loaded.x_mm, loaded.is_within()), (1000.0, 101.0, true));
/// # Ok::<(), preen_domain::formulas::ballast::BallastError>(())
/// ```
pub fn load(problem: &BallastProblem, slugs_in_cells: Vec<Vec<u32>>) -> Result<Loading, BallastError> {
    check(problem)?;
    Ok(weigh_loading(problem, slugs_in_cells))
}

/// As [`load`], for a problem that is checked already.
pub(super) fn weigh_loading(problem: &BallastProblem, mut slugs_in_cells: Vec<Vec<u32>>) -> Loading {
    slugs_in_cells.resize(problem.cells.len(), Vec::new());
    let of_kind = |kind: usize| -> u32 { slugs_in_cells.iter().filter_map(|cell| cell.get(kind)).sum() };
    // By kind first: loadings of the same slugs weigh the same to the last digit wherever they lie.
    let added_g: f64 =
        problem.kinds.iter().enumerate().map(|(kind, slug)| f64::from(of_kind(kind)) * slug.mass_g).sum();
    let mass_g = problem.base.mass_g + added_g;
    let in_cell_g = |cell: &[u32]| -> f64 {
        cell.iter().zip(&problem.kinds).map(|(count, slug)| f64::from(*count) * slug.mass_g).sum()
    };
    let base_x_mm = problem.base.x_mm;
    let (mut x_moment, mut y_moment) = (0.0, 0.0);
    for (held, cell) in slugs_in_cells.iter().zip(&problem.cells) {
        let held_g = in_cell_g(held);
        x_moment += held_g * (cell.x_mm - base_x_mm);
        y_moment += held_g * cell.y_mm;
    }
    let x_mm = base_x_mm + x_moment / mass_g;
    let x_off_mm = x_mm - problem.target_x_mm;
    let y_pull_mm = y_moment / mass_g;
    let mass_off_g = mass_g - problem.target_mass_g;
    let counts = slugs_in_cells.iter().map(|cell| cell.iter().sum::<u32>());
    Loading {
        slugs: counts.clone().sum(),
        added_g,
        mass_g,
        mass_off_g,
        x_mm,
        x_off_mm,
        y_pull_mm,
        unlike_slugs: unlike(problem, &slugs_in_cells),
        most_in_a_cell: counts.max().unwrap_or(0),
        is_mass_within: is_within(mass_off_g, problem.mass_tolerance_g),
        is_cg_within: is_within(x_off_mm, problem.x_tolerance_mm)
            && is_within(y_pull_mm, problem.y_tolerance_mm),
        slugs_in_cells,
    }
}

fn unlike(problem: &BallastProblem, slugs_in_cells: &[Vec<u32>]) -> u32 {
    let held = |cell: usize, kind: usize| {
        slugs_in_cells.get(cell).and_then(|counts| counts.get(kind)).copied().unwrap_or(0)
    };
    let kinds = 0..problem.kinds.len();
    let of_pair = |(one, other): &(usize, usize)| -> u32 {
        kinds.clone().map(|kind| held(*one, kind).abs_diff(held(*other, kind))).sum()
    };
    problem.pairs.iter().map(of_pair).sum()
}
