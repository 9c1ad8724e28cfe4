//! Pictures over HTTP: one comes in before a photo names it, and goes out to whoever may see a photo of it.

use std::future::{Ready, ready};
use std::time::Duration;

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest, HttpResponse, get, post, web};
use futures_util::{Stream, StreamExt as _};
use preen_domain::facts::{Fact, MOST_BYTES, Noun, Photo};
use preen_domain::rules::may::{Act, may_see};
use utoipa::ToSchema;

use super::pictures::{KeptPicture, is_kept, keep};
use crate::access::actor::{Actor, Reader, Writer};
use crate::db::door::DoorError;
use crate::edge::patience::BrokeOff;
use crate::photos::picture::is_of;
use crate::photos::store::{StoreFault, Which};
use crate::problem::Problem;
use crate::resources::entry::{find_id, not_found};
use crate::resources::rows::Rows as _;
use crate::routes::Routes;
use crate::state::{Shared, State};

/// How long a picture may take to come in: 10 MiB over a slow line.
const PATIENCE: Duration = Duration::from_secs(180);
/// Bytes that are still read and thrown away, so that the sender gets to hear the answer.
const DRAINED: usize = 16 << 20;

/// The bytes of a picture.
#[derive(ToSchema)]
#[schema(value_type = String, format = Binary)]
pub struct PictureFile(pub Vec<u8>);

/// A picture that is sent, not read yet: who asks is settled before a byte of it is looked at.
pub struct Sent(Payload);

impl FromRequest for Sent {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(_: &HttpRequest, payload: &mut Payload) -> Self::Future {
        ready(Ok(Self(payload.take())))
    }
}

/// The bytes of a picture, no more than one may have.
async fn read<E: BrokeOff>(
    mut sent: impl Stream<Item = Result<web::Bytes, E>> + Unpin,
) -> Result<Vec<u8>, Problem> {
    let most = usize::try_from(MOST_BYTES).unwrap_or(usize::MAX);
    let (mut bytes, mut length) = (Vec::new(), 0_usize);
    while let Some(chunk) = sent.next().await {
        let broken = |text| Problem::NotAPicture(format!("The picture broke off: {text}."));
        let chunk = chunk.map_err(|error| error.or_else(broken))?;
        length = length.saturating_add(chunk.len());
        if length <= most {
            bytes.extend_from_slice(&chunk);
        } else if length > DRAINED {
            break;
        }
    }
    if length > most { Err(Problem::TooLarge(most)) } else { Ok(bytes) }
}

/// Keeps a picture (JPEG, PNG or WebP, by its content), so that a photo can name it.
///
/// It is turned the right way up, made smaller (2048 px on the longer side at most) and encoded anew as JPEG, without
/// anything that was written beside its pixels. A picture that no photo names within a day may be thrown away.
#[utoipa::path(
    tag = "photos",
    request_body(content(
        (PictureFile = "image/jpeg"), (PictureFile = "image/png"), (PictureFile = "image/webp")
    )),
    responses(
        (status = 201, description = "It is kept.", body = KeptPicture),
        (status = 200, description = "The same was kept before.", body = KeptPicture),
        (status = 413, description = "It is longer than 10 MiB, or has more pixels than can be handled.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"),
        (status = 415, description = "It is no picture that can be read.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"),
    )
)]
#[post("/photos/files")]
pub async fn keep_picture(state: Shared, actor: Writer, sent: Sent) -> Result<HttpResponse, Problem> {
    let (kept, is_new) = keep_sent(&state, &actor.0, sent.0).await?;
    let mut response = if is_new { HttpResponse::Created() } else { HttpResponse::Ok() };
    Ok(response.json(kept))
}

/// Keeps a picture that is still to be read, and says whether it is new: whoever sends it may do so, and there is a place
/// for it, before a byte of it is looked at.
pub async fn keep_sent<E: BrokeOff>(
    state: &State,
    actor: &Actor,
    sent: impl Stream<Item = Result<web::Bytes, E>> + Unpin,
) -> Result<(KeptPicture, bool), Problem> {
    let held = actor.fleet(state).await?;
    actor.may(&held.fleet, Act::KeepPicture, state.now())?;
    let turn = state.photos.darkroom.turn()?;
    let sent = read_in_time(sent).await?;
    keep_bytes(state, &actor.club, turn.develop(sent).await?).await
}

async fn read_in_time<E: BrokeOff>(
    sent: impl Stream<Item = Result<web::Bytes, E>> + Unpin,
) -> Result<Vec<u8>, Problem> {
    let read = actix_web::rt::time::timeout(PATIENCE, read(sent)).await;
    read.map_err(|_elapsed| Problem::TooSlow)?
}

