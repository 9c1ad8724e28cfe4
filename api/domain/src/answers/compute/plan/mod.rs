//! `POST /compute/plan`: a list of tasks scheduled backwards from the moment by which they have to be done. The search
//! is in `formulas::schedule`; here are the shapes, the hours of people ([`hours`]) and what helps where it does not
//! fit ([`helps`]).

mod asked;
mod helps;
mod hours;

pub use asked::{
    PlanHours, PlanPerson, PlanPurchase, PlanQuestion, PlanStretch, PlanTask, PlanTool, Weekday,
};
pub use helps::{HelpKind, PlanHelp};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use crate::formulas::schedule::{Hold, Project, Quarter, Schedule, ScheduleError, USUAL_STEPS, schedule};
use crate::text_enum;
use crate::time::Instant;
use asked::{Arranged, moment};

const METHOD: &str = "tasks placed backwards from the end on a grid of quarters of an hour, none interrupted; orders \
                      and teams searched by branch and bound, or improved by turns where they are too many";

text_enum! {
    /// What keeps a task of the critical chain from being done later.
    PlanHold {
        /// The next task waits for it, and for its cure.
        Order = "order",
        /// The next task needs the same people.
        People = "people",
        /// The next task needs the same tool.
        Tool = "tool",
        /// Its own hours, or the end.
        Hours = "hours",
    }
}

/// A plan: when to begin at the latest, who does what when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlanAnswer {
    /// Whether the latest begin has not passed yet.
    pub fits: bool,
    /// When the first task has to be begun at the latest, by this plan.
    pub start_at: Instant,
    /// The asker's now, if it was given.
    pub now_at: Option<Instant>,
    /// By then everything is done and cured.
    pub until_at: Instant,
    /// Hours of work of the people named, all tasks together.
    pub work_h: f64,
    /// Whether no plan can begin later.
    pub is_proven: bool,
    /// Later than this no plan can begin; the same as `start_at` where that is proven.
    pub bound_at: Instant,
    /// How much longer before the end this plan begins than the bound, in per cent of the bound's own lead.
    pub gap_pct: f64,
    /// In how many orders the tasks can be done; null where they could not be counted.
    pub orders: Option<u64>,
    /// How many of these orders can be begun as late; null where they were not tried one by one.
    pub orders_as_good: Option<u64>,
    /// Task by task, in the order of their begin.
    pub tasks: Vec<PlannedTask>,
    /// The tasks that hold each other up, from the first to the end.
    pub chain: Vec<ChainLink>,
    /// What would help, best first: asked for only where the plan does not fit.
    pub helps: Vec<PlanHelp>,
    /// What the plan rests on, in words.
    pub assumptions: Vec<String>,
    /// How it was computed, and how sure it is.
    pub method: String,
}

/// A task in its place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlannedTask {
    /// The task.
    pub task: String,
    /// What is done.
    pub what: String,
    /// Its latest begin in this plan.
    pub start_at: Instant,
    /// When the work on it is over.
    pub end_at: Instant,
    /// When it has cured and what waits for it can begin; null without a cure.
    pub cured_at: Option<Instant>,
    /// Who works on it.
    pub people: Vec<String>,
    /// How many others have to be there whose time was not counted.
    pub visitors: u32,
    /// Begun after this everything is late, whatever else is left undone.
    pub never_after_at: Instant,
    /// Whether it stands in the critical chain.
    pub is_critical: bool,
}

/// A task of the critical chain.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ChainLink {
    /// The task.
    pub task: String,
    /// What keeps it from being done later.
    pub held_by: PlanHold,
}

/// Plans a list of tasks.
///
/// # Errors
/// Hours that are negative or no number, tasks in a ring, unknown tasks, tools and skills, nobody to do the work, a task
/// longer than any stretch of time: each names the field.
///
/// ```
/// use preen_domain::answers::compute::{PlanQuestion, compute_plan};
/// let question: PlanQuestion = serde_json::from_value(serde_json::json!({
///     "tasks": [{"task": "bond", "hours": 1, "cure_h": 12, "before": ["fit"]}, {"task": "fit", "hours": 2}],
///     "workers": 1, "until_at": "2026-05-29T22:00:00Z"
/// }))?;
/// let plan = compute_plan(&question)?;
/// assert_eq!(plan.start_at.to_string(), "2026-05-28T21:00:00Z");
/// assert!(plan.is_proven && plan.fits);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_plan(question: &PlanQuestion) -> Result<PlanAnswer, BadQuestion> {
    let arranged = Arranged::of(question)?;
    let steps = USUAL_STEPS / 10 * u64::from(question.effort.unwrap_or(10));
    let plan = schedule(&arranged.project, steps).map_err(|why| refuse(why, &arranged.project))?;
    let fits = arranged.now.is_none_or(|now| plan.start >= now);
    let helps = if fits { Vec::new() } else { helps::find(question, &arranged, steps) };
    Ok(told(question, &arranged, &plan, fits, helps))
}

