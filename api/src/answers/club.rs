//! Which club a token belongs to, what time it is there, and as whom the asker is known.

use actix_web::http::header;
use actix_web::{HttpResponse, get};
use preen_domain::answers::ClubSaid;

use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::routes::Routes;
use crate::state::Shared;

/// Gives the club of the token, its time zone, the service's clock, and who is asking.
#[utoipa::path(
    tag = "club",
    responses((status = 200, description = "What a program must know to ask in the club's terms.", body = ClubSaid))
)]
#[get("/club")]
pub async fn show_club(state: Shared, actor: Reader) -> Result<HttpResponse, Problem> {
    let actor = actor.0;
    let held = actor.fleet(&state).await?;
    let fleet = &held.fleet;
    let said = ClubSaid {
        club: actor.club,
        club_id: fleet.club().id,
        title: fleet.club().title.clone(),
        time_zone: fleet.club().zone,
        now: state.now(),
        revision: held.revision,
        member: fleet.member_tag(actor.member),
        member_id: actor.member,
        roles: fleet.member(actor.member).map(|member| member.fact.roles.clone()).unwrap_or_default(),
        scopes: actor.scopes.into_iter().collect(),
    };
    Ok(HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::VARY, "Authorization, Cookie"))
        .json(said))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_club);
}
