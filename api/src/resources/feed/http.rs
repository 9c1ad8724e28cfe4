//! Routes of the feed.

use actix_web::http::header;
use actix_web::{HttpResponse, get, post};
use preen_domain::facts::FeedLine;
use preen_domain::rules::may::Act;

use super::inbox::{Outbox, Received, Refusal, receive};
use super::stream::lines;
use super::together::{self, Mode, Wanted};
use crate::access::actor::{Reader, Writer};
use crate::problem::Problem;
use crate::resources::body::{Body, LIMIT};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

/// Bytes of a table at most.
const TABLE: usize = 16 << 20;

/// Takes in the facts of an outbox, in order, each for itself.
///
/// Every item gets an answer: recorded, known already, kept as a question for a person to settle, or refused
/// because the sender may not do it. Nothing is dropped because something before it went wrong.
///
/// Rows of a table are sent with `mode=rows` (each for itself) or `mode=all` (all of them or none): what a rule refuses
/// is then refused and not kept as a question. With `preview=true` nothing is recorded, and what could be is `possible`.
#[utoipa::path(
    tag = "feed",
    params(
        ("mode" = Option<String>, Query, description = "`outbox` (if absent), `rows` or `all`."),
        ("preview" = Option<bool>, Query, description = "Only try it, as one change; with `rows` and `all`."),
    ),
    request_body = Outbox,
    responses((status = 200, description = "One result an item, in order.", body = Received))
)]
#[post("/facts")]
pub async fn send_facts(
    state: Shared,
    actor: Writer,
    query: Pairs,
    body: Body,
) -> Result<HttpResponse, Problem> {
    let wanted = Wanted::read(&query)?;
    let limit = if wanted.mode == Mode::Outbox { LIMIT } else { TABLE };
    let outbox = Outbox::read(body.read_up_to(limit).await?)?;
    let received = match wanted.mode {
        Mode::Outbox => receive(&state, &actor.0, outbox, Refusal::Asked).await?,
        Mode::Rows | Mode::All => together::receive(&state, &actor.0, outbox, wanted).await?,
    };
    Ok(HttpResponse::Ok().json(received))
}

/// Streams all facts recorded after a revision, one a line (NDJSON), oldest first.
///
/// Whoever keeps a copy asks from one revision before its last line and compares: where that line is missing, a server came
/// back without its newest changes, and the copy is to be fetched anew.
#[utoipa::path(
    tag = "feed",
    params(("since" = Option<i64>, Query, minimum = 0, description = "After this revision; 0 or absent: from the beginning.")),
    responses((status = 200, description = "One fact a line.", content_type = "application/x-ndjson", body = FeedLine))
)]
#[get("/facts")]
pub async fn stream_facts(state: Shared, actor: Reader, query: Pairs) -> Result<HttpResponse, Problem> {
    let mut since = 0;
    for (name, value) in &query.0 {
        if name != "since" {
            return Err(Problem::bad_parameter(name, "The feed knows `since` only.".to_owned()));
        }
        since = value.parse().ok().filter(|since| *since >= 0).ok_or_else(|| {
            Problem::bad_parameter(
                "since",
                format!("`{value}` is no revision: send a whole number, 0 or more."),
            )
        })?;
    }
    let held = actor.0.fleet(&state).await?;
    actor.0.may(&held.fleet, Act::ReadFeed, state.now())?;
    let body = lines(state.into_inner(), actor.0.club, since, held.revision);
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "application/x-ndjson"))
        .insert_header((header::VARY, "Authorization, Cookie"))
        .streaming(body))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(send_facts).service(stream_facts);
}
