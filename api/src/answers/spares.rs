//! What spares a team should take, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, TeamSpares};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Says how many spares of each kind a team should take, by the flights to come and by how often such parts failed on
/// record, against the shelf; and what to pack.
#[utoipa::path(
    tag = "answers",
    params(
        ("contest" = Option<String>, Query, description = "The contest, by id or tag: every model of its entries, with \
            training and every round that may be flown. Give this, or `models` with `flights`."),
        ("models" = Option<String>, Query, description = "Models by id or tag, separated by commas."),
        ("flights" = Option<u32>, Query, minimum = 1, maximum = 100000, description = "Flights that each of them will make, 1 to 100000."),
        ("target" = Option<f64>, Query, exclusive_minimum = 0.0, maximum = 0.999999, description = "The chance of being enough that is wanted of each kind; 0.95 if \
            absent."),
    ),
    responses((status = 200, description = "Kind by kind, and a packing list.", body = Answer<TeamSpares>))
)]
#[get("/spares")]
pub async fn show_spares(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["spares"]).await?;
    let spares = asked::spares(&ask.asked())?;
    Ok(ask.answer(|| spares))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_spares);
}
