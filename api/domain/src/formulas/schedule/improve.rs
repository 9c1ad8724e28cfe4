//! Good plans for many tasks: orders by several rules, then the best of them changed a little, again and again. What is
//! taken by turns comes from a counter that is stirred, so the same question always gets the same plan.

use super::board::{Board, Found};
use super::ground::Ground;

/// Changes without a gain after which another order is begun with.
const PATIENCE: u32 = 1500;

/// Numbers in a stirred order (xorshift; Marsaglia 2003), always the same ones.
struct Stirred(u64);

impl Stirred {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// One of the numbers below a count; 0 for none.
    fn below(&mut self, count: usize) -> usize {
        let count = u64::try_from(count).unwrap_or(1).max(1);
        usize::try_from((self.next() >> 11) % count).unwrap_or_default()
    }
}

/// An order of tasks, and teams where a certain one is wanted.
#[derive(Clone)]
struct Order {
    tasks: Vec<usize>,
    wanted: Vec<Option<usize>>,
}

/// How good a plan is: where it begins, then how late its tasks lie in all.
fn worth(found: &Found) -> (usize, usize) {
    (found.begin, found.spots.iter().map(|spot| spot.begin).sum())
}

/// The best plan found within so many looked-at quarters, or as soon as it begins at `bound`; the one known, if none is
/// better.
pub(super) fn improve(ground: &Ground, bound: usize, known: Option<Found>, steps: u64) -> Option<Found> {
    let mut stirred = Stirred(0x9e37_79b9_7f4a_7c15);
    let mut best: Option<Found> = known;
    let mut spent = 0;
    let firsts = first_orders(ground);
    for round in 0.. {
        let mut order = match firsts.get(round) {
            Some(tasks) => Order { tasks: tasks.clone(), wanted: vec![None; tasks.len()] },
            // Back to the best order known, well shaken.
            None => shaken(ground, best.as_ref(), &firsts, &mut stirred),
        };
        let mut kept = fill(ground, &order, 0, &mut spent);
        let mut idle = 0;
        loop {
            if kept.as_ref().map(worth) > best.as_ref().map(worth) {
                best.clone_from(&kept);
            }
            let is_best = best.as_ref().is_some_and(|best| best.begin >= bound);
            if is_best || spent > steps {
                return best;
            }
            // All first orders are looked at before any is changed for long.
            if idle > PATIENCE || (round < firsts.len() && idle > 20) {
                break;
            }
            let mut changed = order.clone();
            if let Some(kept) = &kept {
                changed.tasks.sort_by_key(|task| usize::MAX - end_of(ground, kept, *task));
            }
            change(ground, &mut changed, kept.as_ref(), &mut stirred);
            // What begins earlier than the plan it comes from is not looked at any further.
            let floor = kept.as_ref().map_or(0, |kept| kept.begin);
            let found = fill(ground, &changed, floor, &mut spent);
            let (old, new) = (kept.as_ref().map(worth), found.as_ref().map(worth));
            idle = if new > old { 0 } else { idle + 1 };
            if new >= old {
                (order, kept) = (changed, found);
            }
        }
    }
    best
}

fn fill(ground: &Ground, order: &Order, floor: usize, spent: &mut u64) -> Option<Found> {
    let mut board = Board::new(ground);
    let found = board.fill(&order.tasks, &order.wanted, floor);
    // Setting up a board costs about as much as looking at a quarter of its quarters.
    *spent += board.steps + u64::try_from(ground.at.len() / 4).unwrap_or_default();
    found
}

fn end_of(ground: &Ground, found: &Found, task: usize) -> usize {
    found.begin_of(task) + ground.tasks.get(task).map_or(0, |work| work.length)
}

/// Orders to begin with: the longest way before it first; the most work first; the latest alone first; as listed.
fn first_orders(ground: &Ground) -> Vec<Vec<usize>> {
    let listed: Vec<usize> = (0..ground.tasks.len()).rev().collect();
    let alone = ground.never_after();
    let key = |by: &dyn Fn(usize) -> i64| {
        let mut order = listed.clone();
        order.sort_by_key(|task| -by(*task));
        order
    };
    let work = |task: usize| ground.tasks.get(task);
    let whole = |number: usize| i64::try_from(number).unwrap_or(i64::MAX);
    vec![
        key(&|task| work(task).map_or(0, |work| work.head)),
        key(&|task| alone.get(task).copied().flatten().map_or(0, whole)),
        key(&|task| work(task).map_or(0, |work| work.head + 2 * work.quarters)),
        key(&|task| work(task).map_or(0, |work| work.quarters)),
        listed.clone(),
    ]
}

fn shaken(ground: &Ground, best: Option<&Found>, firsts: &[Vec<usize>], stirred: &mut Stirred) -> Order {
    let mut tasks = firsts.first().cloned().unwrap_or_default();
    if let Some(best) = best {
        tasks.sort_by_key(|task| usize::MAX - end_of(ground, best, *task));
    }
    let mut order = Order { wanted: vec![None; tasks.len()], tasks };
    for _ in 0..2 + stirred.below(order.tasks.len()) {
        let (from, to) = (stirred.below(order.tasks.len()), stirred.below(order.tasks.len()));
        order.tasks.swap(from, to);
    }
    order
}

/// Takes one task forward, most often one of those that begin first; or exchanges two; or wants another team.
fn change(ground: &Ground, order: &mut Order, kept: Option<&Found>, stirred: &mut Stirred) {
    let count = order.tasks.len();
    match stirred.below(10) {
        0..=4 => {
            let mut early: Vec<usize> = (0..count).collect();
            if let Some(kept) = kept {
                early.sort_by_key(|place| order.tasks.get(*place).map_or(0, |task| kept.begin_of(*task)));
            }
            let from = early.get(stirred.below(count.div_ceil(4))).copied().unwrap_or_default();
            take(order, from, stirred.below(from + 1));
        }
        5..=6 => {
            let from = stirred.below(count);
            take(order, from, stirred.below(count));
        }
        7..=8 => {
            let (one, two) = (stirred.below(count), stirred.below(count));
            order.tasks.swap(one, two);
        }
        _ => {
            let task = stirred.below(count);
            let teams = ground.tasks.get(task).map_or(1, |work| work.teams.len());
            let wanted = stirred.below(teams + 1);
            if let Some(kept) = order.wanted.get_mut(task) {
                *kept = (wanted < teams).then_some(wanted);
            }
        }
    }
}

fn take(order: &mut Order, from: usize, to: usize) {
    if from < order.tasks.len() {
        let task = order.tasks.remove(from);
        order.tasks.insert(to.min(order.tasks.len()), task);
    }
}
