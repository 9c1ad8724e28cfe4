//! The work plan of a contest, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::compute::{answer, compute_plan};
use preen_domain::answers::{Answer, ContestPlan};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::desk::DESK;
use crate::problem::{Problem, ProblemBody};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

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
    let ask = Ask::read(&state, &actor.0, &request, query, &["contests", &id, "plan"]).await?;
    let work = planned(&ask, &id).await?;
    Ok(ask.answer(|| work))
}

/// The work before the contest that a name means, with its plan, as the parameters of the question ask for it.
pub async fn planned(ask: &Ask, name: &str) -> Result<ContestPlan, Problem> {
    let mut work = asked::contest_work_asked(&ask.asked(), name)?;
    if let Some(question) = work.question.clone() {
        let plan = DESK.compute(move || answer(&question, compute_plan)).await?;
        work.plan = Some(plan.map_err(|bad| asked::refuse_plan(&work, &bad))?);
    }
    Ok(work)
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(plan_contest);
}
