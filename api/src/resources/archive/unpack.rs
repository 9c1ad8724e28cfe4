//! From an archive into the database: the club with its trail word for word, its pictures, and a way in for its keeper.

use std::collections::BTreeMap;
use std::path::Path;

use preen_domain::digest::Digest;
use preen_domain::facts::{Fact, Photo};
use preen_domain::fleet::Fleet;
use preen_domain::ids::MemberId;
use preen_domain::text::Tag;
use preen_domain::time::Instant;
use preen_domain::words::Role;

use crate::access::passwords::{self, ONE_TIME_DAYS, PasswordRow};
use crate::audit::rebuild::{RebuildError, Rebuilt, Until, rebuild};
use crate::db::conn::Db;
use crate::db::door::{Club, DoorError};
use crate::exchange::archive::limits::{BadArchive, Limits};
use crate::exchange::archive::read::Archive;
use crate::photos::picture::{is_of, thumbnail_of};
use crate::photos::store::{StoreFault, Which};
use crate::resources::nouns::TABLES;
use crate::resources::photos::pictures::{self, KeptPicture};
use crate::resources::rows::Rows as _;

/// Why nothing was taken in.
#[derive(Debug, thiserror::Error)]
pub enum UnpackError {
    /// The archive is not one, or not whole.
    #[error(transparent)]
    Archive(#[from] BadArchive),
    /// The record does not hold, or there is no room for it.
    #[error(transparent)]
    Record(#[from] RebuildError),
}

/// Where pictures go.
pub type Keep<'a> = dyn FnMut(&str, &Digest, Which, Vec<u8>) -> Result<(), StoreFault> + 'a;

/// How the keeper gets in: a password that was made before, and its hash.
#[derive(Clone, Debug)]
pub struct WayIn {
    /// The password, to be told once.
    pub password: String,
    /// Its hash.
    pub hash: String,
}

/// What was taken in.
#[derive(Clone, Debug)]
pub struct TakenIn {
    /// The club's short name.
    pub club: String,
    /// What was loaded.
    pub rebuilt: Rebuilt,
    /// Whether the head of the trail is the one that the archive names.
    pub is_whole: bool,
    /// Pictures that were kept.
    pub pictures: usize,
    /// Pictures that photos name and that the archive does not hold.
    pub pictures_lost: usize,
    /// The keeper who may come in with the password, and until when.
    pub keeper: Option<(Tag, Instant)>,
}

/// Takes in an archive, all of it or nothing.
///
/// # Errors
/// Nothing of it is in the database. Pictures may be kept that nothing names; they do no harm.
pub fn unpack(
    conn: &mut Db,
    path: &Path,
    limits: Limits,
    until: Until,
    now: Instant,
    way_in: Option<&WayIn>,
    keep: &mut Keep<'_>,
) -> Result<TakenIn, UnpackError> {
    let archive = Archive::open(path, limits)?;
    let said = &archive.head;
    let club = Club {
        id: said.club.short_name.clone(),
        uuid: said.club.id.clone(),
        name: said.club.name.clone(),
        time_zone: said.club.time_zone.clone(),
        revision: 0,
        created_at: said.club.created_at.micros(),
        setup_hash: None,
    };
    if !crate::access::tokens::is_club_name(&club.id) {
        return Err(BadArchive::Other(format!("`{}` is no short name of a club", club.id)).into());
    }
    let (rebuilt, (pictures, pictures_lost, keeper)) = archive.each_step(|steps| {
        let mut steps = steps.map(|step| step.map_err(|bad| RebuildError::Unreadable(bad.to_string())));
        rebuild(conn, TABLES, &club, &mut steps, until, |conn, fleet| {
            let (kept, lost) = take_pictures(conn, &archive, &club.id, now, keep)?;
            let keeper =
                way_in.map(|way_in| let_in(conn, &club.id, fleet, now, way_in)).transpose()?.flatten();
            if until == Until::Newest {
                check_head(&archive, conn, &club.id)?;
            }
            Ok((kept, lost, keeper))
        })
    })??;
    let is_whole = rebuilt.head == said.head;
    Ok(TakenIn { club: club.id, rebuilt, is_whole, pictures, pictures_lost, keeper })
}

/// The whole of an archive ends at the entry that it names.
fn check_head(archive: &Archive, conn: &mut Db, club: &str) -> Result<(), RebuildError> {
    let found = crate::audit::head(conn, club, i64::MAX)?.hash;
    if found == archive.head.head {
        return Ok(());
    }
    let text = format!("the trail ends at {found}, and the archive says {}", archive.head.head);
    Err(RebuildError::Unreadable(text))
}

fn take_pictures(
    conn: &mut Db,
    archive: &Archive,
    club: &str,
    now: Instant,
    keep: &mut Keep<'_>,
) -> Result<(usize, usize), RebuildError> {
    let unreadable = |text: String| RebuildError::Unreadable(text);
    let (mut kept, mut lost) = (0, 0);
    let wanted: BTreeMap<Digest, KeptPicture> = photos_of(conn, club)?
        .iter()
        .map(|photo| (photo.sha256.clone(), KeptPicture::of_photo(photo)))
        .collect();
    for (digest, picture) in wanted {
        pictures::keep(conn, club, &picture, now)?;
        match archive.picture(&digest).map_err(|bad| unreadable(bad.to_string()))? {
            Some(bytes) if is_of(&bytes, &digest) => {
                let small = thumbnail_of(&bytes).map_err(|bad| unreadable(bad.to_string()))?;
                let put = |fault: StoreFault| match fault {
                    StoreFault::Full(text) => RebuildError::Door(DoorError::Full(text)),
                    other => unreadable(other.to_string()),
                };
                keep(club, &digest, Which::Thumbnail, small).map_err(put)?;
                keep(club, &digest, Which::Whole, bytes).map_err(put)?;
                kept += 1;
            }
            Some(_) => return Err(unreadable(format!("the picture {digest} is another file"))),
            None if archive.head.photos_lost.contains(&digest) => lost += 1,
            None => return Err(unreadable(format!("the picture {digest} is missing"))),
        }
    }
    Ok((kept, lost))
}

/// Every photo ever recorded, corrected ones among them.
fn photos_of(conn: &mut Db, club: &str) -> Result<Vec<Photo>, DoorError> {
    let stored = Photo::scan(conn, club)?;
    let photos = stored.into_iter().filter_map(|row| match row.fact {
        Ok(Fact::Photo(photo)) => Some(photo),
        Ok(_) | Err(_) => None,
    });
    Ok(photos.collect())
}

/// Lets a keeper of the club in once, to choose a password of their own.
fn let_in(
    conn: &mut Db,
    club: &str,
    fleet: &Fleet,
    now: Instant,
    way_in: &WayIn,
) -> Result<Option<(Tag, Instant)>, RebuildError> {
    let keepers = fleet.members().filter(|(_, member)| member.fact.roles.contains(&Role::Keeper));
    let keeper: Option<(MemberId, Tag)> =
        keepers.map(|(id, member)| (id, member.fact.tag.clone())).min_by(|a, b| a.1.cmp(&b.1));
    let Some((id, tag)) = keeper else { return Ok(None) };
    let row = PasswordRow {
        club_id: club.to_owned(),
        member: id.to_string(),
        hash: way_in.hash.clone(),
        is_one_time: true,
        changed_at: now.micros(),
        changed_by: id.to_string(),
    };
    passwords::set(conn, &row)?;
    Ok(Some((tag, now.plus_days(ONE_TIME_DAYS))))
}
