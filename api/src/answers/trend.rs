//! How a part wears, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{Answer, ComponentTrend};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Fits the readings of a component since its last re-work, and says when limits will be reached.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the component."),
        ("quantity" = Option<String>, Query, description = "One quantity; all that were read if not given."),
        ("by" = Option<preen_domain::words::WearCounter>, Query,
            description = "The use to count; what drives the wear of such a part if not given."),
        ("whole_history" = Option<bool>, Query,
            description = "Fit all readings; refused where a re-work or a change of method started them anew.")
    ),
    responses((status = 200, description = "One series a quantity.", body = Answer<ComponentTrend>))
)]
#[get("/components/{id}/trend")]
pub async fn show_component_trend(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["components", &id, "trend"]).await?;
    let answer = asked::trend(&ask.asked(), &id)?;
    Ok(ask.answer(|| answer))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_component_trend);
}