fn refuse(why: ScheduleError, project: &Project) -> BadQuestion {
    let pointer = match why {
        ScheduleError::NoPeople => "/people".to_owned(),
        ScheduleError::TooMany if project.people.len() > crate::formulas::schedule::MOST_PEOPLE => {
            "/people".to_owned()
        }
        ScheduleError::Ring { task } | ScheduleError::Unknown { task } => format!("/tasks/{task}/before"),
        ScheduleError::BadTask { task } => format!("/tasks/{task}"),
        ScheduleError::NoOneCan { task } => format!("/tasks/{task}/skills"),
        ScheduleError::NoWindow { task } => format!("/tasks/{task}/hours"),
        ScheduleError::NoTasks | ScheduleError::TooMany | ScheduleError::NoRoom => "/tasks".to_owned(),
    };
    BadQuestion::at(pointer, &why)
}

fn told(
    question: &PlanQuestion,
    arranged: &Arranged,
    plan: &Schedule,
    fits: bool,
    helps: Vec<PlanHelp>,
) -> PlanAnswer {
    let name = |task: usize| question.tasks.get(task).map(|task| task.task.clone()).unwrap_or_default();
    let until = arranged.project.until;
    let mut tasks: Vec<PlannedTask> = plan
        .tasks
        .iter()
        .zip(&question.tasks)
        .zip(&arranged.project.tasks)
        .enumerate()
        .map(|(index, ((placed, task), work))| PlannedTask {
            task: task.task.clone(),
            what: task.what.clone(),
            start_at: moment(placed.start),
            end_at: moment(placed.end),
            cured_at: (work.cure > 0).then(|| moment(placed.end + Quarter::from(work.cure))),
            people: placed.people.iter().filter_map(|person| arranged.names.get(*person).cloned()).collect(),
            visitors: placed.visitors,
            never_after_at: moment(placed.never_after),
            is_critical: plan.chain.iter().any(|link| link.task == index),
        })
        .collect();
    tasks.sort_by_key(|task| task.start_at);
    let work: Quarter =
        plan.tasks.iter().map(|placed| (placed.end - placed.start) * people(placed.people.len())).sum();
    PlanAnswer {
        fits,
        start_at: moment(plan.start),
        now_at: question.now_at,
        until_at: question.until_at,
        work_h: quarters_as_hours(work),
        is_proven: plan.is_proven(),
        bound_at: moment(plan.bound),
        gap_pct: gap_pct(plan, until),
        orders: plan.orders,
        orders_as_good: plan.orders_as_good,
        tasks,
        chain: plan
            .chain
            .iter()
            .map(|link| ChainLink { task: name(link.task), held_by: held_by(link.hold) })
            .collect(),
        helps,
        assumptions: arranged.assumptions(question, plan),
        method: format!("{METHOD}. {}", how_sure(plan, until)),
    }
}

fn people(count: usize) -> Quarter {
    Quarter::try_from(count).unwrap_or(Quarter::MAX)
}

fn quarters_as_hours(quarters: Quarter) -> f64 {
    f64::from(i32::try_from(quarters).unwrap_or(i32::MAX)) / 4.0
}

fn gap_pct(plan: &Schedule, until: Quarter) -> f64 {
    let lead = quarters_as_hours(until - plan.bound);
    if lead > 0.0 { 100.0 * quarters_as_hours(plan.bound - plan.start) / lead } else { 0.0 }
}

fn how_sure(plan: &Schedule, until: Quarter) -> String {
    if plan.is_proven() {
        let many = match (plan.orders, plan.orders_as_good) {
            (Some(orders), Some(good)) => {
                format!(
                    "; of the {orders} orders of the tasks {good} can be begun as late, this is one of them"
                )
            }
            (Some(orders), None) => format!("; there are {orders} orders of the tasks"),
            (None, _) => String::new(),
        };
        return format!("No plan can be begun later{many}");
    }
    format!(
        "Not proven to be the best: no plan can be begun later than the bound, {:.1} % nearer to the end",
        gap_pct(plan, until)
    )
}

