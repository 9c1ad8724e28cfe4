//! Work that has to be done by a moment, scheduled backwards from it: who does what when, as late as it can be begun.
//! Time is a grid of quarters of an hour; what a calendar, a zone or a club is, is known elsewhere.
//!
//! * [`ground`]: the same project arranged for searching: working quarters, people alike, teams that can do a task
//! * [`board`]: tasks placed one after the other, each as late as it goes · [`bound`]: later than this no plan can begin
//! * [`improve`]: good plans for many tasks · [`exact`]: the best one, by branch and bound over the orders of tasks
//! * [`orders`]: how many orders there are · [`chain`]: the tasks that hold each other up from the first to the end
//!
//! A task is never interrupted. A cure binds what waits for the task and nobody's time. Placing the tasks one by one,
//! each as late as it goes, in every order and with every team finds a best plan: pushing the tasks of any plan later,
//! from the last to the first, leaves room for each where it was (serial schedule generation; Kolisch 1996, from memory).

mod bits;
mod board;
mod bound;
mod chain;
mod exact;
mod ground;
mod improve;
mod orders;

pub use chain::{Hold, Link};

use bound::latest_begin;
use exact::search;
use ground::Ground;
use improve::improve;

/// A quarter of an hour, counted from any one moment.
pub type Quarter = i64;

/// Most tasks of one project.
pub const MOST_TASKS: usize = 200;
/// Most people of one project.
pub const MOST_PEOPLE: usize = 12;
/// Most people that one task can bind.
pub const MOST_ON_A_TASK: u32 = 4;
/// How much is searched if nothing else is asked for: looked-at words of 64 working quarters, below a second for forty tasks.
pub const USUAL_STEPS: u64 = 14_000_000;

/// What is done one after the other, until a plan is proven: how well orders are shaken to make plans better, and what
/// part of the steps that may take; then what part the search of all orders may take. A short look comes first, since
/// most lists are short; long ones get two searches that do not know of each other.
const LOOKS: [(usize, u64, Option<u64>); 3] = [(6, 80, Some(10)), (6, 2, None), (15, 2, Some(50))];

/// From one quarter, included, to another, excluded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// The first quarter.
    pub from: Quarter,
    /// The first quarter after it.
    pub to: Quarter,
}

/// A piece of work.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Task {
    /// How long people work on it, in quarters, 1 or more.
    pub quarters: u32,
    /// How long what follows has to wait after it, in quarters: a cure.
    pub cure: u32,
    /// Tasks that wait for it and its cure, by their place in the list.
    pub before: Vec<usize>,
    /// How many have to be there. Where there are fewer workers, the others are visitors and not counted.
    pub people: u32,
    /// What at least one of them has to be able to do: one bit a skill.
    pub skills: u64,
    /// Shared tools that it takes one of, by their place in the list.
    pub tools: Vec<usize>,
    /// Quarters in which it may run, such as daylight; `None`: any.
    pub hours: Option<Vec<Span>>,
    /// It cannot begin earlier, such as before a part arrives.
    pub not_before: Option<Quarter>,
    /// The work on it has to be over by then.
    pub done_by: Option<Quarter>,
}

/// Somebody who works.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Person {
    /// When they have time, in order and without overlap.
    pub free: Vec<Span>,
    /// What they can do: one bit a skill.
    pub skills: u64,
}

/// What has to be done, by whom, by when.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Project {
    /// The work.
    pub tasks: Vec<Task>,
    /// Who works.
    pub people: Vec<Person>,
    /// How many there are of each shared tool.
    pub tools: Vec<u32>,
    /// Everything, cures included, is over by then.
    pub until: Quarter,
}

/// A task in its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placed {
    /// When it begins at the latest, the plan's order given.
    pub start: Quarter,
    /// When the work on it is over.
    pub end: Quarter,
    /// Who works on it, by their place in the list.
    pub people: Vec<usize>,
    /// How many visitors it needs beside them.
    pub visitors: u32,
    /// Begun after this it is late whatever else is left undone.
    pub never_after: Quarter,
}

/// A plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    /// When the first task begins.
    pub start: Quarter,
    /// Later than this no plan can begin.
    pub bound: Quarter,
    /// Task by task, in the order of the project.
    pub tasks: Vec<Placed>,
    /// The tasks that hold each other up, from the first to the end.
    pub chain: Vec<Link>,
    /// In how many orders the tasks can be done; `None`: more than could be counted.
    pub orders: Option<u64>,
    /// How many of these orders, each task placed as late as it goes, begin as late as this plan. Counted where all
    /// workers are alike and the orders few.
    pub orders_as_good: Option<u64>,
}

