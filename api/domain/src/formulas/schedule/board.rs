//! Tasks placed one after the other from the end, each as late as it goes beside those that are placed already.

use std::ops::Range;

use super::Quarter;
use super::bits::{Bits, last_run};
use super::ground::Ground;

/// Where a task is placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Spot {
    /// The working quarter in which it begins.
    pub begin: usize,
    /// Which of its teams does it.
    pub team: usize,
}

/// A whole plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Found {
    /// The working quarter in which the first task begins.
    pub begin: usize,
    /// Task by task.
    pub spots: Vec<Spot>,
}

impl Found {
    /// The working quarter in which a task begins.
    pub fn begin_of(&self, task: usize) -> usize {
        self.spots.get(task).map_or(0, |spot| spot.begin)
    }
}

/// What is placed so far.
pub(super) struct Board<'a> {
    ground: &'a Ground,
    /// People, class by class.
    left: Vec<Left>,
    /// Tools, one by one.
    tools: Vec<Left>,
    placed: Vec<Option<Spot>>,
    /// Of each task, how many that wait for it are not placed yet.
    open_next: Vec<usize>,
    /// Words of 64 quarters looked at.
    pub steps: u64,
}

impl<'a> Board<'a> {
    /// Nothing placed.
    pub fn new(ground: &'a Ground) -> Self {
        let slots = ground.at.len();
        let most = u32::try_from(ground.tasks.len()).unwrap_or(u32::MAX);
        Self {
            ground,
            left: ground
                .classes
                .iter()
                .map(|class| Left::of(slots, |slot| class.free.get(slot).copied().unwrap_or_default()))
                .collect(),
            tools: ground.tools.iter().map(|count| Left::of(slots, |_| (*count).min(most))).collect(),
            placed: vec![None; ground.tasks.len()],
            open_next: ground.tasks.iter().map(|work| work.next.len()).collect(),
            steps: 0,
        }
    }

    /// Where a task is placed.
    pub fn spot(&self, task: usize) -> Option<Spot> {
        self.placed.get(task).copied().flatten()
    }

