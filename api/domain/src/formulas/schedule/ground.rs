//! A project arranged for searching: only the quarters in which somebody can work, people who are alike taken together,
//! and for each task the teams that can do it. What was asked wrongly is found here.

use std::collections::BTreeSet;

use super::bits::Bits;
use super::board::Found;
use super::{MOST_ON_A_TASK, MOST_PEOPLE, MOST_TASKS, Person, Placed, Project, Quarter, ScheduleError, Span};

/// People with the same hours and skills.
pub(super) struct Class {
    /// Who they are, by their place in the project.
    pub members: Vec<usize>,
    /// How many of them can work, working quarter by working quarter.
    pub free: Vec<u32>,
}

/// How many of which class do a task.
pub(super) struct Team {
    /// Class and number, numbers above 0.
    pub of: Vec<(usize, u32)>,
}

/// A task.
pub(super) struct Work {
    /// How many working quarters it takes.
    pub length: usize,
    /// The same in quarters of the clock.
    pub quarters: Quarter,
    /// Who can do it: those that cost least freedom first.
    pub teams: Vec<Team>,
    /// How many visitors it needs beside them.
    pub visitors: u32,
    /// Whether it may run, working quarter by working quarter.
    pub open: Vec<bool>,
    /// Where it may begin by its own hours, were everybody free always.
    pub begins: Bits,
    /// The tools it takes one of.
    pub tools: Vec<usize>,
    /// Tasks that wait for it, and the wait after its end.
    pub next: Vec<(usize, Quarter)>,
    /// Tasks that it waits for.
    pub previous: Vec<usize>,
    /// It ends by then, whatever follows.
    pub ends_by: Quarter,
    /// It begins no earlier.
    pub not_before: Quarter,
    /// The longest way to it: work and cures of what it waits for, each after the other.
    pub head: Quarter,
}

/// The whole.
pub(super) struct Ground {
    /// The quarters in which anybody can work, in order.
    pub at: Vec<Quarter>,
    /// Whether each follows the one before without a gap.
    pub joined: Vec<bool>,
    /// People.
    pub classes: Vec<Class>,
    /// Tasks.
    pub tasks: Vec<Work>,
    /// How many there are of each tool.
    pub tools: Vec<u32>,
    /// Tasks, each after all that it waits for.
    pub sorted: Vec<usize>,
    /// For each task and each end of the working quarters: where it would begin, were it the only task. `None`: nowhere.
    alone: Vec<Vec<Option<usize>>>,
}

impl Ground {
    /// Arranges a project.
    pub fn of(project: &Project) -> Result<Self, ScheduleError> {
        check(project)?;
        let sorted = sort(project)?;
        let at = working_quarters(project);
        let joined = std::iter::once(false)
            .chain(at.iter().zip(at.iter().skip(1)).map(|(before, after)| after - before == 1))
            .collect();
        let classes = classes(&project.people, &at);
        let mut tasks = Vec::with_capacity(project.tasks.len());
        for (index, task) in project.tasks.iter().enumerate() {
            let bound = task.people.min(u32::try_from(project.people.len()).unwrap_or(u32::MAX));
            let teams = teams(&classes, &project.people, bound, task.skills);
            if teams.is_empty() {
                return Err(ScheduleError::NoOneCan { task: index });
            }
            let cured_by = project.until - Quarter::from(task.cure);
            tasks.push(Work {
                length: usize::try_from(task.quarters).unwrap_or(usize::MAX),
                quarters: Quarter::from(task.quarters),
                teams,
                visitors: task.people - bound,
                open: at.iter().map(|quarter| is_open(task.hours.as_deref(), *quarter)).collect(),
                begins: Bits::of(0, |_| false),
                tools: task.tools.clone(),
                next: task.before.iter().map(|next| (*next, Quarter::from(task.cure))).collect(),
                previous: Vec::new(),
                ends_by: task.done_by.map_or(cured_by, |by| by.min(cured_by)),
                not_before: task.not_before.unwrap_or(Quarter::MIN),
                head: 0,
            });
        }
        let mut ground =
            Self { at, joined, classes, tasks, tools: project.tools.clone(), sorted, alone: Vec::new() };
        ground.look_back();
        ground.look_at_hours();
        ground.alone = (0..ground.tasks.len()).map(|task| ground.alone_by_end(task)).collect();
        match ground.alone.iter().position(|ends| ends.iter().all(Option::is_none)) {
            Some(task) => Err(ScheduleError::NoWindow { task }),
            None => Ok(ground),
        }
    }

    /// Fills in what comes before each task, and the longest way to it.
    fn look_back(&mut self) {
        for task in self.sorted.clone() {
            let Some(work) = self.tasks.get(task) else { continue };
            let (reached, next) = (work.head + work.quarters, work.next.clone());
            for (after, cure) in next {
                if let Some(after) = self.tasks.get_mut(after) {
                    after.previous.push(task);
                    after.head = after.head.max(reached + cure);
                }
            }
        }
    }

