//! Branch and bound over loadings, by number of slugs: first how many slugs of each kind, then which cells hold them.
//!
//! A branch is left when its mass or CG can no longer come within tolerance, or when what it can still reach is worse
//! than what is found already. Levels are tried from no slug upwards, so the first level with a loading has the
//! fewest. When the steps run out at a level, that level stays open and the answer says so.

use super::rank::{Best, Goal, Known, is_within, weigh_loading};
use super::{BallastError, BallastFound, BallastProblem, Loading, SearchSaid, check};

/// Bounds of sums are taken this much wider than the sums themselves, so that rounding excludes nothing.
const WIDER: f64 = 1e-6;

/// Searches with at most `most_steps` steps for each goal. Same answer as [`super::try_every`] wherever the result
/// says it is proven.
///
/// # Errors
/// As [`super::choose_ballast`].
///
/// ```
/// use preen_domain::formulas::ballast::{BallastProblem, Cell, SlugKind, search};
/// use preen_domain::formulas::balance::MassAndCg;
/// let found = search(&BallastProblem {
///     base: MassAndCg { mass_g: 900.0, x_mm: 100.0, ..MassAndCg::default() },
///     kinds: vec![SlugKind { mass_g: 25.0, count: 40 }],
///     cells: vec![Cell { x_mm: 100.0, y_mm: 0.0, capacity: 10 }; 6], pairs: vec![],
///     target_mass_g: 1000.0, mass_tolerance_g: 6.0,
///     target_x_mm: 100.0, x_tolerance_mm: 1.0, y_tolerance_mm: 1.0,
/// }, 100_000)?;
/// assert_eq!(found.best.map(|best| (best.slugs, best.most_in_a_cell)), Some((4, 1)));
/// assert!(found.search.is_proven);
/// # Ok::<(), preen_domain::formulas::ballast::BallastError>(())
/// ```
pub fn search(problem: &BallastProblem, most_steps: u64) -> Result<BallastFound, BallastError> {
    check(problem)?;
    let order = Order::of(problem);
    let ranked = by_level(problem, &order, Goal::Rank, most_steps);
    let best = ranked.best;
    let (nearest, outside) = match &best {
        Some(best) => {
            let mut seeded = Best::new(Goal::NearestMass);
            seeded.offer(best, problem);
            (all_levels(problem, &order, seeded, most_steps), None)
        }
        None if ranked.is_proven => (None, all_levels(problem, &order, Best::new(Goal::Outside), most_steps)),
        None => (None, None),
    };
    let gap_slugs = best.as_ref().map_or(0, |best| best.slugs.saturating_sub(ranked.fewest_at_least));
    Ok(BallastFound {
        search: SearchSaid {
            is_every_loading_tried: false,
            within_mass_tolerance: None,
            within_all_tolerances: None,
            is_proven: ranked.is_proven,
            is_nearest_proven: nearest.as_ref().is_some_and(|(_, is_proven)| *is_proven),
            fewest_slugs_at_least: ranked.fewest_at_least,
            gap_slugs,
        },
        best,
        nearest_mass: nearest.map(|(loading, _)| loading),
        nearest_outside: outside.map(|(loading, _)| loading),
    })
}

struct Ranked {
    best: Option<Loading>,
    is_proven: bool,
    fewest_at_least: u32,
}

/// Level by level until one has a loading within tolerance.
fn by_level(problem: &BallastProblem, order: &Order, goal: Goal, most_steps: u64) -> Ranked {
    let mut steps_left = most_steps;
    let mut lowest_open = None;
    for slugs in 0..=order.most_slugs {
        let mut walk = Walk::new(problem, order, Best::new(goal), steps_left.min(most_steps / 4 + 1));
        let given = walk.steps_left;
        walk.level(slugs);
        steps_left = steps_left.saturating_sub(given - walk.steps_left);
        if walk.is_cut && lowest_open.is_none() {
            lowest_open = Some(slugs);
        }
        let is_proven = lowest_open.is_none();
        let fewest_at_least = lowest_open.unwrap_or(slugs);
        match walk.best.loading() {
            Some(best) => return Ranked { best: Some(best), is_proven, fewest_at_least },
            None if steps_left == 0 => return Ranked { best: None, is_proven: false, fewest_at_least },
            None => {}
        }
    }
    let fewest_at_least = lowest_open.unwrap_or(0);
    Ranked { best: None, is_proven: lowest_open.is_none(), fewest_at_least }
}