    /// Tasks whose followers are all placed, but not they themselves.
    pub fn ready(&self) -> impl Iterator<Item = usize> + '_ {
        let open = self.open_next.iter().zip(&self.placed).enumerate();
        open.filter(|(_, (open, placed))| **open == 0 && placed.is_none()).map(|(task, _)| task)
    }

    /// The working quarter before which a task has to end, by what is placed after it.
    pub fn ends_before(&self, task: usize) -> usize {
        let Some(work) = self.ground.tasks.get(task) else { return 0 };
        let begins = work.next.iter().filter_map(|(next, cure)| {
            let spot = self.spot(*next)?;
            Some(self.ground.quarter(spot.begin) - cure)
        });
        let by: Quarter = begins.fold(work.ends_by, Quarter::min);
        self.ground.slots_before(by)
    }

    /// The latest begin of a task with one of its teams, ending before a working quarter; none before `floor` is looked
    /// for.
    pub fn latest(&mut self, task: usize, team: usize, before: usize, floor: usize) -> Option<usize> {
        let work = self.ground.tasks.get(task)?;
        let team = work.teams.get(team)?;
        let end = before.min(self.ground.at.len());
        let slots = floor..(end + 1).saturating_sub(work.length);
        let free = |word: usize| {
            let people = team
                .of
                .iter()
                .fold(u64::MAX, |all, (class, count)| all & has(&self.left, *class, *count, word));
            work.tools.iter().fold(people, |all, tool| all & has(&self.tools, *tool, 1, word))
        };
        let (found, looked) = last_run(&work.begins, work.length, slots, free);
        self.steps += looked;
        found
    }

    /// Takes back all but so many of the first of these tasks.
    pub fn keep(&mut self, order: &[usize], first: usize) {
        for task in order.iter().skip(first) {
            self.take_back(*task);
        }
    }

    /// Places a task.
    pub fn place(&mut self, task: usize, spot: Spot) {
        self.mark(task, spot, Left::take);
        if let Some(placed) = self.placed.get_mut(task) {
            *placed = Some(spot);
        }
        self.count_next(task, |open| open.saturating_sub(1));
    }

    /// Takes a placed task back.
    pub fn take_back(&mut self, task: usize) {
        if let Some(spot) = self.placed.get_mut(task).and_then(Option::take) {
            self.mark(task, spot, Left::give);
            self.count_next(task, |open| open + 1);
        }
    }

    fn count_next(&mut self, task: usize, by: impl Fn(usize) -> usize) {
        for previous in self.ground.tasks.get(task).map_or(&[][..], |work| &work.previous) {
            if let Some(open) = self.open_next.get_mut(*previous) {
                *open = by(*open);
            }
        }
    }

    fn mark(&mut self, task: usize, spot: Spot, change: impl Fn(&mut Left, &Range<usize>)) {
        let Some(work) = self.ground.tasks.get(task) else { return };
        let slots = spot.begin..spot.begin + work.length;
        for (class, count) in work.teams.get(spot.team).map_or(&[][..], |team| &team.of) {
            if let Some(left) = self.left.get_mut(*class) {
                (0..*count).for_each(|_| change(left, &slots));
            }
        }
        for tool in &work.tools {
            if let Some(left) = self.tools.get_mut(*tool) {
                change(left, &slots);
            }
        }
    }

    /// People left over all classes between two working quarters.
    pub fn people_left(&self, slots: &Range<usize>) -> u64 {
        self.left.iter().flat_map(|left| &left.0).map(|bits| u64::from(bits.count(slots.clone()))).sum()
    }

    /// The plan, once every task is placed.
    pub fn found(&self) -> Option<Found> {
        let spots: Vec<Spot> = self.placed.iter().copied().collect::<Option<_>>()?;
        let begin = spots.iter().map(|spot| spot.begin).min()?;
        Some(Found { begin, spots })
    }

    /// Places the tasks in this order as far as their followers allow: at each turn the first that is ready, with the
    /// team that can begin latest, or the wanted one. `None` when one of them finds no room, or when more working
    /// quarters than `most` come together by which tasks begin before `target`.
    pub fn fill(
        &mut self,
        order: &[usize],
        wanted: &[Option<usize>],
        target: usize,
        most: usize,
    ) -> Option<Found> {
        let mut left: Vec<usize> = order.iter().copied().filter(|task| self.spot(*task).is_none()).collect();
        let mut spare = most;
        while !left.is_empty() {
            let is_ready = |task: &usize| self.open_next.get(*task).is_some_and(|open| *open == 0);
            let task = left.remove(left.iter().position(is_ready)?);
            let before = self.ends_before(task);
            let teams = match wanted.get(task).copied().flatten() {
                Some(team) => team..team + 1,
                None => 0..self.ground.tasks.get(task)?.teams.len(),
            };
            let mut best: Option<Spot> = None;
            for team in teams {
                // A later team counts only if it can begin later still.
                let from = best.map_or(target.saturating_sub(spare), |best| best.begin + 1);
                if let Some(begin) = self.latest(task, team, before, from) {
                    best = Some(Spot { begin, team });
                }
            }
            let spot = best?;
            spare -= target.saturating_sub(spot.begin).min(spare);
            self.place(task, spot);
        }
        self.found()
    }
}

/// How many of something are left: where at least one is, where at least two are, and so on.
struct Left(Vec<Bits>);

impl Left {
    fn of(slots: usize, count: impl Fn(usize) -> u32) -> Self {
        let most = (0..slots).map(&count).max().unwrap_or_default();
        Self((1..=most).map(|number| Bits::of(slots, |slot| count(slot) >= number)).collect())
    }

    /// One less: each level becomes what the next one was.
    fn take(&mut self, slots: &Range<usize>) {
        for level in 0..self.0.len() {
            let (here, behind) = self.0.split_at_mut(level + 1);
            if let Some(bits) = here.last_mut() {
                bits.copy(behind.first(), slots.clone(), false);
            }
        }
    }

    /// One more.
    fn give(&mut self, slots: &Range<usize>) {
        for level in (0..self.0.len()).rev() {
            let (before, here) = self.0.split_at_mut(level);
            if let Some(bits) = here.first_mut() {
                bits.copy(before.last(), slots.clone(), true);
            }
        }
    }
}

/// A word of the quarters in which so many of something are left.
fn has(left: &[Left], what: usize, count: u32, word: usize) -> u64 {
    let level = usize::try_from(count).unwrap_or_default().checked_sub(1);
    let bits = level.and_then(|level| left.get(what)?.0.get(level));
    bits.map_or(0, |bits| bits.word(word))
}
