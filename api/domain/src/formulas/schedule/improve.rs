//! Good plans for many tasks: orders by several rules, then the best of them changed a little, again and again. What is
//! taken by turns comes from a counter that is stirred, so the same question always gets the same plan.

use std::cmp::Reverse;
use std::collections::VecDeque;

use super::board::{Board, Found};
use super::ground::Ground;

/// Changes without a gain after which another order is begun with.
const PATIENCE: u32 = 1500;
/// How many changes ago the plan was held that a new one may be as bad as.
const HELD: usize = 20;

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

    /// True so many times of a hundred.
    fn happens(&mut self, pct: usize) -> bool {
        self.below(100) < pct
    }
}

/// An order of tasks, and teams where a certain one is wanted.
#[derive(Clone)]
struct Order {
    tasks: Vec<usize>,
    wanted: Vec<Option<usize>>,
}

/// How far a plan is from beginning at a target: the working quarters by which its tasks begin before it, all together;
/// then how early they lie.
fn worth(found: &Found, target: usize) -> (usize, Reverse<usize>) {
    (
        found.spots.iter().map(|spot| target.saturating_sub(spot.begin)).sum(),
        Reverse(found.spots.iter().map(|spot| spot.begin).sum()),
    )
}

/// Where a plan begins; before everything where there is none.
fn begin(found: Option<&Found>) -> Option<usize> {
    found.map(|found| found.begin)
}

/// What is searched on.
struct Search<'a> {
    ground: &'a Ground,
    board: Board<'a>,
    stirred: Stirred,
    /// How many exchanges at the most shake an order.
    shake: usize,
    /// What was looked at so far.
    spent: u64,
    best: Option<Found>,
}

/// The best plan found within so many steps, or as soon as one begins at `bound`. How well an order is shaken when it
/// gives no more is `shake`: searches that shake otherwise find other plans.
pub(super) fn improve(ground: &Ground, bound: usize, shake: usize, steps: u64) -> Option<Found> {
    let (board, stirred) = (Board::new(ground), Stirred(0x9e37_79b9_7f4a_7c15));
    let mut search = Search { ground, board, stirred, shake, spent: 0, best: None };
    let firsts = first_orders(ground);
    let is_over = |search: &Search<'_>| search.spent > steps || begin(search.best.as_ref()) >= Some(bound);
    for round in 0.. {
        let (order, patience) = match firsts.get(round) {
            // All first orders are looked at before any is changed for long.
            Some(tasks) => (Order { tasks: tasks.clone(), wanted: vec![None; tasks.len()] }, 20),
            // Back to the best order known, shaken.
            None => (search.shaken(firsts.first().map_or(&[][..], Vec::as_slice)), PATIENCE),
        };
        let known = begin(search.best.as_ref()).unwrap_or_default();
        let target = match round % 3 {
            0 => bound,
            1 => known + bound.saturating_sub(known).div_ceil(4),
            _ => known + 1,
        };
        search.climb(order, target, patience, &is_over);
        if is_over(&search) {
            break;
        }
    }
    search.best
}

