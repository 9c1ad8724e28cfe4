//! Ballast: which counted slugs go into which cells, so that a model weighs what is wanted and balances where it
//! should. Weight at one place that moves a CG is `trim`; what fits a class is not decided here.
//!
//! * this file: the question and the answer · `rank`: what a loading comes to, and which of two is better
//! * `every`: every loading tried, for small questions · `search`: branch and bound, for large ones
//! * `pairs`: cells that a symmetric loading fills alike · `one_end`: the error of filling a tube from one end
//!
//! Rank (common practice, no source): within both tolerances first, then fewest slugs, then symmetric, then fewest in
//! any one cell, then smallest move of the CG. A loading that comes nearer to the wanted mass with more slugs is
//! reported beside it and not preferred: a slug more is a slug that can be forgotten.

mod every;
mod one_end;
mod pairs;
mod rank;
mod search;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;
use super::balance::MassAndCg;
pub use every::{combinations_at_most, try_every};
pub use one_end::{End, fill_from};
pub use pairs::mirrored_cells;
pub use rank::{Loading, load};
pub use search::search;

/// How far the mass may be off when nothing else is said, grams. Common practice, no source.
pub const MASS_TOLERANCE_G: f64 = 8.0;
/// How far the CG may be off when nothing else is said, mm. Common practice, no source.
pub const CG_TOLERANCE_MM: f64 = 0.5;
/// Most cells of one question.
pub const MOST_CELLS: usize = 24;
/// Most kinds of slugs of one question.
pub const MOST_KINDS: usize = 12;
/// Most slugs of one kind, and most that one cell takes.
pub const MOST_SLUGS: u32 = 100;
/// Up to so many loadings every one is tried; beyond, branch and bound.
pub const EVERY_UP_TO: u64 = 60_000;
/// Steps that branch and bound may take before it says what it has not proven.
pub const MOST_STEPS: u64 = 1_000_000;

/// Slugs of one stamped mass.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SlugKind {
    /// Mass of one, grams, above zero.
    pub mass_g: f64,
    /// How many there are.
    pub count: u32,
}

/// A place that takes slugs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Cell {
    /// Place of the slugs' centre, mm aft of the datum.
    pub x_mm: f64,
    /// Place of the slugs' centre, mm right of the centreline.
    #[serde(default)]
    pub y_mm: f64,
    /// Most slugs it takes, of whatever kind.
    pub capacity: u32,
}

/// What is asked: a balance without ballast, what there is to load, and what it should come to.
#[derive(Clone, Debug, PartialEq)]
pub struct BallastProblem {
    /// Mass and CG without ballast.
    pub base: MassAndCg,
    /// The kinds of slugs.
    pub kinds: Vec<SlugKind>,
    /// The cells.
    pub cells: Vec<Cell>,
    /// Cells that a symmetric loading fills alike, by index; see [`mirrored_cells`].
    pub pairs: Vec<(usize, usize)>,
    /// Wanted mass, grams.
    pub target_mass_g: f64,
    /// How far the mass may be off, grams, above zero.
    pub mass_tolerance_g: f64,
    /// Wanted CG, mm aft of the datum.
    pub target_x_mm: f64,
    /// How far the CG may be off along x, mm, above zero.
    pub x_tolerance_mm: f64,
    /// How far the slugs alone may pull the CG to one side, mm, above zero.
    pub y_tolerance_mm: f64,
}

/// How the loadings were searched, and what is proven by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct SearchSaid {
    /// Whether every loading was tried one by one.
    pub is_every_loading_tried: bool,
    /// Loadings within the mass tolerance; only where every one was tried.
    pub within_mass_tolerance: Option<u64>,
    /// Of these, loadings within the tolerances of the CG; only where every one was tried.
    pub within_all_tolerances: Option<u64>,
    /// Whether nothing better than the best is proven to exist.
    pub is_proven: bool,
    /// Whether nothing nearer to the wanted mass is proven to exist.
    pub is_nearest_proven: bool,
    /// No loading with fewer slugs than this is within tolerance: that much is proven.
    pub fewest_slugs_at_least: u32,
    /// How many slugs fewer than the best could still do; 0 where that is proven.
    pub gap_slugs: u32,
}

/// The loadings found.
#[derive(Clone, Debug, PartialEq)]
pub struct BallastFound {
    /// The best in practice by the rank of this file; `None` when nothing is within tolerance.
    pub best: Option<Loading>,
    /// Nearest to the wanted mass with the CG within tolerance (then fewest slugs, then smallest move of the CG),
    /// which may take more slugs than `best`; `None` when nothing is within tolerance.
    pub nearest_mass: Option<Loading>,
    /// Where nothing is within tolerance: what comes nearest in the measure of its tolerances.
    pub nearest_outside: Option<Loading>,
    /// How it was searched.
    pub search: SearchSaid,
}

