//! The list of kept pictures, which stands beside the record: what a photo may name. The files lie in the store.

use diesel::prelude::*;
use preen_domain::digest::Digest;
use preen_domain::facts::{Fact, Photo};
use preen_domain::time::Instant;
use preen_domain::words::PhotoType;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::store::photos;
use crate::db::club::hold;
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
        /// When it came last; [`DOOMED`] while it is thrown away.
        kept_at -> BigInt,
    }
}

diesel::allow_tables_to_appear_in_same_query!(pictures, photos);

/// What stands for the moment of a picture that is being thrown away.
const DOOMED: i64 = -1;

/// A picture as it is kept: what a photo repeats when it names it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
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

    /// What a photo says of its picture.
    pub fn of_photo(photo: &Photo) -> Self {
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
        .filter(pictures::kept_at.ge(0))
        .select((pictures::width_px, pictures::height_px, pictures::size_bytes, pictures::media_type))
        .first(conn)
        .optional()
}

/// The digests of all pictures on the list of a club.
pub fn list_digests(conn: &mut Db, club: &str) -> Result<Vec<Digest>, DoorError> {
    let digests: Vec<String> = pictures::table
        .filter(pictures::club_id.eq(club))
        .order(pictures::sha256.asc())
        .select(pictures::sha256)
        .load(conn)?;
    let read = |text: String| text.parse().map_err(|error| DoorError::Broken(format!("pictures: {error}")));
    digests.into_iter().map(read).collect()
}

/// Whether a picture is on the list, and stays there.
pub fn is_kept(conn: &mut Db, club: &str, sha256: &Digest) -> Result<bool, DoorError> {
    Ok(find(conn, club, sha256)?.is_some())
}

/// Puts a picture on the list, after its files are in the store; `false` if it was there. It then waits for its photo as
/// if it had come now. While it is being thrown away it cannot be kept: a little later it can.
pub fn keep(conn: &mut Db, club: &str, kept: &KeptPicture, now: Instant) -> Result<bool, DoorError> {
    let listed = pictures::table.find((club, kept.sha256.as_str()));
    let again = listed.filter(pictures::kept_at.ge(0));
    if diesel::update(again).set(pictures::kept_at.eq(now.micros())).execute(conn)? > 0 {
        return Ok(false);
    }
    let doomed: Option<i64> = listed.select(pictures::kept_at).first(conn).optional()?;
    if doomed.is_some() {
        return Err(DoorError::Busy("the same picture is being thrown away".to_owned()));
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

/// Whether there is something to be thrown away, or that is left from an earlier time.
pub fn has_stale(conn: &mut Db, club: &str, before: Instant) -> Result<bool, DoorError> {
    let photos_of = photos::table.filter(photos::club_id.eq(pictures::club_id));
    let named = diesel::dsl::exists(photos_of.filter(photos::sha256.eq(pictures::sha256)));
    let old =
        pictures::table.filter(pictures::club_id.eq(club)).filter(pictures::kept_at.lt(before.micros()));
    let first = old.filter(diesel::dsl::not(named)).select(pictures::sha256).first::<String>(conn);
    Ok(first.optional()?.is_some())
}

/// Says of pictures that came before a moment and that no photo of any revision names that they are thrown away, and
/// gives all of which that is said. The club is held meanwhile: no photo names one at the same time.
pub fn doom(conn: &mut Db, club: &str, before: Instant) -> Result<Vec<Digest>, DoorError> {
    hold(conn, club)?;
    let photos_of = photos::table.filter(photos::club_id.eq(pictures::club_id));
    let named = diesel::dsl::exists(photos_of.filter(photos::sha256.eq(pictures::sha256)));
    let old =
        pictures::table.filter(pictures::club_id.eq(club)).filter(pictures::kept_at.lt(before.micros()));
    diesel::update(old.filter(diesel::dsl::not(named))).set(pictures::kept_at.eq(DOOMED)).execute(conn)?;
    let said = pictures::table.filter(pictures::club_id.eq(club)).filter(pictures::kept_at.eq(DOOMED));
    let said: Vec<String> = said.select(pictures::sha256).load(conn)?;
    let broken = |error| DoorError::Broken(format!("the list of pictures: {error}"));
    said.into_iter().map(|digest| Digest::try_from(digest).map_err(broken)).collect()
}

/// Strikes pictures off the list whose files are gone.
pub fn strike(conn: &mut Db, club: &str, gone: &[Digest]) -> Result<(), DoorError> {
    for digest in gone {
        let line = pictures::table.find((club, digest.as_str())).filter(pictures::kept_at.eq(DOOMED));
        diesel::delete(line).execute(conn)?;
    }
    Ok(())
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
