//! Which limits hold for a model, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{Answer, ModelLimits};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Lists the limits by which readings on a model are judged, and where each comes from.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the model."),
        ("quantity" = Option<String>, Query, description = "Only this quantity, such as tip_rock_total."),
    ),
    responses((status = 200, description = "One row a quantity and kind of position.", body = Answer<ModelLimits>))
)]
#[get("/models/{id}/limits")]
pub async fn list_model_limits(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["models", &id, "limits"]).await?;
    let answer = asked::limits(&ask.asked(), &id)?;
    Ok(ask.answer(|| answer))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_model_limits);
}