/// Why there is nothing to search. Cells and kinds are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum BallastError {
    /// The balance without ballast cannot be used.
    #[error("the mass without ballast must lie between 0 and 1,000,000 g and its CG within 1,000,000 mm")]
    BadBase,
    /// A target is not a number that can be used.
    #[error("the wanted mass must lie between 0 and 1,000,000 g and the wanted CG within 1,000,000 mm")]
    BadTarget,
    /// A tolerance is zero, negative or not finite.
    #[error("tolerances of mass and CG must be finite and above zero")]
    BadTolerance,
    /// No cells or no slugs.
    #[error("give at least one cell and one kind of slug")]
    NothingToLoad,
    /// Too many cells, kinds or slugs.
    #[error("at most {MOST_CELLS} cells, {MOST_KINDS} kinds of slugs and {MOST_SLUGS} of each are searched")]
    TooMany,
    /// A slug without mass.
    #[error("slug kind {kind} needs a mass between 0 and 1,000,000 g")]
    BadSlug {
        /// Kind, from 1.
        kind: usize,
    },
    /// A cell without a place.
    #[error("cell {cell} needs a place within 1,000,000 mm")]
    BadCell {
        /// Cell, from 1.
        cell: usize,
    },
    /// A pair names a cell that is not there, or a cell twice.
    #[error("pair {pair} must name two different cells of the list, and no cell may stand in two pairs")]
    BadPair {
        /// Pair, from 1.
        pair: usize,
    },
    /// The model is too heavy already.
    #[error("without ballast the mass is {over_g:.1} g above the wanted one; nothing can be loaded")]
    TooHeavyAlready {
        /// Mass without ballast less wanted mass, grams.
        over_g: f64,
    },
}

/// Chooses slugs for cells: whole numbers, never more than there are nor than a cell takes.
///
/// Masses in grams, places in mm aft and to the right. `best` follows the rank at the top of this file, `nearest_mass`
/// the mass alone: where it takes more slugs, that is the price of the exact fit. Up to [`EVERY_UP_TO`] loadings every
/// one is tried; beyond, branch and bound by number of slugs, with what it could not prove stated in
/// [`SearchSaid::gap_slugs`].
///
/// # Errors
/// Masses, places and tolerances that are not usable, sizes beyond the limits of this file, a model that is heavier
/// than wanted already.
///
/// # Source
/// Law of the lever (FAA-H-8083-1B ch. 2); the rank is common practice, no source.
///
/// ```
/// use preen_domain::formulas::ballast::{BallastProblem, Cell, SlugKind, choose_ballast, mirrored_cells};
/// use preen_domain::formulas::balance::MassAndCg;
/// let cells = [62.0, 98.0, 134.0].map(|x_mm| Cell { x_mm, y_mm: 0.0, capacity: 3 }).to_vec();
/// let found = choose_ballast(&BallastProblem {
///     base: MassAndCg { mass_g: 1202.5, x_mm: 96.5156, ..MassAndCg::default() },
///     kinds: vec![SlugKind { mass_g: 50.0, count: 6 }],
///     pairs: mirrored_cells(&cells),
///     cells, target_mass_g: 1452.5, mass_tolerance_g: 8.0,
///     target_x_mm: 96.5156, x_tolerance_mm: 0.5, y_tolerance_mm: 0.5,
/// })?;
/// let best = found.best.ok_or("nothing fits")?;
/// assert_eq!(best.slugs_in_cells, [[2], [1], [2]]);
/// assert_eq!(format!("{:+.2}", best.x_off_mm), "+0.26");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn choose_ballast(problem: &BallastProblem) -> Result<BallastFound, BallastError> {
    check(problem)?;
    if combinations_at_most(problem) <= EVERY_UP_TO {
        try_every(problem)
    } else {
        search(problem, MOST_STEPS)
    }
}

pub(crate) fn check(problem: &BallastProblem) -> Result<(), BallastError> {
    let base = &problem.base;
    if !is_mass(base.mass_g) || !is_place(base.x_mm) {
        return Err(BallastError::BadBase);
    }
    if !is_mass(problem.target_mass_g) || !is_place(problem.target_x_mm) {
        return Err(BallastError::BadTarget);
    }
    let tolerances = [problem.mass_tolerance_g, problem.x_tolerance_mm, problem.y_tolerance_mm];
    if !all_finite(&tolerances) || tolerances.iter().any(|tolerance| *tolerance <= 0.0) {
        return Err(BallastError::BadTolerance);
    }
    check_cells_and_kinds(problem)?;
    let over_g = base.mass_g - problem.target_mass_g;
    if over_g > problem.mass_tolerance_g {
        return Err(BallastError::TooHeavyAlready { over_g });
    }
    Ok(())
}

/// Beyond this, g or mm, no model lies; within it sums keep nine places behind the point.
const FARTHEST: f64 = 1e6;

fn is_mass(mass_g: f64) -> bool {
    mass_g > 0.0 && mass_g <= FARTHEST
}

fn is_place(place_mm: f64) -> bool {
    place_mm.abs() <= FARTHEST
}

fn check_cells_and_kinds(problem: &BallastProblem) -> Result<(), BallastError> {
    let BallastProblem { kinds, cells, .. } = problem;
    if kinds.is_empty() || cells.is_empty() {
        return Err(BallastError::NothingToLoad);
    }
    let is_many = kinds.iter().any(|kind| kind.count > MOST_SLUGS)
        || cells.iter().any(|cell| cell.capacity > MOST_SLUGS);
    if is_many || kinds.len() > MOST_KINDS || cells.len() > MOST_CELLS {
        return Err(BallastError::TooMany);
    }
    if let Some(index) = kinds.iter().position(|kind| !is_mass(kind.mass_g)) {
        return Err(BallastError::BadSlug { kind: index + 1 });
    }
    let is_placed = |cell: &Cell| is_place(cell.x_mm) && is_place(cell.y_mm);
    if let Some(index) = cells.iter().position(|cell| !is_placed(cell)) {
        return Err(BallastError::BadCell { cell: index + 1 });
    }
    pairs::check(&problem.pairs, cells.len())
}