/// All levels for one goal, and whether the steps sufficed.
fn all_levels(
    problem: &BallastProblem,
    order: &Order,
    seeded: Best,
    most_steps: u64,
) -> Option<(Loading, bool)> {
    let mut walk = Walk::new(problem, order, seeded, most_steps);
    for slugs in 0..=order.most_slugs {
        walk.level(slugs);
    }
    let is_proven = !walk.is_cut;
    walk.best.loading().map(|loading| (loading, is_proven))
}

/// Cells in the order they are filled, paired ones one after the other, and what lies from each of them on.
struct Order {
    turns: Vec<Turn>,
    most_slugs: u32,
}

#[derive(Clone, Copy)]
struct Turn {
    cell: usize,
    x_mm: f64,
    y_mm: f64,
    capacity: u32,
    /// The cell paired with this one, where it was filled before.
    partner: Option<usize>,
    /// What the cells after this one take, and where they lie.
    after: After,
}

#[derive(Clone, Copy, Default)]
struct After {
    capacity: u32,
    x: Option<(f64, f64)>,
    y: Option<(f64, f64)>,
}

impl Order {
    fn of(problem: &BallastProblem) -> Self {
        let cells = 0..problem.cells.len();
        let mut sequence: Vec<(usize, Option<usize>)> =
            problem.pairs.iter().flat_map(|(one, other)| [(*one, None), (*other, Some(*one))]).collect();
        sequence.extend(
            cells
                .filter(|cell| !problem.pairs.iter().any(|(one, other)| one == cell || other == cell))
                .map(|cell| (cell, None)),
        );
        let mut after = After::default();
        let mut turns = Vec::new();
        for (cell, partner) in sequence.into_iter().rev() {
            let Some(held) = problem.cells.get(cell) else { continue };
            let super::Cell { x_mm, y_mm, capacity } = *held;
            turns.push(Turn { cell, x_mm, y_mm, capacity, partner, after });
            if capacity > 0 {
                after.capacity += capacity;
                after.x = Some(widened(after.x, x_mm));
                after.y = Some(widened(after.y, y_mm));
            }
        }
        turns.reverse();
        let stock: u32 = problem.kinds.iter().map(|kind| kind.count).sum();
        Self { turns, most_slugs: stock.min(after.capacity) }
    }
}

fn widened(range: Option<(f64, f64)>, at: f64) -> (f64, f64) {
    range.map_or((at, at), |(low, high)| (low.min(at), high.max(at)))
}

struct Walk<'a> {
    problem: &'a BallastProblem,
    order: &'a Order,
    best: Best,
    steps_left: u64,
    is_cut: bool,
    /// Slugs of each kind that are chosen and lie in no cell yet.
    left: Vec<u32>,
    held: Vec<Vec<u32>>,
    slugs: u32,
    mass_g: f64,
}

/// How far a branch has come.
#[derive(Clone, Copy, Default)]
struct Reached {
    x_moment: f64,
    y_moment: f64,
    unplaced: u32,
    unplaced_g: f64,
    unlike: u32,
    most: u32,
    in_cell: u32,
}

impl<'a> Walk<'a> {
    fn new(problem: &'a BallastProblem, order: &'a Order, best: Best, steps: u64) -> Self {
        let held = vec![vec![0; problem.kinds.len()]; problem.cells.len()];
        Self {
            problem,
            order,
            best,
            steps_left: steps,
            is_cut: false,
            left: Vec::new(),
            held,
            slugs: 0,
            mass_g: 0.0,
        }
    }