const fn held_by(hold: Hold) -> PlanHold {
    match hold {
        Hold::Order => PlanHold::Order,
        Hold::People => PlanHold::People,
        Hold::Tool => PlanHold::Tool,
        Hold::Hours => PlanHold::Hours,
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(question: Value) -> Result<PlanAnswer, BadQuestion> {
        compute_plan(&serde_json::from_value(question).expect("the shape of a question"))
    }

    fn one(task: &Value) -> Value {
        json!({"tasks": [task], "workers": 1, "until_at": "2026-05-29T20:00:00Z"})
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |question: Value, pointer: &str| {
            let refused = ask(question.clone()).expect_err("nothing to plan");
            assert_eq!(refused.pointer, pointer, "{question}: {refused}");
        };
        let task = |extra: Value| {
            let mut task = json!({"task": "A", "hours": 1});
            task.as_object_mut().expect("object").extend(extra.as_object().expect("object").clone());
            one(&task)
        };
        check(task(json!({"hours": -1})), "/tasks/0/hours");
        check(task(json!({"hours": 0})), "/tasks/0/hours");
        check(task(json!({"hours": 25})), "/tasks/0/hours");
        check(task(json!({"hours": 10})), "/tasks/0/hours");
        check(task(json!({"cure_h": -1})), "/tasks/0/cure_h");
        check(task(json!({"before": ["A"]})), "/tasks/0/before");
        check(task(json!({"before": ["B"]})), "/tasks/0/before/0");
        check(task(json!({"people": 0})), "/tasks/0/people");
        check(task(json!({"people": 5})), "/tasks/0/people");
        let mut unskilled = task(json!({"skills": ["spar"]}));
        assert!(ask(unskilled.clone()).is_ok(), "workers can do anything");
        unskilled["workers"] = Value::Null;
        unskilled["people"] = json!([{"name": "BK", "skills": ["servo"]}]);
        check(unskilled, "/tasks/0/skills");
        check(task(json!({"tools": ["scales"]})), "/tasks/0/tools/0");
        check(task(json!({"until": "24:30"})), "/tasks/0/until");
        check(task(json!({"from": "21:00", "until": "20:00"})), "/tasks/0/until");
        check(task(json!({"task": ""})), "/tasks/0/task");
        let mut ring = one(&json!({"task": "A", "hours": 1, "before": ["B"]}));
        ring["tasks"].as_array_mut().expect("list").push(json!({"task": "B", "hours": 1, "before": ["A"]}));
        check(ring.clone(), "/tasks/0/before");
        ring["tasks"][1]["task"] = json!("A");
        check(ring, "/tasks/1/task");
        let mut nobody = task(json!({}));
        nobody["workers"] = json!(0);
        check(nobody.clone(), "/workers");
        nobody["workers"] = Value::Null;
        check(nobody.clone(), "/people");
        nobody["people"] = json!([]);
        check(nobody.clone(), "/people");
        nobody["people"] = json!([{"name": "BK", "weekly": []}]);
        check(nobody, "/tasks/0/hours");
        let mut late = task(json!({}));
        late["now_at"] = json!("2026-05-30T20:00:00Z");
        check(late, "/now_at");
        let mut nowhere = task(json!({}));
        nowhere["zone"] = json!("Nowhere");
        check(nowhere, "/zone");
        check(json!({"tasks": [], "workers": 1, "until_at": "2026-05-29T20:00:00Z"}), "/tasks");
    }

    #[test]
    fn what_does_not_fit_is_helped() {
        let question = json!({
            "tasks": [
                {"task": "sleeve", "hours": 1, "cure_h": 24, "before": ["fit"],
                    "or_buy": {"what": "a new joiner", "hours": 0}},
                {"task": "fit", "hours": 1},
                {"task": "polish", "hours": 2.5, "can_drop": true}
            ],
            "workers": 1, "now_at": "2026-05-28T21:30:00Z", "until_at": "2026-05-29T22:00:00Z"
        });
        let plan = ask(question).expect("a plan");
        assert!(!plan.fits);
        let kinds: Vec<(HelpKind, bool)> = plan.helps.iter().map(|help| (help.kind, help.fits)).collect();
        // Without the sleeve 3.5 h are left for 3.5 h from now on; a second person has the cure to wait for as well.
        assert!(kinds.contains(&(HelpKind::Buy, false)), "{kinds:?}");
        assert!(plan.helps.iter().any(|help| help.fits), "{:?}", plan.helps);
        let both = plan.helps.first().expect("a help");
        assert!(both.fits && both.steps.len() == 2, "{both:?}");
    }

    #[test]
    fn hours_follow_the_zone_through_a_change_of_clocks() {
        // The clocks go forward on 29 March: 19 h in London is 19 h UTC on the day before, 18 h UTC after.
        let start = |until: &str| {
            let question = json!({"tasks": [{"task": "A", "hours": 3}], "zone": "Europe/London", "until_at": until,
                "people": [{"name": "BK", "weekly": [{"days": ["fri", "mon"], "from": "19:00", "until": "22:00"}]}]});
            ask(question).expect("a plan").start_at.to_string()
        };
        assert_eq!(start("2026-03-28T12:00:00Z"), "2026-03-27T19:00:00Z");
        assert_eq!(start("2026-03-31T12:00:00Z"), "2026-03-30T18:00:00Z");
    }
}