    /// Fills in where each task may begin by its own hours.
    fn look_at_hours(&mut self) {
        let (at, joined) = (&self.at, &self.joined);
        for work in &mut self.tasks {
            let mut run = 0;
            // How long from each quarter on it may go on, from the last one back.
            let mut from: Vec<usize> = Vec::with_capacity(at.len());
            for (slot, open) in work.open.iter().enumerate().rev() {
                let goes_on = joined.get(slot + 1).copied().unwrap_or_default();
                run = if *open { if goes_on { run + 1 } else { 1 } } else { 0 };
                from.push(run);
            }
            from.reverse();
            work.begins = Bits::of(at.len(), |slot| {
                from.get(slot).is_some_and(|run| *run >= work.length)
                    && at.get(slot).is_some_and(|quarter| *quarter >= work.not_before)
            });
        }
    }

    /// The quarter of the clock that a working quarter is.
    pub fn quarter(&self, slot: usize) -> Quarter {
        self.at.get(slot).copied().unwrap_or_default()
    }

    /// How many working quarters lie before a quarter of the clock.
    pub fn slots_before(&self, quarter: Quarter) -> usize {
        self.at.partition_point(|at| *at < quarter)
    }

    /// Where a task would begin, were it the only one, if it has to end before this working quarter.
    pub fn alone(&self, task: usize, end: usize) -> Option<usize> {
        self.alone.get(task).and_then(|ends| ends.get(end).copied().flatten())
    }

    fn alone_by_end(&self, task: usize) -> Vec<Option<usize>> {
        let mut best = vec![None; self.at.len() + 1];
        let Some(work) = self.tasks.get(task) else { return best };
        for team in &work.teams {
            let mut run = 0;
            let mut latest: Option<usize> = None;
            for (slot, joined) in self.joined.iter().enumerate() {
                let is_free = work.open.get(slot).copied().unwrap_or_default()
                    && team.of.iter().all(|(class, count)| self.free(*class, slot) >= *count);
                run = if is_free { if *joined { run + 1 } else { 1 } } else { 0 };
                if run >= work.length && self.quarter(slot + 1 - work.length) >= work.not_before {
                    latest = Some(slot + 1 - work.length);
                }
                if let Some(kept) = best.get_mut(slot + 1) {
                    *kept = latest.max(*kept);
                }
            }
        }
        best
    }

    fn free(&self, class: usize, slot: usize) -> u32 {
        self.classes.get(class).and_then(|class| class.free.get(slot).copied()).unwrap_or_default()
    }

    /// The latest begin of each task if nothing but what waits for it had to be done; `None` where there is no room.
    pub fn never_after(&self) -> Vec<Option<usize>> {
        let mut begins = vec![None; self.tasks.len()];
        for task in self.sorted.iter().rev() {
            let Some(work) = self.tasks.get(*task) else { continue };
            let mut ends_by = work.ends_by;
            for (next, cure) in &work.next {
                let begin = begins.get(*next).copied().flatten();
                ends_by = ends_by.min(begin.map_or(Quarter::MIN, |slot| self.quarter(slot) - cure));
            }
            if let Some(begin) = begins.get_mut(*task) {
                *begin = self.alone(*task, self.slots_before(ends_by));
            }
        }
        begins
    }

    /// A plan as the asker sees it: people by name, each of a class taking turns.
    pub fn told(&self, found: &Found) -> Vec<Placed> {
        let mut by_begin: Vec<usize> = (0..self.tasks.len()).collect();
        by_begin.sort_by_key(|task| found.begin_of(*task));
        let mut busy_until: Vec<Vec<Quarter>> =
            self.classes.iter().map(|class| vec![Quarter::MIN; class.members.len()]).collect();
        let never_after = self.never_after();
        let mut told: Vec<(usize, Placed)> = Vec::new();
        for task in by_begin {
            let (Some(work), Some(spot)) = (self.tasks.get(task), found.spots.get(task)) else { continue };
            let start = self.quarter(spot.begin);
            let end = start + work.quarters;
            let mut people = Vec::new();
            for (class, count) in work.teams.get(spot.team).map_or(&[][..], |team| &team.of) {
                let Some((class, busy)) = self.classes.get(*class).zip(busy_until.get_mut(*class)) else {
                    continue;
                };
                let mut wanted = *count;
                for (person, until) in class.members.iter().zip(busy.iter_mut()) {
                    if wanted > 0 && *until <= start {
                        (*until, wanted) = (end, wanted - 1);
                        people.push(*person);
                    }
                }
            }
            people.sort_unstable();
            let alone = never_after.get(task).copied().flatten();
            let never_after = alone.map_or(start, |slot| self.quarter(slot));
            told.push((task, Placed { start, end, people, visitors: work.visitors, never_after }));
        }
        told.sort_by_key(|(task, _)| *task);
        told.into_iter().map(|(_, placed)| placed).collect()
    }
}

