//! What a component or a model went through: usage in counts, history in sentences.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{Answer, ComponentHistory, ComponentUsage, ModelUsage};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Counts the usage of a component through every level of nesting.
#[utoipa::path(
    tag = "answers",
    params(("id" = String, Path, description = "Id or tag of the component.")),
    responses((status = 200, description = "Totals, and each stretch in a model.", body = Answer<ComponentUsage>))
)]
#[get("/components/{id}/usage")]
pub async fn show_component_usage(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["components", &id, "usage"]).await?;
    Ok(ask.answer(asked::usage(&ask.asked(), &id)?))
}

/// Tells what happened to a component, in order of time.
#[utoipa::path(
    tag = "answers",
    params(("id" = String, Path, description = "Id or tag of the component.")),
    responses((status = 200, description = "Oldest first.", body = Answer<ComponentHistory>))
)]
#[get("/components/{id}/history")]
pub async fn show_component_history(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["components", &id, "history"]).await?;
    Ok(ask.answer(asked::history(&ask.asked(), &id)?))
}

/// Counts the usage of a model.
#[utoipa::path(
    tag = "answers",
    params(("id" = String, Path, description = "Id or tag of the model.")),
    responses((status = 200, description = "Totals.", body = Answer<ModelUsage>))
)]
#[get("/models/{id}/usage")]
pub async fn show_model_usage(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["models", &id, "usage"]).await?;
    Ok(ask.answer(asked::model_usage(&ask.asked(), &id)?))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_component_usage).service(show_component_history).service(show_model_usage);
}
