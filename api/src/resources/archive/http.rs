//! Routes by which a club is taken away, or one model, or what is on record about one member.

use std::fs::File;
use std::io::{Read as _, Seek as _, SeekFrom};

use actix_web::http::header::{self, ContentEncoding};
use actix_web::web::Bytes;
use actix_web::{HttpResponse, get, web};
use futures_util::Stream;
use futures_util::stream::unfold;
use preen_domain::facts::{Fact, Member, Model, Noun, Recorded};
use preen_domain::ids::{MemberId, ModelId};
use preen_domain::rules::may::Act;
use preen_domain::time::Instant;
use serde_json::{Value, json};

use super::pack::{PackError, pack};
use super::part_of;
use crate::access::actor::{Copier, Reader};
use crate::db::door::{DoorError, Span};
use crate::db::fleet::Held;
use crate::desk::Desk;
use crate::exchange::archive::write::{ArchiveWriter, WriteError};
use crate::photos::store::Which;
use crate::problem::Problem;
use crate::resources::entry::{find_seen, not_found};
use crate::routes::Routes;
use crate::state::Shared;

/// Archives are made one at a time: they take room, and the disk's time.
static BENCH: Desk = Desk::new(1, 2);
/// Bytes sent at once.
const PIECE: usize = 128 << 10;

/// Gives the whole record of the club as one archive (ZIP): every fact, the trail word for word, tables for people, and
/// the pictures of photos.
///
/// For the keeper, with the scope `copy`. `preen-server import` puts it into another database. It is made before the
/// first byte is sent, so that what comes is whole or breaks off.
#[utoipa::path(
    tag = "exchange",
    responses((status = 200, description = "The archive; its README.txt says what each file holds.",
        content_type = "application/zip", body = Vec<u8>))
)]
#[get("/export")]
pub async fn export_club(state: Shared, actor: Copier) -> Result<HttpResponse, Problem> {
    let actor = actor.0;
    let held = actor.fleet(&state).await?;
    actor.may(&held.fleet, Act::TakeAway, state.now())?;
    let (shared, club, now) = (state.clone(), actor.club.clone(), state.now());
    let runtime = tokio::runtime::Handle::current();
    let made = BENCH
        .compute(move || {
            let mut fetch =
                |digest: &_| runtime.block_on(shared.photos.store.get(&club, digest, Which::Whole));
            // Without a name: whatever happens, nothing of it stays.
            let file = tempfile::tempfile().map_err(WriteError::from);
            let mut conn = shared.door.connection()?;
            Ok::<_, Problem>(pack(&mut conn, &club, file.map_err(PackError::from)?, now, &mut fetch)?)
        })
        .await??;
    let (file, head) = made;
    tracing::info!(club = %actor.club, member = %actor.member, revision = head.revision, "the record was taken away");
    send(file, &format!("{}-{}.zip", actor.club, head.revision)).await
}

/// Sends a file from its beginning.
pub async fn send(mut file: File, name: &str) -> Result<HttpResponse, Problem> {
    let broken = |error: std::io::Error| Problem::Internal(error.to_string());
    let length = file.seek(SeekFrom::End(0)).map_err(broken)?;
    file.seek(SeekFrom::Start(0)).map_err(broken)?;
    Ok(HttpResponse::Ok()
        .content_type("application/zip")
        .insert_header(ContentEncoding::Identity)
        .insert_header((header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .insert_header((header::CACHE_CONTROL, "private, no-store"))
        .insert_header((header::VARY, "Authorization, Cookie"))
        .no_chunking(length)
        .streaming(pieces(file)))
}

fn pieces(file: File) -> impl Stream<Item = Result<Bytes, Problem>> {
    unfold(Some(file), |file| async move {
        let mut file = file?;
        let read = web::block(move || {
            let mut piece = vec![0; PIECE];
            let length = file.read(&mut piece)?;
            piece.truncate(length);
            Ok::<_, std::io::Error>((piece, file))
        });
        match read.await {
            Ok(Ok((piece, _))) if piece.is_empty() => None,
            Ok(Ok((piece, file))) => Some((Ok(piece.into()), Some(file))),
            Ok(Err(error)) => Some((Err(DoorError::Broken(error.to_string()).into()), None)),
            Err(error) => Some((Err(DoorError::Broken(error.to_string()).into()), None)),
        }
    })
}

/// What one request goes out with.
type Made = Result<File, Problem>;

/// Gives one model with the parts in it and their whole history as an archive (ZIP): for a buyer.
///
/// Members are numbers in it (`member-1`), their names and codes are taken out of what people wrote. Photos, loans,
/// contests and stock are not in it.
#[utoipa::path(
    tag = "exchange",
    params(("id" = String, Path, description = "Id or tag of the model.")),
    responses((status = 200, description = "The archive.", content_type = "application/zip", body = Vec<u8>))
)]
#[get("/models/{id}/export")]
pub async fn export_model(
    state: Shared,
    actor: Reader,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    let actor = actor.0;
    let model = ModelId(find_seen::<Model>(&state, &actor, &id).await?);
    let held = actor.fleet(&state).await?;
    actor.may(&held.fleet, Act::ReadFeed, state.now())?;
    let Some(data) = held.fleet.model_data(model) else { return Err(not_found(Noun::Models, &id)) };
    let name = format!("{}-{}.zip", data.tag, held.revision);
    let facts = state.door.facts(&actor.club, Span { after: 0, up_to: Some(held.revision) }).await?;
    let now = state.now();
    let made = BENCH.compute(move || -> Made { Ok(pack_model(&held, &facts, model, now)?) }).await??;
    send(made, &name).await
}

