//! The records audit, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, Findings};
use preen_domain::asked;
use preen_domain::words::Severity;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::desk::{AUDITS, BOARDS};
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Audits the record of the whole club, the worst finding first.
#[utoipa::path(
    tag = "answers",
    params(
        ("model" = Option<String>, Query, description = "Only what concerns this model, by id or tag."),
        ("severity" = Option<Severity>, Query, description = "Only findings of this class."),
        ("code" = Option<String>, Query, description = "Only findings of this code, such as reading_beyond_limit."),
    ),
    responses(
        (status = 200, description = "One item a finding.", body = Answer<Findings>),
        (status = 404, description = "There is no such model, or none that the asker may know of.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/findings")]
pub async fn list_findings(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["findings"]).await?;
    // Of one model it is no more than a look at the board.
    let desk = if ask.parameter("model").is_some() { &BOARDS } else { &AUDITS };
    ask.answer_apart(desk, |asked| Ok(Box::new(asked::findings(asked)?))).await
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_findings);
}
