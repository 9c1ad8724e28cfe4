//! Which checks are due, by how much, and when the others will be.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, DueList};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::desk::BOARDS;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Lists the checks of all models with how they stand against their due points on a day.
#[utoipa::path(
    tag = "answers",
    params(
        ("model" = Option<String>, Query, description = "Only this model, by id or tag."),
        ("group" = Option<String>, Query, description = "Only this group, such as N25."),
    ),
    responses(
        (status = 200, description = "One item a model, subject and group.", body = Answer<DueList>),
        (status = 404, description = "There is no such model, or none that the asker may know of.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/due")]
pub async fn list_due(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["due"]).await?;
    ask.answer_apart(&BOARDS, |asked| Ok(Box::new(asked::due(asked)?))).await
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_due);
}
