//! Mass and centre of gravity of a model.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{Answer, Balanced};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Gives mass and centre of gravity of a model: from its last weighing and what changed since, and from the list.
#[utoipa::path(
    tag = "answers",
    params(("id" = String, Path, description = "Id or tag of the model.")),
    responses((status = 200, description = "With its range, changes and findings.", body = Answer<Balanced>))
)]
#[get("/models/{id}/balance")]
pub async fn show_balance(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["models", &id, "balance"]).await?;
    let answer = asked::balance(&ask.asked(), &id)?;
    Ok(ask.answer(|| answer))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_balance);
}
