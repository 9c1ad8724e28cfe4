//! The work plan of a contest: what readiness found, made into tasks of the bench ([`tasks`]) by stated hours
//! ([`hours`]), for the people who do it. The question that comes of it is the bench calculator's, and so is the plan.

mod hours;
mod tasks;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Moment;
use super::compute::{PlanAnswer, PlanPerson, PlanQuestion};
use super::readiness::contest_readiness;
use crate::{
    facts::Contest,
    fleet::Fleet,
    ids::{ContestId, MemberId, ModelId},
    time::Instant,
    words::Role,
};

/// Whose work is planned, and who does it.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkWanted {
    /// Only these models; `None`: every model first flown in an entry that stands.
    pub models: Option<Vec<ModelId>>,
    /// Who works; `None`: so many people alike.
    pub people: Option<Vec<PlanPerson>>,
    /// How many people alike, where none are named.
    pub workers: u32,
    /// How long to search, in tenths of the usual effort.
    pub effort: u32,
}

/// A contest's work, made into tasks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ContestPlan {
    /// Tag of the contest.
    pub contest: String,
    /// Its name.
    pub title: String,
    /// By when everything has to be ready.
    pub check_in_at: Instant,
    /// Tags of the models.
    pub models: Vec<String>,
    /// What the tasks come from, in the order of the question.
    pub work: Vec<WorkItem>,
    /// What no bench can do: decisions, papers, loans, waiting.
    pub not_planned: Vec<NotPlanned>,
    /// The question that the plan answers, to be changed and asked again on the bench; null where nothing is to do.
    pub question: Option<PlanQuestion>,
    /// The plan; null where nothing is to do.
    pub plan: Option<PlanAnswer>,
    /// What the hours rest on, in words.
    pub assumptions: Vec<String>,
}

/// Where a task comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WorkItem {
    /// The task.
    pub task: String,
    /// Tag of the model.
    pub model: String,
    /// Code of what readiness found.
    pub code: String,
    /// What it sits on.
    pub subject: String,
    /// What was found.
    pub text: String,
}

/// Something that stands against going and is no work of the bench.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct NotPlanned {
    /// Tag of the model, where it is about one.
    pub model: Option<String>,
    /// Tag of the pilot, where it is about one.
    pub pilot: Option<String>,
    /// Code of what readiness found.
    pub code: String,
    /// What it sits on.
    pub subject: String,
    /// What was found.
    pub text: String,
    /// What a person can do about it.
    pub clear_by: String,
}

/// Somebody of the club as a worker: what their roles let them do.
#[must_use]
pub fn worker(fleet: &Fleet, member: MemberId) -> Option<PlanPerson> {
    let fact = &fleet.member(member)?.fact;
    let is_builder = fact.roles.iter().any(|role| matches!(role, Role::Builder | Role::Inspector));
    Some(PlanPerson {
        name: fact.tag.to_string(),
        skills: is_builder.then(|| tasks::STRUCTURE.to_owned()).into_iter().collect(),
        weekly: None,
        also: Vec::new(),
        away: Vec::new(),
    })
}

/// The work of a contest as tasks, not planned yet. `None` if the contest is not on record.
#[must_use]
pub fn contest_work(
    fleet: &Fleet,
    contest: ContestId,
    wanted: &WorkWanted,
    moment: Moment,
) -> Option<ContestPlan> {
    let fact: &Contest = &fleet.contest(contest)?.fact;
    let ready = contest_readiness(fleet, contest, None, moment)?;
    let only: Option<Vec<String>> =
        wanted.models.as_ref().map(|models| models.iter().map(|model| fleet.model_tag(*model)).collect());
    let is_asked = |tag: &str| only.as_ref().is_none_or(|only| only.iter().any(|one| one == tag));
    let mut drafts = tasks::Drafts::new(fleet, moment);
    let mut models = Vec::new();
    for entry in &ready.entries {
        let all = std::iter::once((&entry.model, true)).chain(entry.reserves.iter().map(|one| (one, false)));
        for (model, is_first) in all {
            // Reserves are worked on where they are asked for by name.
            let is_wanted = is_asked(&model.model) && (is_first || only.is_some());
            if is_wanted && !models.contains(&model.model) {
                models.push(model.model.clone());
                drafts.of_model(&model.model, &model.findings);
            }
        }
        if models.contains(&entry.model.model) {
            drafts.set_apart(&entry.findings);
        }
    }
    drafts.set_apart(&ready.findings);
    let (tasks, work, not_planned) = drafts.done();
    let question = (!tasks.is_empty()).then(|| PlanQuestion {
        tasks,
        workers: wanted.people.is_none().then_some(wanted.workers),
        people: wanted.people.clone(),
        tools: Vec::new(),
        until_at: fact.check_in_at,
        now_at: Some(moment.as_of).filter(|now| *now < fact.check_in_at),
        zone: Some(fleet.club().zone.name().to_owned()),
        effort: Some(wanted.effort),
    });
    Some(ContestPlan {
        contest: ready.contest,
        title: ready.title,
        check_in_at: ready.check_in_at,
        models,
        work,
        not_planned,
        question,
        plan: None,
        assumptions: vec![
            "Hours of the bench are common practice, no source; cures are those of the work sheets at 20 °C, and the \
             data sheet of the resin wins. Change the question and ask it on the bench where they are otherwise."
                .to_owned(),
            "A defect of which the kind of repair is not known is planned as what such a part most often needs; servos \
             as bonded in, which is the longer way."
                .to_owned(),
            "Of each model what asks for a look comes first, then repairs, what they open, checks, a test flight where \
             something was worked on, and the check before the contest. Spare parts are taken to be at hand."
                .to_owned(),
        ],
    })
}
