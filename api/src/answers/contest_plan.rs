//! The work plan of a contest, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::compute::{BadQuestion, PlanHours, PlanPerson, Weekday, answer, compute_plan};
use preen_domain::answers::{Answer, ContestPlan, WorkWanted, contest_work, worker};
use preen_domain::facts::Noun;
use preen_domain::ids::{ContestId, MemberId};
use utoipa_actix_web::service_config::ServiceConfig;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::access::sight::Finds as _;
use crate::desk::DESK;
use crate::problem::{Problem, ProblemBody};
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::state::Shared;

/// Tenths of the usual effort where none is asked for.
const USUAL_EFFORT: u32 = 1;

/// The parameters that the question knows.
pub const KNOWN: &[&str] = &["models", "workers", "people", "evenings", "weekends", "effort"];

/// Plans the work that stands before a contest backwards from check-in: what readiness found as tasks of the bench, who
/// does what when, when to begin at the latest, what holds what up, and what would help where it does not fit.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the contest."),
        ("models" = Option<String>, Query, description = "Only these models, by id or tag, separated by commas; absent: \
            every model first flown in an entry that stands."),
        ("workers" = Option<u32>, Query, minimum = 1, maximum = 12, description = "So many people alike, who can do \
            anything; 1 if absent."),
        ("people" = Option<String>, Query, description = "Members who work, by id or tag, separated by commas."),
        ("evenings" = Option<String>, Query, description = "Their hours on weekdays, such as 19:00-22:00 (if absent)."),
        ("weekends" = Option<String>, Query, description = "Their hours at weekends, such as 09:00-18:00 (if absent)."),
        ("effort" = Option<u32>, Query, minimum = 1, maximum = 20, description = "How long to search, in tenths of the \
            usual effort of the bench; 1 if absent."),
    ),
    responses(
        (status = 200, description = "The work, the question made of it, and the plan.", body = Answer<ContestPlan>),
        (status = 400, description = "A parameter does not fit, or no plan can be made for these people.",
            body = ProblemBody, content_type = "application/problem+json"),
        (status = 404, description = "There is no such contest, or none that the asker may know of.",
            body = ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/contests/{id}/plan")]
pub async fn plan_contest(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, KNOWN).await?;
    let work = planned(&ask, &id).await?;
    Ok(ask.answer(|| work))
}

/// The work before the contest that a name means, with its plan, as the parameters of the question ask for it.
pub async fn planned(ask: &Ask, name: &str) -> Result<ContestPlan, Problem> {
    let unknown = || not_found(Noun::Contests, name);
    let contest = ask.held.names.find(Noun::Contests, name).filter(|_| ask.sees_all).ok_or_else(unknown)?;
    let wanted = read(ask)?;
    let mut work =
        contest_work(&ask.held.fleet, ContestId(contest), &wanted, ask.moment).ok_or_else(unknown)?;
    if let Some(question) = work.question.clone() {
        let plan = DESK.compute(move || answer(&question, compute_plan)).await?;
        work.plan = Some(plan.map_err(|bad| refuse(&work, &bad))?);
    }
    Ok(work)
}

fn read(ask: &Ask) -> Result<WorkWanted, Problem> {
    let models = ask.models()?;
    let effort = number(ask, "effort", 20)?.unwrap_or(USUAL_EFFORT);
    let workers = number(ask, "workers", 12)?;
    let hours = own_hours(ask)?;
    let mut people = match ask.parameter("people") {
        Some(_) if workers.is_some() => {
            return Err(Problem::bad_parameter("workers", "Give `people` or `workers`, not both.".into()));
        }
        Some(names) => Some(read_people(ask, names)?),
        None => None,
    };
    if hours.is_some() && people.is_none() {
        let one = |number| PlanPerson {
            name: format!("worker {number}"),
            skills: vec!["structure".to_owned()],
            weekly: None,
            also: Vec::new(),
            away: Vec::new(),
        };
        people = Some((1..=workers.unwrap_or(1)).map(one).collect());
    }
    for person in people.iter_mut().flatten() {
        person.weekly.clone_from(&hours);
    }
    Ok(WorkWanted { models, people, workers: workers.unwrap_or(1), effort })
}

fn number(ask: &Ask, name: &str, most: u32) -> Result<Option<u32>, Problem> {
    let read = |text: &str| {
        text.parse::<u32>()
            .ok()
            .filter(|number| (1..=most).contains(number))
            .ok_or_else(|| Problem::bad_parameter(name, format!("`{text}` is no number from 1 to {most}.")))
    };
    ask.parameter(name).map(read).transpose()
}

fn read_people(ask: &Ask, names: &str) -> Result<Vec<PlanPerson>, Problem> {
    let find = |name: &str| {
        let member = ask.sight().find(Noun::Members, name).map(MemberId);
        member.and_then(|member| worker(&ask.held.fleet, member)).ok_or_else(|| {
            Problem::bad_parameter("people", format!("There is no `{name}` among the members."))
        })
    };
    names.split(',').map(str::trim).map(find).collect()
}

/// Hours of the week that were asked for; `None`: the usual ones.
fn own_hours(ask: &Ask) -> Result<Option<Vec<PlanHours>>, Problem> {
    let read = |name: &str, usual: (&str, &str)| match ask.parameter(name) {
        None => Ok((usual.0.to_owned(), usual.1.to_owned())),
        Some(text) => text
            .split_once('-')
            .map(|(from, until)| (from.trim().to_owned(), until.trim().to_owned()))
            .filter(|(from, until)| from.contains(':') && until.contains(':'))
            .ok_or_else(|| {
                Problem::bad_parameter(name, format!("`{text}` is not FROM-UNTIL, such as 19:00-22:00."))
            }),
    };
    if ask.parameter("evenings").or(ask.parameter("weekends")).is_none() {
        return Ok(None);
    }
    let (weekend, weekdays) = Weekday::ALL.iter().partition(|day| **day >= Weekday::Saturday);
    let (evening, day) = (read("evenings", ("19:00", "22:00"))?, read("weekends", ("09:00", "18:00"))?);
    Ok(Some(vec![
        PlanHours { days: weekdays, from: evening.0, until: evening.1 },
        PlanHours { days: weekend, from: day.0, until: day.1 },
    ]))
}

/// Why no plan can be made, by the parameter that can mend it.
fn refuse(work: &ContestPlan, bad: &BadQuestion) -> Problem {
    let place = bad.pointer.strip_prefix("/tasks/").and_then(|rest| rest.split('/').next());
    let task = place.and_then(|place| place.parse::<usize>().ok()).and_then(|place| work.work.get(place));
    let named = task.map(|item| format!("{}: ", item.task)).unwrap_or_default();
    let parameter = if bad.pointer.contains("weekly") { "evenings" } else { "people" };
    Problem::bad_parameter(parameter, format!("{named}{}.", bad.text))
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(plan_contest);
}
