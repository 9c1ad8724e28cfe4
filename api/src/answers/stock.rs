//! What there is of part types, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, Stock};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Says what there is of each part type, batch by batch: fitted, on the shelf in which state, lent, needed by
/// campaigns.
#[utoipa::path(
    tag = "answers",
    params(("part" = Option<String>, Query, description = "Only this part type, by id or tag.")),
    responses((status = 200, description = "One row a part type and batch.", body = Answer<Stock>))
)]
#[get("/stock")]
pub async fn show_stock(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["stock"]).await?;
    Ok(ask.answer(asked::stock(&ask.asked())?))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_stock);
}
