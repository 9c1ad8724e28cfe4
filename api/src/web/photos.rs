//! Photos as pages show them: small, the newest first, each leading to its picture; and more of them for what is on record.

use preen_domain::facts::{Photo, Recorded, THUMBNAIL_PX};
use preen_domain::fleet::Fleet;
use preen_domain::time::Instant;
use serde_json::{Value, json};
use uuid::Uuid;

use super::form::Fields;
use super::parcel::pictures;
use crate::access::actor::Actor;
use crate::problem::Problem;
use crate::resources::entry;
use crate::resources::photos::joined::photo_id;
use crate::state::State;
use crate::told::day;

/// Photos of a page at most.
const MOST: usize = 12;

/// A photo on a page.
pub struct Shown {
    /// Its id.
    pub id: String,
    /// What it shows, in words.
    pub about: String,
    /// When it was taken.
    pub day: String,
    /// Width of its thumbnail, px.
    pub width_px: u32,
    /// Height of its thumbnail, px.
    pub height_px: u32,
}

/// The defect that a photo shows, by the name that answers give it.
pub fn defect_of(fleet: &Fleet, photo: &Photo) -> Option<String> {
    let defect = fleet.defect(photo.defect?)?.defect.as_ref()?;
    Some(defect.fact.tag.as_ref().map_or_else(|| defect.fact.id.to_string(), ToString::to_string))
}

/// Photos taken by a moment, the newest first.
pub fn shown<'a>(
    fleet: &Fleet,
    photos: impl Iterator<Item = &'a Recorded<Photo>>,
    at: Instant,
) -> Vec<Shown> {
    let mut photos: Vec<&Photo> =
        photos.map(|photo| &photo.fact).filter(|photo| photo.occurred_at <= at).collect();
    photos.sort_by_key(|photo| std::cmp::Reverse((photo.occurred_at, photo.id)));
    photos.into_iter().take(MOST).map(|photo| one(fleet, photo)).collect()
}

fn one(fleet: &Fleet, photo: &Photo) -> Shown {
    let subject = match photo.subject {
        preen_domain::facts::Subject::Model(model) => fleet.model_tag(model),
        preen_domain::facts::Subject::Component(component) => fleet.component_tag(component),
    };
    let defect = photo.defect.and_then(|id| fleet.defect(id)?.defect.as_ref());
    let said =
        [photo.text.as_ref().map(ToString::to_string), defect.map(|defect| defect.fact.text.to_string())];
    let about = said.into_iter().flatten().fold(subject, |about, text| format!("{about}: {text}"));
    let longer = photo.width_px.max(photo.height_px).max(1);
    let small = |side: u32| match longer {
        0..=THUMBNAIL_PX => side,
        _ => (side.saturating_mul(THUMBNAIL_PX).saturating_add(longer / 2) / longer).max(1),
    };
    Shown {
        id: photo.id.to_string(),
        about,
        day: day(photo.occurred_at, fleet.club().zone),
        width_px: small(photo.width_px),
        height_px: small(photo.height_px),
    }
}

/// Records the pictures of a form as photos of something on record: `of` is the noun's word in a photo, and its name.
pub async fn add_photos(
    state: &State,
    actor: &Actor,
    fields: &Fields,
    of: (&str, &str),
    at: Instant,
) -> Result<(), Problem> {
    let with = Uuid::parse_str(fields.need("id")?).map_err(|_bad| {
        Problem::field("/id", "The form was not made by this service: load the page anew.")
    })?;
    let chosen = fields.need("shows")?.split_once(':');
    let (kind, name) = chosen.ok_or_else(|| Problem::field("/shows", "Say what they show."))?;
    let kept = pictures(fields)?;
    if kept.is_empty() {
        return Err(Problem::field("/photo", "Choose a photo."));
    }
    for picture in kept {
        let mut body = json!(&picture);
        let Some(map) = body.as_object_mut() else { continue };
        let said = [
            ("id", json!(photo_id(with, &picture))),
            ("subject", json!({ kind: name })),
            ("occurred_at", json!(at)),
            (of.0, json!(of.1)),
            ("text", fields.get("text").map_or(Value::Null, Value::from)),
        ];
        let said = said.into_iter().filter(|(_, value)| !value.is_null());
        map.extend(said.map(|(name, value)| (name.to_owned(), value)));
        entry::add::<Photo>(state, actor, "add_photo", body).await?;
    }
    Ok(())
}
