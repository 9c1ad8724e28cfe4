//! What changed since a revision, and which facts did it.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, Changes};
use preen_domain::asked;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::db::door::Span;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Says which models stand differently than by what was known at a revision, and which facts did it.
#[utoipa::path(
    tag = "answers",
    params(("since" = i64, Query, minimum = 0, description = "The revision last seen.")),
    responses((status = 200, description = "What changed.", body = Answer<Changes>))
)]
#[get("/changes")]
pub async fn list_changes(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["changes"]).await?;
    let newest = ask.held.revision;
    let since = ask.parameter("since").and_then(|since| since.parse().ok());
    let since: i64 = since.filter(|since| (0..=newest).contains(since)).ok_or_else(|| {
        Problem::bad_parameter("since", format!("Send the revision last seen, 0 to {newest}."))
    })?;
    let before = state.door.fleet_at(&actor.0.club, since).await?;
    let facts = state.door.facts(&actor.0.club, Span { after: since, up_to: Some(newest) }).await?;
    // What a correction takes the place of says whom it concerns.
    let older = if asked::corrects_older(&facts) {
        state.door.facts(&actor.0.club, Span { after: 0, up_to: Some(since) }).await?
    } else {
        Vec::new()
    };
    Ok(ask.answer(|| asked::changes(&ask.asked(), since, &before.fleet, &facts, &older)))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_changes);
}
