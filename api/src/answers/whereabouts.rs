//! Where parts are.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, Whereabouts};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::desk::BOARDS;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Says where the parts asked for are: in which position of which model, on which shelf, with whom.
#[utoipa::path(
    tag = "answers",
    params(
        ("component" = Option<String>, Query, description = "This component, by id or tag."),
        ("part" = Option<String>, Query, description = "Components of this part type, by id or tag."),
        ("batch" = Option<String>, Query, description = "Components of this batch; `SV08/B` names part and batch."),
        ("position_kind" = Option<String>, Query, description = "Only those that sit in a position of this kind."),
    ),
    responses((status = 200, description = "One row a component.", body = Answer<Whereabouts>))
)]
#[get("/where")]
pub async fn find_whereabouts(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["where"]).await?;
    ask.answer_apart(&BOARDS, |asked| Ok(Box::new(asked::whereabouts(asked)?))).await
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(find_whereabouts);
}