impl Search<'_> {
    /// Changes an order again and again, and goes on from what is no worse than what was held a while ago (late
    /// acceptance; Burke and Bykov 2017, from memory), until nothing gets better for so many changes.
    fn climb(
        &mut self,
        mut order: Order,
        target: usize,
        patience: u32,
        is_over: &dyn Fn(&Search<'_>) -> bool,
    ) {
        self.board.keep(&order.tasks, 0);
        let mut kept = self.fill(&order, target, usize::MAX);
        let mut before = VecDeque::from([usize::MAX; HELD]);
        let mut idle = 0;
        loop {
            if begin(kept.as_ref()) > begin(self.best.as_ref()) {
                self.best.clone_from(&kept);
            }
            if is_over(self) || idle > patience || begin(kept.as_ref()) >= Some(target) {
                return;
            }
            if let Some(kept) = &kept {
                order.tasks.sort_by_key(|task| usize::MAX - end_of(self.ground, kept, *task));
            }
            let mut changed = order.clone();
            self.change(&mut changed, kept.as_ref(), target);
            self.rewind(&order, &changed, kept.as_ref());
            let old = kept.as_ref().map_or((usize::MAX, Reverse(0)), |kept| worth(kept, target));
            let held = before.pop_front().unwrap_or(usize::MAX);
            idle += 1;
            if let Some(found) = self.fill(&changed, target, old.0.max(held)) {
                let new = worth(&found, target);
                if new < old {
                    idle = 0;
                }
                if new <= old || new.0 <= held {
                    (order, kept) = (changed, Some(found));
                }
            }
            before.push_back(kept.as_ref().map_or(usize::MAX, |kept| worth(kept, target).0));
        }
    }

    fn fill(&mut self, order: &Order, target: usize, most: usize) -> Option<Found> {
        let before = self.board.steps;
        let found = self.board.fill(&order.tasks, &order.wanted, target, most);
        // Placing and taking back costs about as much again.
        self.spent += self.board.steps - before + u64::try_from(order.tasks.len()).unwrap_or_default();
        found
    }

    /// Clears the board; most often all but what comes before the first change, which stays where it was.
    fn rewind(&mut self, order: &Order, changed: &Order, kept: Option<&Found>) {
        self.board.keep(&order.tasks, 0);
        if self.stirred.happens(20) {
            return;
        }
        for (task, other) in order.tasks.iter().zip(&changed.tasks) {
            let spot = kept.and_then(|kept| kept.spots.get(*task));
            match spot.filter(|_| task == other && order.wanted.get(*task) == changed.wanted.get(*task)) {
                Some(spot) => self.board.place(*task, *spot),
                None => return,
            }
        }
    }

    fn shaken(&mut self, first: &[usize]) -> Order {
        let mut tasks = first.to_vec();
        if let Some(best) = &self.best {
            tasks.sort_by_key(|task| usize::MAX - end_of(self.ground, best, *task));
        }
        let mut order = Order { wanted: vec![None; tasks.len()], tasks };
        for _ in 0..2 + self.stirred.below(self.shake) {
            let count = order.tasks.len();
            let (from, to) = (self.stirred.below(count), self.stirred.below(count));
            order.tasks.swap(from, to);
        }
        order
    }

    /// Takes one task forward, most often one that begins too early or one that waits for it; or exchanges two; or
    /// wants another team.
    fn change(&mut self, order: &mut Order, kept: Option<&Found>, target: usize) {
        let count = order.tasks.len();
        match self.stirred.below(100) {
            0..50 => {
                let task = self.late_task(count, kept, target);
                if let Some(from) = order.tasks.iter().position(|other| *other == task) {
                    take(order, from, self.stirred.below(from + 1));
                }
                if self.stirred.happens(25) {
                    self.want(order, task);
                }
            }
            50..70 => {
                let from = self.stirred.below(count);
                take(order, from, self.stirred.below(count));
            }
            70..90 => {
                let (one, two) = (self.stirred.below(count), self.stirred.below(count));
                order.tasks.swap(one, two);
            }
            _ => {
                let task = self.stirred.below(count);
                self.want(order, task);
            }
        }
    }

    /// A task that begins before the target, or one of those that wait for it.
    fn late_task(&mut self, count: usize, kept: Option<&Found>, target: usize) -> usize {
        let is_late = |task: &usize| kept.is_none_or(|kept| kept.begin_of(*task) < target);
        let late: Vec<usize> = (0..count).filter(is_late).collect();
        let mut task = late.get(self.stirred.below(late.len())).copied().unwrap_or_default();
        while let Some(work) = self.ground.tasks.get(task) {
            if work.next.is_empty() || self.stirred.happens(60) {
                break;
            }
            match work.next.get(self.stirred.below(work.next.len())) {
                Some((next, _)) => task = *next,
                None => break,
            }
        }
        task
    }

    fn want(&mut self, order: &mut Order, task: usize) {
        let teams = self.ground.tasks.get(task).map_or(1, |work| work.teams.len());
        let wanted = self.stirred.below(teams + 1);
        if let Some(kept) = order.wanted.get_mut(task) {
            *kept = (wanted < teams).then_some(wanted);
        }
    }
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

fn take(order: &mut Order, from: usize, to: usize) {
    if from < order.tasks.len() {
        let task = order.tasks.remove(from);
        order.tasks.insert(to.min(order.tasks.len()), task);
    }
}