    fn step(&mut self) -> bool {
        self.is_cut |= self.steps_left == 0;
        self.steps_left = self.steps_left.saturating_sub(1);
        !self.is_cut
    }

    /// All loadings of exactly `slugs` slugs.
    fn level(&mut self, slugs: u32) {
        self.slugs = slugs;
        self.left.clear();
        self.choose(slugs, 0.0);
    }

    /// Decides how many slugs of the next kind there are, with `missing` slugs still to be chosen.
    fn choose(&mut self, missing: u32, added_g: f64) {
        if !self.step() || !self.can_weigh(missing, added_g) {
            return;
        }
        let Some(kind) = self.problem.kinds.get(self.left.len()) else {
            if missing == 0 {
                self.place_all();
            }
            return;
        };
        for count in (0..=missing.min(kind.count)).rev() {
            self.left.push(count);
            self.choose(missing - count, added_g + f64::from(count) * kind.mass_g);
            self.left.pop();
        }
    }

    /// Whether `missing` more slugs of the kinds not yet decided can bring a mass that is worth a look.
    fn can_weigh(&self, missing: u32, added_g: f64) -> bool {
        let open = self.problem.kinds.iter().skip(self.left.len()).filter(|kind| kind.count > 0);
        let stock: u32 = open.clone().map(|kind| kind.count).sum();
        if stock < missing {
            return false;
        }
        let lightest_g = open.clone().map(|kind| kind.mass_g).fold(f64::INFINITY, f64::min);
        let heaviest_g = open.map(|kind| kind.mass_g).fold(0.0, f64::max);
        let (least_g, most_g) = match missing {
            0 => (added_g, added_g),
            _ => (added_g + f64::from(missing) * lightest_g, added_g + f64::from(missing) * heaviest_g),
        };
        let wanted_g = self.problem.target_mass_g - self.problem.base.mass_g;
        let mass_off_g = nearest_to_zero(least_g - wanted_g, most_g - wanted_g);
        let bound = Known { mass_off_g, ..self.bound() };
        self.is_worth(&bound)
    }

    /// What is known of every loading of this level.
    fn bound(&self) -> Known {
        Known {
            slugs: self.slugs,
            unlike_slugs: 0,
            most_in_a_cell: 0,
            mass_off_g: 0.0,
            x_off_mm: 0.0,
            y_pull_mm: 0.0,
        }
    }

    fn is_worth(&self, bound: &Known) -> bool {
        let problem = self.problem;
        let is_inside = is_within(bound.mass_off_g, problem.mass_tolerance_g)
            && is_within(bound.x_off_mm, problem.x_tolerance_mm)
            && is_within(bound.y_pull_mm, problem.y_tolerance_mm);
        (is_inside || self.best.goal == Goal::Outside)
            && !self.best.excludes(&bound.key(self.best.goal, problem))
    }

    /// All ways to put the chosen slugs into cells.
    fn place_all(&mut self) {
        let counted = self.left.iter().zip(&self.problem.kinds);
        let unplaced_g: f64 = counted.map(|(count, kind)| f64::from(*count) * kind.mass_g).sum();
        self.mass_g = self.problem.base.mass_g + unplaced_g;
        self.place(0, 0, Reached { unplaced: self.slugs, unplaced_g, ..Reached::default() });
    }

