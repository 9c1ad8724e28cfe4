//! Questions that wait for somebody to settle them.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, OpenQuestions};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Lists what was sent and could not be recorded, why, and what stands against it now.
#[utoipa::path(
    tag = "answers",
    responses((status = 200, description = "The questions that nobody has settled.", body = Answer<OpenQuestions>))
)]
#[get("/open-questions")]
pub async fn list_open_questions(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["open-questions"]).await?;
    Ok(ask.answer(|| asked::questions(&ask.asked())))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_open_questions);
}