fn pack_model(
    held: &Held,
    facts: &[Recorded<Fact>],
    model: ModelId,
    now: Instant,
) -> Result<File, PackError> {
    let mut archive = ArchiveWriter::new(tempfile::tempfile().map_err(WriteError::from)?);
    let (mut lines, parts) = part_of::of_model(&held.fleet, facts, model, now)?;
    part_of::Mask::of(&held.fleet, facts).cover(&mut lines);
    let tag_of = |id: &str| held.names.tag_of(id.parse().ok()?).map(ToOwned::to_owned);
    part_of::write_lines(&mut archive, &lines, &tag_of)?;
    part_of::write_usage(&mut archive, &held.fleet, &parts, now)?;
    let text = format!(
        "The record of the model {} and of the {} parts in it, as it stood on {now}.\n\n\
         facts.ndjson\n  Every fact about them, one JSON object a line, oldest first.\n\
         usage.ndjson\n  Use of each part: where it sat, and what was counted there.\n\
         csv/\n  The same facts as tables. A text that begins like a formula has an apostrophe before it.\n\n\
         Members are numbers: member-1 is the same person throughout. It is a club record: it makes no model legal or \
         safe to fly.\n",
        held.fleet.model_tag(model),
        parts.len()
    );
    archive.text("README.txt", &text)?;
    Ok(archive.end()?)
}

/// Gives everything that is on record about a member as an archive (ZIP): for the member, or the keeper.
///
/// What is personal can be taken out by `POST /members/{id}/erasure`.
#[utoipa::path(
    tag = "exchange",
    params(("id" = String, Path, description = "Id or tag of the member.")),
    responses((status = 200, description = "The archive.", content_type = "application/zip", body = Vec<u8>))
)]
#[get("/members/{id}/export")]
pub async fn export_member(
    state: Shared,
    actor: Reader,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    let actor = actor.0;
    let member = MemberId(find_seen::<Member>(&state, &actor, &id).await?);
    let held = actor.fleet(&state).await?;
    let Some(data) = held.fleet.member(member) else { return Err(not_found(Noun::Members, &id)) };
    actor.may(&held.fleet, Act::ReadPersonal(member), state.now())?;
    let name = format!("{}-{}.zip", data.fact.tag, held.revision);
    let facts = state.door.facts(&actor.club, Span { after: 0, up_to: Some(held.revision) }).await?;
    let (club, now) = (actor.club.clone(), state.now());
    let access = state.door.read(move |_, conn| part_of::access_of(conn, &club, member, now)).await?;
    let made =
        BENCH.compute(move || -> Made { Ok(pack_member(&held, &facts, member, &access, now)?) }).await??;
    send(made, &name).await
}

fn pack_member(
    held: &Held,
    facts: &[Recorded<Fact>],
    member: MemberId,
    access: &Value,
    now: Instant,
) -> Result<File, PackError> {
    let mut archive = ArchiveWriter::new(tempfile::tempfile().map_err(WriteError::from)?);
    let lines = part_of::of_member(facts, member)?;
    let tag_of = |id: &str| held.names.tag_of(id.parse().ok()?).map(ToOwned::to_owned);
    part_of::write_lines(&mut archive, &lines, &tag_of)?;
    let tag = held.fleet.member_tag(member);
    let whole = json!({
        "as_of": now,
        "revision": held.revision,
        "member": held.fleet.member(member),
        "access": access,
        "facts": lines.len(),
        "removal": format!("POST /api/v1/members/{tag}/erasure"),
    });
    let whole = serde_json::to_string_pretty(&whole).map_err(|error| DoorError::Broken(error.to_string()))?;
    archive.text("member.json", &whole)?;
    let text = format!(
        "What is on record about the member {tag}, as it stood on {now}.\n\n\
         member.json\n  The member as entered, the tokens and the password (when it was set; of secrets nothing is kept but \
         digests).\n\
         facts.ndjson\n  Every fact that names the member or was entered by them, one JSON object a line.\n\
         csv/\n  The same facts as tables. A text that begins like a formula has an apostrophe before it.\n\n\
         The keeper takes what is personal out of the record by the member's erasure: the name goes everywhere, the trail \
         included, which still holds. Backups and archives made after that hold none of it.\n"
    );
    archive.text("README.txt", &text)?;
    Ok(archive.end()?)
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(export_club).service(export_model).service(export_member);
}
