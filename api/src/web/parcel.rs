//! A form that comes with pictures, as browsers send one that has a field for files.
//!
//! Its fields are read as of any other form. Each picture is kept at once, by the same function as one that is sent by
//! itself, and stands among the fields as what is known of it: a form that is refused shows it again, and need not send
//! it twice.

use std::time::Duration;

use actix_multipart::{Field, Multipart, MultipartError};
use actix_web::http::header::ContentDisposition;
use actix_web::rt::time::timeout;
use actix_web::web::Bytes;
use futures_util::{StreamExt as _, stream};
use preen_domain::words::Scope;

use super::form::Fields;
use crate::access::actor::{Actor, FormSender};
use crate::edge::patience::BrokeOff as _;
use crate::problem::Problem;
use crate::resources::photos::files::{keep_sent, label_of};
use crate::resources::photos::pictures::KeptPicture;
use crate::state::State;

/// The field under which a kept picture stands.
pub const PICTURE: &str = "picture";
/// Bytes of all texts of a form at most.
const MOST_TEXT: usize = 64 << 10;
/// Fields of a form at most.
const MOST_FIELDS: usize = 1000;
/// Pictures that come with one form at most.
const MOST_PICTURES: usize = 8;
/// How long a form may take to come in with all its pictures.
const PATIENCE: Duration = Duration::from_secs(600);

/// What was sent.
pub struct Parcel {
    /// Who sent it.
    pub actor: Actor,
    /// Its fields, with a kept picture for each file.
    pub fields: Fields,
    /// Why a file could not be kept, if one could not.
    pub lost: Option<Problem>,
}

fn broken(error: &MultipartError) -> Problem {
    error.or_else(|text| Problem::MalformedJson(format!("The form cannot be read: {text}.")))
}

async fn text(field: &mut Field, room: &mut usize) -> Result<String, Problem> {
    let mut bytes = Vec::new();
    while let Some(chunk) = field.next().await {
        let chunk = chunk.map_err(|error| broken(&error))?;
        *room = room.checked_sub(chunk.len()).ok_or(Problem::TooLarge(MOST_TEXT))?;
        bytes.extend_from_slice(&chunk);
    }
    let no_text = |error| Problem::MalformedJson(format!("A field of the form is no text: {error}."));
    String::from_utf8(bytes).map_err(no_text)
}

/// Whether a field is one for files, and whether a file was chosen: browsers send an empty one otherwise.
fn file(disposition: Option<&ContentDisposition>) -> Option<bool> {
    disposition?.get_filename().map(|name| !name.is_empty())
}

/// Who sent it, once the token was shown; fields for files stand behind it.
fn shown(sender: &mut Option<FormSender>, fields: &Fields) -> Result<Option<Actor>, Problem> {
    let Some(sender) = sender.take() else { return Ok(None) };
    let actor = sender.shown(fields.get("csrf").unwrap_or_default())?;
    actor.demand_ready(Scope::Write)?;
    Ok(Some(actor))
}

/// Reads a form to its end. A picture that cannot be kept costs no other field.
pub async fn open(state: &State, sender: FormSender, parts: Multipart) -> Result<Parcel, Problem> {
    timeout(PATIENCE, read(state, sender, parts)).await.map_err(|_elapsed| Problem::TooSlow)?
}

async fn read(state: &State, sender: FormSender, mut parts: Multipart) -> Result<Parcel, Problem> {
    let (mut sender, mut actor) = (Some(sender), None);
    let (mut fields, mut lost) = (Fields::default(), None);
    let (mut room, mut pictures) = (MOST_TEXT, 0_usize);
    while let Some(part) = parts.next().await {
        let mut part = part.map_err(|error| broken(&error))?;
        let name = part.name().unwrap_or_default().to_owned();
        if fields.0.len() >= MOST_FIELDS {
            return Err(Problem::TooLarge(MOST_TEXT));
        }
        match file(part.content_disposition()) {
            None => fields.0.push((name, text(&mut part, &mut room).await?)),
            Some(false) => {}
            Some(true) if lost.is_some() => {}
            Some(true) if pictures >= MOST_PICTURES => {
                let text = format!(
                    "No more than {MOST_PICTURES} photos go with one form: send the others after it."
                );
                lost = Some(Problem::field("/photo", text));
            }
            Some(true) => {
                if let Some(found) = shown(&mut sender, &fields)? {
                    actor = Some(found);
                }
                let Some(actor) = &actor else { return Err(Problem::CsrfTokenWrong) };
                pictures += 1;
                match picture(state, actor, part).await {
                    Ok(Some(kept)) => fields.0.push((PICTURE.to_owned(), kept)),
                    Ok(None) => {}
                    Err(problem) => lost = Some(problem),
                }
            }
        }
    }
    let found = shown(&mut sender, &fields)?;
    let actor = found.or(actor).ok_or(Problem::CsrfTokenWrong)?;
    Ok(Parcel { actor, fields, lost })
}

/// Keeps one; nothing where the file is empty.
async fn picture(state: &State, actor: &Actor, mut part: Field) -> Result<Option<String>, Problem> {
    let Some(first) = part.next().await else { return Ok(None) };
    let first: Result<Bytes, MultipartError> = first;
    let (kept, _) = keep_sent(state, actor, stream::iter([first]).chain(part)).await?;
    let kept = serde_json::to_string(&kept).map_err(|error| Problem::Internal(error.to_string()))?;
    Ok(Some(kept))
}

/// The text of the code on the first picture of a form, which is not kept.
pub async fn read_label(
    state: &State,
    sender: FormSender,
    mut parts: Multipart,
) -> Result<Option<String>, Problem> {
    let (mut sender, mut fields, mut room) = (Some(sender), Fields::default(), MOST_TEXT);
    while let Some(part) = parts.next().await {
        let mut part = part.map_err(|error| broken(&error))?;
        match file(part.content_disposition()) {
            None => {
                fields
                    .0
                    .push((part.name().unwrap_or_default().to_owned(), text(&mut part, &mut room).await?));
            }
            Some(_) => {
                shown(&mut sender, &fields)?;
                return label_of(state, part).await;
            }
        }
    }
    Err(Problem::field("/photo", "Choose a photo of the label."))
}

/// The pictures of a form, those that it was shown with among them.
pub fn pictures(fields: &Fields) -> Result<Vec<KeptPicture>, Problem> {
    let said = fields.0.iter().filter(|(name, _)| name == PICTURE);
    let read = |(_, text): &(String, String)| {
        serde_json::from_str(text)
            .map_err(|error| Problem::field("/photo", format!("That is no picture that was kept: {error}.")))
    };
    said.map(read).collect()
}
