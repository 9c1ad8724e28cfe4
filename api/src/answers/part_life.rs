//! How long parts of a type last, by the record of the whole club.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, PartLife};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Says how long parts of a type last in each kind of position, batch against batch, by failures and by measured wear.
#[utoipa::path(
    tag = "answers",
    params(
        ("part" = String, Query, description = "The part type, by id or tag."),
        ("batches" = Option<String>, Query, description = "These batches, separated by commas; absent: every batch that was in use."),
        ("position_kind" = Option<String>, Query, description = "Only this kind of position; absent: each kind by itself."),
        ("counter" = Option<String>, Query, description = "What is counted: `flights` (if absent), `launches`, `airtime_h`, `motor_s`, `riggings`, `matings`, or for a pack `charges`."),
        ("quantity" = Option<String>, Query, description = "Only wear of this quantity; absent: every quantity that has limits."),
        ("as_new" = Option<f64>, Query, description = "What the quantity reads on a new part; absent: the best reading of a part before its first use."),
        ("confidence" = Option<f64>, Query, description = "Two-sided confidence of all bounds; 0.9 if absent."),
    ),
    responses((status = 200, description = "Kind of position by kind of position.", body = Answer<PartLife>))
)]
#[get("/life")]
pub async fn show_part_life(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["life"]).await?;
    let life = asked::life(&ask.asked())?;
    Ok(ask.answer(|| life))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_part_life);
}
