//! Tasks placed one after the other from the end, each as late as it goes beside those that are placed already.

use super::Quarter;
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
    /// How many of each class are left, working quarter by working quarter.
    left: Vec<Vec<u32>>,
    /// How many of each tool are left.
    tools: Vec<Vec<u32>>,
    placed: Vec<Option<Spot>>,
    /// Of each task, how many that wait for it are not placed yet.
    open_next: Vec<usize>,
    /// Quarters looked at.
    pub steps: u64,
}

impl<'a> Board<'a> {
    /// Nothing placed.
    pub fn new(ground: &'a Ground) -> Self {
        Self {
            ground,
            left: ground.classes.iter().map(|class| class.free.clone()).collect(),
            tools: ground.tools.iter().map(|count| vec![*count; ground.at.len()]).collect(),
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
        let members = &work.teams.get(team)?.of;
        let mut run = 0;
        let mut follows = true;
        for slot in (floor..before.min(self.ground.at.len())).rev() {
            self.steps += 1;
            let is_free = work.open.get(slot).is_some_and(|open| *open)
                && members.iter().all(|(class, count)| has(&self.left, *class, slot, *count))
                && work.tools.iter().all(|tool| has(&self.tools, *tool, slot, 1));
            run = if is_free { if follows { run + 1 } else { 1 } } else { 0 };
            if run == work.length {
                return (self.ground.quarter(slot) >= work.not_before).then_some(slot);
            }
            follows = self.ground.joined.get(slot).is_some_and(|joined| *joined);
        }
        None
    }

    /// Places a task.
    pub fn place(&mut self, task: usize, spot: Spot) {
        self.mark(task, spot, |left, count| *left = left.saturating_sub(count));
        if let Some(placed) = self.placed.get_mut(task) {
            *placed = Some(spot);
        }
        self.count_next(task, |open| open.saturating_sub(1));
    }

    /// Takes a placed task back.
    pub fn take_back(&mut self, task: usize) {
        if let Some(spot) = self.placed.get_mut(task).and_then(Option::take) {
            self.mark(task, spot, |left, count| *left += count);
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

    fn mark(&mut self, task: usize, spot: Spot, change: impl Fn(&mut u32, u32)) {
        let Some(work) = self.ground.tasks.get(task) else { return };
        let slots = spot.begin..spot.begin + work.length;
        for (class, count) in work.teams.get(spot.team).map_or(&[][..], |team| &team.of) {
            let left = self.left.get_mut(*class).and_then(|left| left.get_mut(slots.clone()));
            left.into_iter().flatten().for_each(|left| change(left, *count));
        }
        for tool in &work.tools {
            let left = self.tools.get_mut(*tool).and_then(|left| left.get_mut(slots.clone()));
            left.into_iter().flatten().for_each(|left| change(left, 1));
        }
    }

    /// People left over all classes between two working quarters.
    pub fn people_left(&self, slots: std::ops::Range<usize>) -> u64 {
        let free = self.left.iter().filter_map(|left| left.get(slots.clone())).flatten();
        free.map(|count| u64::from(*count)).sum()
    }

    /// The plan, once every task is placed.
    pub fn found(&self) -> Option<Found> {
        let spots: Vec<Spot> = self.placed.iter().copied().collect::<Option<_>>()?;
        let begin = spots.iter().map(|spot| spot.begin).min()?;
        Some(Found { begin, spots })
    }

    /// Places the tasks in this order as far as their followers allow: at each turn the first that is ready, with the
    /// team that can begin latest, or the wanted one. `None` when one of them finds no room from `floor` on.
    pub fn fill(&mut self, order: &[usize], wanted: &[Option<usize>], floor: usize) -> Option<Found> {
        let mut left: Vec<usize> = order.to_vec();
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
                let from = best.map_or(floor, |best| best.begin + 1);
                if let Some(begin) = self.latest(task, team, before, from) {
                    best = Some(Spot { begin, team });
                }
            }
            self.place(task, best?);
        }
        self.found()
    }
}

fn has(left: &[Vec<u32>], what: usize, slot: usize, count: u32) -> bool {
    left.get(what).and_then(|left| left.get(slot)).is_some_and(|left| *left >= count)
}
