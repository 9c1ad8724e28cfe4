//! The list of kept pictures, which stands beside the record: what a photo may name. The files lie in the store.

use diesel::prelude::*;
use preen_domain::digest::Digest;
use preen_domain::facts::{Fact, Photo};
use preen_domain::time::Instant;
use preen_domain::words::PhotoType;
use serde::Serialize;
use utoipa::ToSchema;

use crate::db::conn::Db;
use crate::db::door::{Change, DoorError};
use crate::photos::picture::Picture;
use crate::problem::{FieldError, Problem};

diesel::table! {
    /// One row per kept picture of a club.
    pictures (club_id, sha256) {
        club_id -> Text,
        sha256 -> Text,
        width_px -> BigInt,
        height_px -> BigInt,
        size_bytes -> BigInt,
        media_type -> Text,
        kept_at -> BigInt,
    }
}

/// A picture as it is kept: what a photo repeats when it names it.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct KeptPicture {
    /// SHA-256 of the kept file, which names it.
    pub sha256: Digest,
    /// Width, px.
    #[schema(minimum = 1, maximum = 2048)]
    pub width_px: u32,
    /// Height, px.
    #[schema(minimum = 1, maximum = 2048)]
    pub height_px: u32,
    /// Size, bytes.
    #[schema(minimum = 1, maximum = 10_485_760)]
    pub size_bytes: u32,
    /// How it is encoded.
    pub media_type: PhotoType,
}

impl KeptPicture {
    /// What is said of a picture.
    pub fn of(picture: &Picture) -> Self {
        Self {
            sha256: picture.digest.clone(),
            width_px: picture.width_px,
            height_px: picture.height_px,
            size_bytes: u32::try_from(picture.whole.len()).unwrap_or(u32::MAX),
            media_type: PhotoType::Jpeg,
        }
    }

    fn of_photo(photo: &Photo) -> Self {
        Self {
            sha256: photo.sha256.clone(),
            width_px: photo.width_px,
            height_px: photo.height_px,
            size_bytes: photo.size_bytes,
            media_type: photo.media_type,
        }
    }
}

type Row = (i64, i64, i64, String);

fn row_of(kept: &KeptPicture) -> Row {
    let KeptPicture { width_px, height_px, size_bytes, media_type, .. } = kept;
    ((*width_px).into(), (*height_px).into(), (*size_bytes).into(), media_type.to_string())
}

fn find(conn: &mut Db, club: &str, sha256: &Digest) -> QueryResult<Option<Row>> {
    pictures::table
        .find((club, sha256.as_str()))
        .select((pictures::width_px, pictures::height_px, pictures::size_bytes, pictures::media_type))
        .first(conn)
        .optional()
}

/// Whether a picture is on the list.
pub fn is_kept(conn: &mut Db, club: &str, sha256: &Digest) -> Result<bool, DoorError> {
    Ok(find(conn, club, sha256)?.is_some())
}

/// Puts a picture on the list, after its files are in the store; `false` if it was there.
pub fn keep(conn: &mut Db, club: &str, kept: &KeptPicture, now: Instant) -> Result<bool, DoorError> {
    if is_kept(conn, club, &kept.sha256)? {
        return Ok(false);
    }
    let (width_px, height_px, size_bytes, media_type) = row_of(kept);
    diesel::insert_into(pictures::table)
        .values((
            pictures::club_id.eq(club),
            pictures::sha256.eq(kept.sha256.as_str()),
            pictures::width_px.eq(width_px),
            pictures::height_px.eq(height_px),
            pictures::size_bytes.eq(size_bytes),
            pictures::media_type.eq(media_type),
            pictures::kept_at.eq(now.micros()),
        ))
        .execute(conn)?;
    Ok(true)
}

/// Refuses a photo whose picture is not kept, or is another than the photo says. Other facts name no picture.
pub fn check_kept(change: &mut Change<'_>, prefix: &str, fact: &Fact) -> Result<(), Problem> {
    let Fact::Photo(photo) = fact else { return Ok(()) };
    let club = change.club().id.clone();
    let Some(known) = find(change.conn(), &club, &photo.sha256).map_err(DoorError::from)? else {
        let text =
            "No such picture is kept: send it to /photos/files first, and repeat here what comes back.";
        let pointer = format!("{prefix}/sha256");
        return Err(Problem::InvalidFields(vec![FieldError::new(pointer, "unknown_reference", text)]));
    };
    let said = row_of(&KeptPicture::of_photo(photo));
    let sides: [(&str, bool, String); 4] = [
        ("width_px", said.0 == known.0, known.0.to_string()),
        ("height_px", said.1 == known.1, known.1.to_string()),
        ("size_bytes", said.2 == known.2, known.2.to_string()),
        ("media_type", said.3 == known.3, known.3),
    ];
    let wrong = sides.into_iter().filter(|(_, is_same, _)| !is_same).map(|(field, _, known)| {
        let text = format!("The kept picture has {known} here: repeat what came back when it was sent.");
        FieldError::new(format!("{prefix}/{field}"), "other_picture", text)
    });
    let wrong: Vec<FieldError> = wrong.collect();
    if wrong.is_empty() { Ok(()) } else { Err(Problem::InvalidFields(wrong)) }
}