fn check(project: &Project) -> Result<(), ScheduleError> {
    if project.tasks.is_empty() {
        return Err(ScheduleError::NoTasks);
    }
    if project.people.is_empty() {
        return Err(ScheduleError::NoPeople);
    }
    if project.tasks.len() > MOST_TASKS || project.people.len() > MOST_PEOPLE {
        return Err(ScheduleError::TooMany);
    }
    for (index, task) in project.tasks.iter().enumerate() {
        if task.quarters == 0 || !(1..=MOST_ON_A_TASK).contains(&task.people) {
            return Err(ScheduleError::BadTask { task: index });
        }
        let has_all = task.before.iter().all(|next| *next < project.tasks.len())
            && task.tools.iter().all(|tool| project.tools.get(*tool).is_some_and(|count| *count > 0));
        if !has_all {
            return Err(ScheduleError::Unknown { task: index });
        }
    }
    Ok(())
}

/// The tasks, each after all that it waits for.
fn sort(project: &Project) -> Result<Vec<usize>, ScheduleError> {
    let mut waits = vec![0_usize; project.tasks.len()];
    for next in project.tasks.iter().flat_map(|task| &task.before) {
        if let Some(count) = waits.get_mut(*next) {
            *count += 1;
        }
    }
    let mut sorted = Vec::with_capacity(waits.len());
    let mut ready: BTreeSet<usize> =
        waits.iter().enumerate().filter(|(_, count)| **count == 0).map(|(task, _)| task).collect();
    while let Some(task) = ready.pop_first() {
        sorted.push(task);
        for next in project.tasks.get(task).map_or(&[][..], |task| &task.before) {
            if let Some(count) = waits.get_mut(*next) {
                *count -= 1;
                if *count == 0 {
                    ready.insert(*next);
                }
            }
        }
    }
    match waits.iter().position(|count| *count > 0) {
        Some(task) => Err(ScheduleError::Ring { task }),
        None => Ok(sorted),
    }
}

fn working_quarters(project: &Project) -> Vec<Quarter> {
    let spans = project.people.iter().flat_map(|person| &person.free);
    let all: BTreeSet<Quarter> = spans.flat_map(|span| span.from..span.to.min(project.until)).collect();
    all.into_iter().collect()
}

fn is_open(hours: Option<&[Span]>, quarter: Quarter) -> bool {
    hours.is_none_or(|spans| spans.iter().any(|span| (span.from..span.to).contains(&quarter)))
}

fn classes(people: &[Person], at: &[Quarter]) -> Vec<Class> {
    let mut classes: Vec<(&Person, Vec<usize>)> = Vec::new();
    for (index, person) in people.iter().enumerate() {
        match classes.iter_mut().find(|(like, _)| *like == person) {
            Some((_, members)) => members.push(index),
            None => classes.push((person, vec![index])),
        }
    }
    let count = |members: &Vec<usize>| u32::try_from(members.len()).unwrap_or(u32::MAX);
    classes
        .into_iter()
        .map(|(person, members)| Class {
            free: at
                .iter()
                .map(|quarter| if is_open(Some(&person.free), *quarter) { count(&members) } else { 0 })
                .collect(),
            members,
        })
        .collect()
}

/// A team in the making.
#[derive(Clone, Default)]
struct Half {
    of: Vec<(usize, u32)>,
    size: u32,
    can: u64,
    /// What it costs: skills and hours that are bound.
    cost: u64,
}

/// Every team of so many that has the skills, those first that have the fewest skills and hours to spare.
fn teams(classes: &[Class], people: &[Person], size: u32, skills: u64) -> Vec<Team> {
    let mut teams = vec![Half::default()];
    for (index, class) in classes.iter().enumerate() {
        let most = u32::try_from(class.members.len()).unwrap_or(u32::MAX).min(size);
        let can = class.members.first().and_then(|member| people.get(*member)).map_or(0, |one| one.skills);
        let hours: u64 = class.free.iter().map(|count| u64::from(*count > 0)).sum();
        let worth = (u64::from(can.count_ones()) + 1) * (hours + 1);
        let joined = |half: &Half, count: u32| {
            let mut half = half.clone();
            half.of.push((index, count));
            half.size += count;
            half.can |= can;
            half.cost += u64::from(count) * worth;
            half
        };
        let longer: Vec<Half> = teams
            .iter()
            .flat_map(|half| (1..=most.min(size - half.size)).map(move |count| joined(half, count)))
            .collect();
        teams.extend(longer);
    }
    teams.retain(|team| team.size == size && team.can & skills == skills);
    teams.sort_by_key(|team| team.cost);
    teams.into_iter().map(|team| Team { of: team.of }).collect()
}
