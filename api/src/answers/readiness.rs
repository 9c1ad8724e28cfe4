//! How ready models, entries and the team are for a contest, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{Answer, ContestReadiness, EntryReadiness, ModelReadiness};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::{Problem, ProblemBody};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Says which entries can go to a contest, and what must be done first: checks, defects, campaigns, parts, loans,
/// papers, as they will stand at the last round.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the contest."),
        ("pilot" = Option<String>, Query, description = "Only the entries of this member, by id or tag."),
    ),
    responses(
        (status = 200, description = "The team, entry by entry.", body = Answer<ContestReadiness>),
        (status = 404, description = "There is no such contest, or none that the asker may know of.",
            body = ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/contests/{id}/readiness")]
pub async fn show_contest_readiness(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["contests", &id, "readiness"]).await?;
    let answer = asked::contest_readiness(&ask.asked(), &id)?;
    Ok(ask.answer(|| answer))
}

/// Says whether an entry can go to its contest, and what must be done first.
#[utoipa::path(
    tag = "answers",
    params(("id" = String, Path, description = "Id or tag of the entry.")),
    responses(
        (status = 200, description = "The entry with its models.", body = Answer<EntryReadiness>),
        (status = 404, description = "There is no such entry, or none that the asker may know of.",
            body = ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/entries/{id}/readiness")]
pub async fn show_entry_readiness(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["entries", &id, "readiness"]).await?;
    let answer = asked::entry_readiness(&ask.asked(), &id)?;
    Ok(ask.answer(|| answer))
}

/// Says what stands against a model until the last round of a contest, or until so many flights are flown by a day.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the model."),
        ("contest" = Option<String>, Query,
            description = "The contest, by id or tag; else `flights` and `until_on` say what lies ahead."),
        ("flights" = Option<u32>, Query, minimum = 0, maximum = 2000,
            description = "Flights that lie ahead; 0 if not given."),
        ("until_on" = Option<chrono::NaiveDate>, Query,
            description = "The last day that is looked at; the day asked about if not given."),
    ),
    responses(
        (status = 200, description = "The model.", body = Answer<ModelReadiness>),
        (status = 400, description = "A parameter does not fit.",
            body = ProblemBody, content_type = "application/problem+json"),
        (status = 404, description = "There is no such model, or none that the asker may know of.",
            body = ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/models/{id}/readiness")]
pub async fn show_model_readiness(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["models", &id, "readiness"]).await?;
    let answer = asked::readiness(&ask.asked(), &id)?;
    Ok(ask.answer(|| answer))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_contest_readiness);
    config.service(show_entry_readiness);
    config.service(show_model_readiness);
}