    /// Decides how many slugs of `kind` go into the cell whose turn it is.
    fn place(&mut self, turn: usize, kind: usize, reached: Reached) {
        if !self.step() {
            return;
        }
        if reached.unplaced == 0 && kind == 0 {
            return self.offer();
        }
        let Some(at) = self.order.turns.get(turn).copied() else { return };
        let (Some(slug), Some(left)) = (self.problem.kinds.get(kind), self.left.get(kind).copied()) else {
            return self.place(turn + 1, 0, Reached { in_cell: 0, ..reached });
        };
        let slug_g = slug.mass_g;
        let room = at.capacity - reached.in_cell;
        let earlier: u32 = self.left.iter().take(kind).sum();
        let like = at.partner.map(|partner| self.held_in(partner, kind));
        for count in self.counts(left, room, like, at.after.capacity) {
            // What stays behind must find room later: this kind and those before it in other cells only.
            let in_later_cells = earlier + left - count;
            let unplaced = reached.unplaced - count;
            if in_later_cells > at.after.capacity || unplaced > at.after.capacity + room - count {
                continue;
            }
            let added_g = f64::from(count) * slug_g;
            let in_cell = reached.in_cell + count;
            let next = Reached {
                x_moment: reached.x_moment + added_g * (at.x_mm - self.problem.target_x_mm),
                y_moment: reached.y_moment + added_g * at.y_mm,
                unplaced,
                unplaced_g: reached.unplaced_g - added_g,
                unlike: reached.unlike + like.map_or(0, |like| like.abs_diff(count)),
                most: reached.most.max(in_cell),
                in_cell,
            };
            if self.is_worth(&self.reachable(&at, &next)) {
                self.hold(at.cell, kind, count, left - count);
                self.place(turn, kind + 1, next);
            }
        }
        self.hold(at.cell, kind, 0, left);
    }

    /// Counts to try, the likeliest first: what the paired cell holds, else an even share.
    fn counts(&self, left: u32, room: u32, like: Option<u32>, later: u32) -> Vec<u32> {
        let share = (left * room).checked_div(room + later).unwrap_or(0);
        let likely = like.unwrap_or(share);
        let mut counts: Vec<u32> = (0..=left.min(room)).collect();
        counts.sort_by_key(|count| count.abs_diff(likely));
        counts
    }

    /// The least that every loading of a branch comes to.
    fn reachable(&self, at: &Turn, reached: &Reached) -> Known {
        let problem = self.problem;
        let fixed = problem.base.mass_g * (problem.base.x_mm - problem.target_x_mm) + reached.x_moment;
        let (x_low, x_high) = widened(at.after.x, at.x_mm);
        let (y_low, y_high) = widened(at.after.y, at.y_mm);
        let to = |place_mm: f64| reached.unplaced_g * place_mm;
        let least = |low: f64, high: f64| {
            let size = nearest_to_zero(low / self.mass_g, high / self.mass_g).abs();
            (size - WIDER).max(0.0)
        };
        let x = |place_mm: f64| fixed + to(place_mm - problem.target_x_mm);
        let y = |place_mm: f64| reached.y_moment + to(place_mm);
        Known {
            unlike_slugs: reached.unlike,
            most_in_a_cell: reached.most,
            mass_off_g: (self.mass_g - problem.target_mass_g).abs() - WIDER / 10.0,
            x_off_mm: least(x(x_low), x(x_high)),
            y_pull_mm: least(y(y_low), y(y_high)),
            ..self.bound()
        }
    }

    fn held_in(&self, cell: usize, kind: usize) -> u32 {
        self.held.get(cell).and_then(|held| held.get(kind)).copied().unwrap_or(0)
    }

    fn hold(&mut self, cell: usize, kind: usize, count: u32, left: u32) {
        if let Some(held) = self.held.get_mut(cell).and_then(|held| held.get_mut(kind)) {
            *held = count;
        }
        if let Some(of_kind) = self.left.get_mut(kind) {
            *of_kind = left;
        }
    }

    fn offer(&mut self) {
        let loading = weigh_loading(self.problem, self.held.clone());
        self.best.offer(&loading, self.problem);
    }
}

/// The number of a range that lies nearest to zero.
fn nearest_to_zero(low: f64, high: f64) -> f64 {
    let (low, high) = (low.min(high), low.max(high));
    if low > 0.0 {
        low
    } else if high < 0.0 {
        high
    } else {
        0.0
    }
}