impl Schedule {
    /// Whether no plan can begin later.
    #[must_use]
    pub const fn is_proven(&self) -> bool {
        self.start >= self.bound
    }
}

/// Why there is no plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ScheduleError {
    /// Nothing to do.
    #[error("there is no task; give at least one")]
    NoTasks,
    /// Nobody to do it.
    #[error("there is nobody to do the work; give at least one person")]
    NoPeople,
    /// Too much of something.
    #[error("at most {MOST_TASKS} tasks and {MOST_PEOPLE} people can be planned at once; split the work")]
    TooMany,
    /// A task takes no time, or more people than are allowed for.
    #[error("it takes at least a quarter of an hour and one to {MOST_ON_A_TASK} people")]
    BadTask {
        /// Its place in the list.
        task: usize,
    },
    /// A task waits for another that waits for it.
    #[error("it waits for itself, through the tasks that it is before; take one of them out of the ring")]
    Ring {
        /// The place in the list of one task of the ring.
        task: usize,
    },
    /// A task names a task or a tool that is not there.
    #[error("it names a task or a tool that is not in the list")]
    Unknown {
        /// Its place in the list.
        task: usize,
    },
    /// Nobody can do a task.
    #[error("nobody has the skills that it asks for; name somebody who has")]
    NoOneCan {
        /// Its place in the list.
        task: usize,
    },
    /// A task finds no stretch of time that is long enough.
    #[error("no time of those who can do it is long enough in one piece; split it, or give longer hours")]
    NoWindow {
        /// Its place in the list.
        task: usize,
    },
    /// Not everything finds room.
    #[error("the time given is not enough for all tasks; give more, or drop something")]
    NoRoom,
}

/// Schedules a project backwards from its end, so that it can be begun as late as possible.
///
/// For up to about fifteen tasks the plan is proven to be the best. For more it is the best that was found within
/// `steps` looked-at words of quarters, beside a bound that no plan can pass. The same question gets the same plan, always.
///
/// # Errors
/// [`ScheduleError`], with the place of the task at fault.
///
/// ```
/// use preen_domain::formulas::schedule::{Person, Project, Span, Task, USUAL_STEPS, schedule};
/// // Bonding (1 h, 12 h cure) before fitting (2 h); evenings 19 to 22, everything by 22:00 of the second one.
/// let evenings = vec![Span { from: 76, to: 88 }, Span { from: 172, to: 184 }];
/// let bond = Task { quarters: 4, cure: 48, before: vec![1], people: 1, ..Task::default() };
/// let fit = Task { quarters: 8, people: 1, ..Task::default() };
/// let project = Project {
///     tasks: vec![bond, fit],
///     people: vec![Person { free: evenings, skills: 0 }],
///     tools: vec![],
///     until: 184,
/// };
/// let plan = schedule(&project, USUAL_STEPS)?;
/// // Fitting at 20:00, bonding at 21:00 the evening before.
/// assert_eq!((plan.tasks[1].start, plan.start), (176, 84));
/// assert!(plan.is_proven() && plan.orders == Some(1));
/// # Ok::<(), preen_domain::formulas::schedule::ScheduleError>(())
/// ```
pub fn schedule(project: &Project, steps: u64) -> Result<Schedule, ScheduleError> {
    let ground = Ground::of(project)?;
    let bound = latest_begin(&ground);
    let mut found: Option<board::Found> = None;
    let mut is_best = false;
    for (shake, improving, searching) in LOOKS {
        // The first of two that begin alike counts.
        let better = improve(&ground, bound, shake, steps / improving);
        let known = found.as_ref().map(|found| found.begin);
        found = better.filter(|better| known.is_none_or(|known| better.begin > known)).or(found);
        is_best = found.as_ref().is_some_and(|plan| plan.begin >= bound);
        if let Some(searching) = searching.filter(|_| !is_best) {
            let searched = search(&ground, found.as_ref().map(|plan| plan.begin), steps / searching);
            is_best = searched.is_complete;
            found = searched.better.or(found);
        }
        if is_best {
            break;
        }
    }
    let found = found.ok_or(ScheduleError::NoRoom)?;
    let start = ground.quarter(found.begin);
    Ok(Schedule {
        start,
        bound: if is_best { start } else { ground.quarter(bound) },
        chain: chain::critical(&ground, &found),
        tasks: ground.told(&found),
        orders: orders::count(&ground),
        orders_as_good: orders::as_good(&ground, found.begin),
    })
}
