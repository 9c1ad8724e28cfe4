//! Contest classes over HTTP: those that come along, and models against their limits.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{Answer, ClassCheck};
use preen_domain::asked;
use preen_domain::classes::{ClassPresets, presets};

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::{Problem, ProblemBody};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Gives the contest classes that come along, none of them confirmed: limits with their source.
#[utoipa::path(
    tag = "answers",
    responses((status = 200, description = "The classes that come along.", body = ClassPresets))
)]
#[get("/class-presets")]
pub async fn list_class_presets(_actor: Reader) -> HttpResponse {
    HttpResponse::Ok().insert_header((header::VARY, "Authorization, Cookie")).json(presets())
}

/// Checks a model against a contest class: as it is fitted, every permitted combination of interchangeable parts, every
/// step of ballast.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the model."),
        ("class" = Option<String>, Query,
            description = "The class by its tag, such as F5J; the one its design is built for if not given."),
    ),
    responses(
        (status = 200, description = "The check.", body = Answer<ClassCheck>),
        (status = 400, description = "There is no such class, or none is known for the model.",
            body = ProblemBody, content_type = "application/problem+json"),
        (status = 404, description = "There is no such model, or none that the asker may know of.",
            body = ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/models/{id}/class-check")]
pub async fn show_class_check(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["models", &id, "class-check"]).await?;
    let answer = asked::class_check(&ask.asked(), &id)?;
    Ok(ask.answer(|| answer))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_class_presets);
    config.service(show_class_check);
}
