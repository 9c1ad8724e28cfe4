//! What the exchange of a part type across the fleet would do, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, TypeExchange};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::desk::BOARDS;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Says what it would do to each model if every part of one type were exchanged for one of another: mass, centre of gravity,
/// inertia. Checks and rules are asked model by model (`POST /models/{id}/swap?preview=true`).
#[utoipa::path(
    tag = "answers",
    params(
        ("part" = String, Query, description = "The part type that comes off, by id or tag."),
        ("with" = String, Query, description = "The part type that goes on, by id or tag; of the same kind, with a mass of \
            its own."),
    ),
    responses((status = 200, description = "One row a model that carries such parts.", body = Answer<TypeExchange>))
)]
#[get("/exchange")]
pub async fn show_type_exchange(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["exchange"]).await?;
    ask.answer_apart(&BOARDS, |asked| Ok(Box::new(asked::exchange(asked)?))).await
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_type_exchange);
}
