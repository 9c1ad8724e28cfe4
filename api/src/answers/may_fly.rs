//! Which models may fly, and why the others may not.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, FleetBoard};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::desk::BOARDS;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Says which models may fly on a day, and every reason against those that may not.
#[utoipa::path(
    tag = "answers",
    params(("model" = Option<String>, Query, description = "Only this model, by id or tag.")),
    responses(
        (status = 200, description = "One verdict a model.", body = Answer<FleetBoard>),
        (status = 404, description = "There is no such model, or none that the asker may know of.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/may-fly")]
pub async fn show_may_fly(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["may-fly"]).await?;
    ask.answer_apart(&BOARDS, |asked| Ok(Box::new(asked::may_fly(asked)?))).await
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_may_fly);
}
