//! Ballast for a model: which slugs of the club go into which cells.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{Answer, ModelBallast};
use preen_domain::asked;
use preen_domain::formulas::planform::AreaDefinition;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Chooses ballast for a model: whole slugs of the club's stock into cells, for a wanted mass or loading.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the model."),
        ("target_loading_g_dm2" = Option<f64>, Query, description = "Wanted loading; this or `target_mass_g`."),
        ("target_mass_g" = Option<f64>, Query, description = "Wanted mass; this or `target_loading_g_dm2`."),
        ("area" = Option<AreaDefinition>, Query, description = "Which area counts for the loading; `wing` if not given."),
        ("mass_tolerance_g" = Option<f64>, Query, description = "How far the mass may be off; 8 if not given."),
        ("target_x_mm" = Option<f64>, Query,
            description = "Wanted centre of gravity; where it is without ballast if not given."),
        ("x_tolerance_mm" = Option<f64>, Query,
            description = "How far the centre of gravity may be off; 0.5 if not given."),
        ("y_tolerance_mm" = Option<f64>, Query,
            description = "How far the slugs may pull to one side; as `x_tolerance_mm` if not given."),
        ("cells" = Option<String>, Query,
            description = "Other cells than the design's, as `X:CAPACITY` or `X:Y:CAPACITY`, parted by commas."),
    ),
    responses((status = 200, description = "What to load, and what that comes to.", body = Answer<ModelBallast>))
)]
#[get("/models/{id}/ballast")]
pub async fn choose_ballast(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["models", &id, "ballast"]).await?;
    let answer = asked::ballast(&ask.asked(), &id)?;
    Ok(ask.answer(|| answer))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(choose_ballast);
}
