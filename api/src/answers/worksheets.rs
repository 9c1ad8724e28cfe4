//! Work sheets over HTTP: those of all kinds, which are the same for every club, and the one of a repair as it stands.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{Answer, RepairSheet};
use preen_domain::asked;
use preen_domain::words::{RepairKind, UnknownWord};
use preen_domain::worksheets::{Worksheet, Worksheets, worksheet, worksheets};

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Gives the work sheets of all kinds of repair: steps, cautions, tools, material and its cure, who signs.
#[utoipa::path(
    tag = "answers",
    responses((status = 200, description = "One sheet a kind of repair.", body = Worksheets))
)]
#[get("/worksheets")]
pub async fn list_worksheets(_actor: Reader) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((header::VARY, "Authorization, Cookie"))
        .json(Worksheets { worksheets: worksheets().to_vec() })
}

/// Gives the work sheet of one kind of repair.
#[utoipa::path(
    tag = "answers",
    params(("kind" = String, Path, description = "The kind of repair, R1 to R13.")),
    responses((status = 200, description = "The sheet.", body = Worksheet))
)]
#[get("/worksheets/{kind}")]
pub async fn find_worksheet(_actor: Reader, kind: web::Path<String>) -> Result<HttpResponse, Problem> {
    let kind: RepairKind = kind.parse().map_err(|_unknown: UnknownWord| {
        Problem::NotFound(format!("There is no work sheet `{kind}`: there are R1 to R13."))
    })?;
    Ok(HttpResponse::Ok().insert_header((header::VARY, "Authorization, Cookie")).json(worksheet(kind)))
}

/// Shows the work sheet of a repair as it stands: what is ticked and by whom, what cures until when, what still stands
/// against the release and who may give it.
#[utoipa::path(
    tag = "answers",
    params(("id" = String, Path, description = "Id or tag of the repair.")),
    responses((status = 200, description = "The sheet.", body = Answer<RepairSheet>))
)]
#[get("/repairs/{id}/sheet")]
pub async fn show_repair_sheet(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["repairs", &id, "sheet"]).await?;
    let sheet = asked::repair_sheet(&ask.asked(), &id)?;
    Ok(ask.answer(|| sheet))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_worksheets);
    config.service(find_worksheet);
    config.service(show_repair_sheet);
}
