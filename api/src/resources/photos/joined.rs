//! Photos together with what they show: recorded in one go, both or neither.

use preen_domain::facts::{Defect, Inspection, Photo, Subject};
use preen_domain::ids::{DefectId, InspectionId, PhotoId};
use preen_domain::text::Text;
use preen_domain::time::Instant;
use preen_domain::words::Scope;
use serde_json::Value;
use sha2::{Digest as _, Sha256};
use uuid::{Builder, Uuid};

use super::pictures::KeptPicture;
use crate::access::actor::Actor;
use crate::access::sight::sight_of;
use crate::db::door::Kept;
use crate::problem::Problem;
use crate::resources::body::{parse_fact, resolve};
use crate::resources::entry::{Entered, add_in_door};
use crate::resources::rows::Rows;
use crate::state::State;

/// What photos of a fact say of themselves.
pub struct Shows {
    subject: Subject,
    defect: Option<DefectId>,
    inspection: Option<InspectionId>,
    occurred_at: Instant,
    text: Option<Text>,
}

/// A fact that photos can go with.
pub trait Pictured: Rows {
    /// What its photos show; nothing where they cannot show anything.
    fn shows(&self) -> Option<Shows>;
}

impl Pictured for Defect {
    fn shows(&self) -> Option<Shows> {
        Some(Shows {
            subject: self.subject,
            defect: Some(self.id),
            inspection: None,
            occurred_at: self.occurred_at,
            text: Some(self.text.clone()),
        })
    }
}

impl Pictured for Inspection {
    fn shows(&self) -> Option<Shows> {
        let of_model = self.model.map(Subject::Model);
        let subject = self.component.map(Subject::Component).or(of_model)?;
        Some(Shows {
            subject,
            defect: None,
            inspection: Some(self.id),
            occurred_at: self.occurred_at,
            text: self.note.clone(),
        })
    }
}

/// The id of a photo by what it goes with and its picture, so that the same sent again counts once.
pub fn photo_id(with: Uuid, picture: &KeptPicture) -> PhotoId {
    let mut hash = Sha256::new();
    hash.update(with.as_bytes());
    hash.update(picture.sha256.as_str());
    let digest = hash.finalize();
    let (mut chance, mut time) = ([0; 10], [0; 8]);
    chance.iter_mut().zip(digest).for_each(|(to, from)| *to = from);
    // The first 48 bits of an id of this version are its moment.
    time.iter_mut().skip(2).zip(with.as_bytes()).for_each(|(to, from)| *to = *from);
    PhotoId(Builder::from_unix_timestamp_millis(u64::from_be_bytes(time), &chance).into_uuid())
}

fn photo(with: Uuid, shows: &Shows, picture: KeptPicture) -> Photo {
    Photo {
        id: photo_id(with, &picture),
        subject: shows.subject,
        defect: shows.defect,
        repair: None,
        inspection: shows.inspection,
        occurred_at: shows.occurred_at,
        sha256: picture.sha256,
        width_px: picture.width_px,
        height_px: picture.height_px,
        size_bytes: picture.size_bytes,
        media_type: picture.media_type,
        text: shows.text.clone(),
        taken_by: None,
    }
}

/// Adds a fact as [`add`](crate::resources::entry::add) does, and a photo of it for each picture.
pub async fn add_with<F: Pictured>(
    state: &State,
    actor: &Actor,
    act: &'static str,
    mut body: Value,
    pictures: Vec<KeptPicture>,
) -> Result<(), Problem> {
    let held = actor.fleet(state).await?;
    resolve(F::NOUN, "", &mut body, &sight_of(actor, &held, state.now()))?;
    let fact: F = parse_fact("", body)?;
    let has_history = actor.scopes.contains(&Scope::History);
    let work = move |change: &mut crate::db::door::Change<'_>| {
        let (with, shows) = (fact.id(), fact.shows());
        let mut is_new = matches!(add_in_door(change, act, fact, has_history)?, Kept::Recorded(_));
        for picture in pictures {
            let Some(shows) = &shows else { break };
            let taken = photo(with, shows, picture);
            let kept: Kept<Entered<Photo>> = add_in_door(change, "add_photo", taken, has_history)?;
            is_new |= matches!(kept, Kept::Recorded(_));
        }
        Ok::<_, Problem>(if is_new { Kept::Recorded(()) } else { Kept::Unchanged(()) })
    };
    state.door.write(&actor.club, actor.member, work).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_picture_of_the_same_thing_is_the_same_photo() {
        let picture = |digit: &str| KeptPicture {
            sha256: digit.repeat(64).parse().unwrap(),
            width_px: 3,
            height_px: 2,
            size_bytes: 100,
            media_type: preen_domain::words::PhotoType::Jpeg,
        };
        let with = |last: u8| Uuid::from_u128(0x0197_0a3c_5d00_7000_8000_0000_0000_0000 + u128::from(last));
        let id = photo_id(with(1), &picture("a"));
        assert_eq!(id, photo_id(with(1), &picture("a")));
        assert_ne!(id, photo_id(with(1), &picture("b")));
        assert_ne!(id, photo_id(with(2), &picture("a")));
        assert_eq!(id.0.get_version_num(), 7);
        assert_eq!(id.0.get_timestamp(), with(1).get_timestamp());
    }
}
