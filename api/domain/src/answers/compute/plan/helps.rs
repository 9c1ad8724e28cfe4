//! What helps where the work does not fit into the time that is left: leaving tasks out, buying, another pair of hands.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::asked::{Arranged, PlanQuestion, moment};
use crate::formulas::schedule::{MOST_PEOPLE, schedule};
use crate::text_enum;
use crate::time::Instant;

/// Sets of steps that are tried at most.
const MOST_TRIED: usize = 40;
/// Steps taken together at most.
const MOST_TOGETHER: usize = 3;

text_enum! {
    /// What helps.
    HelpKind {
        /// A task left out.
        Drop = "drop",
        /// Something bought instead of a task.
        Buy = "buy",
        /// One more person, with the time and the skills of the first.
        Person = "person",
        /// Several of these together.
        Together = "together",
    }
}

/// What would help, and how far.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PlanHelp {
    /// What kind of help.
    pub kind: HelpKind,
    /// The steps, in words.
    pub steps: Vec<String>,
    /// When the work has to be begun then; null where no plan was found.
    pub start_at: Option<Instant>,
    /// Whether it fits then.
    pub fits: bool,
}

#[derive(Clone, Copy)]
enum Step {
    Drop(usize),
    Buy(usize),
    Person,
}

/// Tries each step alone, then steps together until something fits.
pub(super) fn find(question: &PlanQuestion, arranged: &Arranged, steps: u64) -> Vec<PlanHelp> {
    let mut single: Vec<Step> = Vec::new();
    for (index, task) in question.tasks.iter().enumerate() {
        single.extend(task.can_drop.then_some(Step::Drop(index)));
        single.extend(task.or_buy.is_some().then_some(Step::Buy(index)));
    }
    if arranged.names.len() < MOST_PEOPLE {
        single.push(Step::Person);
    }
    let mut sets: Vec<Vec<Step>> = vec![Vec::new()];
    let mut helps: Vec<PlanHelp> = Vec::new();
    let mut tried = 0;
    for _ in 0..MOST_TOGETHER {
        sets = sets.iter().flat_map(|set| longer(set, &single)).collect();
        for set in &sets {
            if tried < MOST_TRIED {
                tried += 1;
                helps.extend(try_steps(question, arranged, set, steps / 8));
            }
        }
        if helps.iter().any(|help| help.fits) {
            break;
        }
    }
    helps.sort_by_key(|help| (!help.fits, help.steps.len(), help.start_at.map(|at| -at.micros())));
    helps
}

fn longer(set: &[Step], single: &[Step]) -> Vec<Vec<Step>> {
    let rank = |step: &Step| match step {
        Step::Drop(task) => 2 * task,
        Step::Buy(task) => 2 * task + 1,
        Step::Person => usize::MAX,
    };
    let last = set.last().map(rank);
    let is_new = |step: &&Step| {
        // A task is dropped or bought, not both.
        last.is_none_or(|last| {
            rank(step) > last && !(rank(step) % 2 == 1 && rank(step) == last + 1 && last % 2 == 0)
        })
    };
    single
        .iter()
        .filter(is_new)
        .map(|step| set.iter().copied().chain(std::iter::once(*step)).collect())
        .collect()
}

fn try_steps(question: &PlanQuestion, arranged: &Arranged, set: &[Step], steps: u64) -> Option<PlanHelp> {
    let mut changed = question.clone();
    let mut told = Vec::new();
    let mut is_person = false;
    let mut gone: Vec<String> = Vec::new();
    for step in set {
        match *step {
            Step::Drop(index) => {
                let task = question.tasks.get(index)?;
                told.push(format!("leave out {}", named(&task.task, &task.what)));
                gone.push(task.task.clone());
            }
            Step::Buy(index) => {
                let task = question.tasks.get(index)?;
                let buy = task.or_buy.as_ref()?;
                told.push(format!("buy {} instead of {}", buy.what, named(&task.task, &task.what)));
                if buy.hours > 0.0 {
                    let bought = changed.tasks.get_mut(index)?;
                    (bought.hours, bought.cure_h) = (buy.hours, buy.cure_h);
                    bought.not_before_at = bought.not_before_at.max(buy.arrives_at);
                } else {
                    // What waited for it waits for the arrival instead.
                    for next in changed.tasks.iter_mut().filter(|next| task.before.contains(&next.task)) {
                        next.not_before_at = next.not_before_at.max(buy.arrives_at);
                    }
                    gone.push(task.task.clone());
                }
            }
            Step::Person => {
                told.push(format!("one more person with the time of {}", arranged.names.first()?));
                is_person = true;
            }
        }
    }
    for task in &gone {
        leave_out(&mut changed, task);
    }
    let kind = match set {
        [Step::Drop(_)] => HelpKind::Drop,
        [Step::Buy(_)] => HelpKind::Buy,
        [Step::Person] => HelpKind::Person,
        _ => HelpKind::Together,
    };
    let start = if changed.tasks.is_empty() {
        Some(arranged.project.until)
    } else {
        let mut project = Arranged::of(&changed).ok()?.project;
        if is_person {
            let first = project.people.first()?.clone();
            project.people.push(first);
        }
        schedule(&project, steps).ok().map(|plan| plan.start)
    };
    let fits = start.is_some_and(|start| arranged.now.is_none_or(|now| start >= now));
    Some(PlanHelp { kind, steps: told, start_at: start.map(moment), fits })
}

/// Takes a task out: what waited for it waits for what it waited for.
fn leave_out(question: &mut PlanQuestion, task: &str) {
    let Some(index) = question.tasks.iter().position(|other| other.task == task) else { return };
    let gone = question.tasks.remove(index);
    for other in question.tasks.iter_mut().filter(|other| other.before.iter().any(|next| next == task)) {
        other.before.retain(|next| next != task);
        other.before.extend(gone.before.iter().cloned());
    }
}

fn named(task: &str, what: &str) -> String {
    if what.is_empty() { task.to_owned() } else { format!("{task} ({what})") }
}