/// The text of the code on a picture that is still to be read, which is thrown away.
pub async fn label_of<E: BrokeOff>(
    state: &State,
    sent: impl Stream<Item = Result<web::Bytes, E>> + Unpin,
) -> Result<Option<String>, Problem> {
    let turn = state.photos.darkroom.turn()?;
    turn.read_label(read_in_time(sent).await?).await
}

/// Files first, then the list: what is on the list can be read.
async fn keep_bytes(
    state: &State,
    club: &str,
    picture: crate::photos::picture::Picture,
) -> Result<(KeptPicture, bool), Problem> {
    let kept = KeptPicture::of(&picture);
    let store = &state.photos.store;
    store.put(club, &kept.sha256, Which::Thumbnail, picture.thumbnail).await?;
    store.put(club, &kept.sha256, Which::Whole, picture.whole).await?;
    let (wanted, now, club) = (kept.clone(), state.now(), club.to_owned());
    let (of, of_files) = (club.clone(), club.clone());
    let listed: Result<bool, DoorError> =
        state.door.write_beside(move |conn| keep(conn, &of, &wanted, now)).await;
    let is_new = match listed {
        Ok(is_new) => is_new,
        // Somebody else may have sent the same at the same moment.
        Err(error) => {
            let digest = kept.sha256.clone();
            let is_there = state.door.read(move |_, conn| is_kept(conn, &club, &digest)).await?;
            if !is_there {
                return Err(error.into());
            }
            false
        }
    };
    // The same picture may have been thrown away while its files came: on the list anew, it stays.
    for which in [Which::Thumbnail, Which::Whole] {
        if !store.has(&of_files, &kept.sha256, which).await? {
            return Err(Problem::Busy);
        }
    }
    Ok((kept, is_new))
}

/// The picture of a photo.
#[utoipa::path(
    tag = "photos",
    params(("id" = String, Path, description = "Id of the photo.")),
    responses((status = 200, description = "The picture.", content_type = "image/jpeg", body = PictureFile,
        headers(("ETag" = String, description = "Digest of the picture."))),
        (status = 304, description = "The picture at hand is the one."),
        (status = 500, description = "What was kept is lost, or is another file: send the picture again.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"))
)]
#[get("/photos/{id}/image")]
pub async fn show_picture(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    send(&state, &actor.0, &request, &id, Which::Whole).await
}

/// The thumbnail of a photo, 320 px on the longer side at most.
#[utoipa::path(
    tag = "photos",
    params(("id" = String, Path, description = "Id of the photo.")),
    responses((status = 200, description = "The thumbnail.", content_type = "image/jpeg", body = PictureFile,
        headers(("ETag" = String, description = "Digest of the picture, and that this is its thumbnail."))),
        (status = 304, description = "The thumbnail at hand is the one."),
        (status = 500, description = "What was kept is lost, or is another file: send the picture again.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"))
)]
#[get("/photos/{id}/thumbnail")]
pub async fn show_thumbnail(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    send(&state, &actor.0, &request, &id, Which::Thumbnail).await
}

/// A correction may give a photo another picture, and what may be seen today may not tomorrow: who has a picture keeps it,
/// and asks whether it is still the one.
async fn send(
    state: &State,
    actor: &Actor,
    request: &HttpRequest,
    name: &str,
    which: Which,
) -> Result<HttpResponse, Problem> {
    let id = find_id(state, actor, Noun::Photos, name).await?;
    let held = actor.fleet(state).await?;
    let club = actor.club.clone();
    let stored =
        state.door.read_at(&actor.club, held.revision, move |_, conn| Photo::find(conn, &club, id)).await?;
    let photo = stored
        .map(|stored| stored.fact)
        .filter(|photo| may_see(&held.fleet, actor.member, &Fact::Photo(photo.clone()), state.now()))
        .ok_or_else(|| not_found(Noun::Photos, name))?;
    let etag = match which {
        Which::Whole => format!("\"{}\"", photo.sha256),
        Which::Thumbnail => format!("\"{}-thumbnail\"", photo.sha256),
    };
    let seen = request.headers().get(header::IF_NONE_MATCH).and_then(|value| value.to_str().ok());
    let is_seen =
        seen.is_some_and(|seen| seen.split(',').any(|one| [etag.as_str(), "*"].contains(&one.trim())));
    let mut response = if is_seen { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    response
        .insert_header((header::ETAG, etag))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"))
        .insert_header((header::VARY, "Authorization, Cookie"));
    if is_seen {
        return Ok(response.finish());
    }
    let bytes = state.photos.store.get(&actor.club, &photo.sha256, which).await?;
    if which == Which::Whole && !is_of(&bytes, &photo.sha256) {
        return Err(StoreFault::Lost(format!("what is kept as {} is another file", photo.sha256)).into());
    }
    Ok(response
        .content_type(photo.media_type.as_str())
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((header::CONTENT_SECURITY_POLICY, "default-src 'none'; sandbox"))
        .body(bytes))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(keep_picture).service(show_picture).service(show_thumbnail);
}
