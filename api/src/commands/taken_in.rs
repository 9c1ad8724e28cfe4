//! `preen-server import`: the archive of a club into a database that does not have it yet.

use std::path::Path;
use std::process::ExitCode;

use actix_web::rt::Runtime;
use preen_domain::time::Instant;

use super::{Outcome, say};
use crate::access::passwords::Hasher;
use crate::access::tokens::new_secret;
use crate::audit::rebuild::Until;
use crate::config::{ImportArgs, PointArgs, bucket_settings};
use crate::db::conn::{Place, open};
use crate::db::upgrade::upgrade;
use crate::exchange::archive::limits::Limits;
use crate::photos::place::PhotoPlace;
use crate::photos::store::Store;
use crate::resources::archive::unpack::{TakenIn, WayIn, unpack};
use crate::resources::nouns::TABLES;
use crate::state::Clock;

/// How far a command is to go.
pub fn until(point: PointArgs) -> Until {
    match (point.up_to, point.at) {
        (Some(revision), _) => Until::Revision(revision),
        (None, Some(at)) => Until::Moment(at),
        (None, None) => Until::Newest,
    }
}

/// Where pictures are kept, as the settings say it.
pub fn photo_place(setting: Option<&str>, records: &Place) -> Result<PhotoPlace, Box<dyn std::error::Error>> {
    Ok(match setting {
        Some(place) => PhotoPlace::from_setting(place, bucket_settings())?,
        None => PhotoPlace::beside(records)?,
    })
}

/// Takes in an archive and says how the keeper gets in.
pub fn import(args: &ImportArgs) -> Outcome {
    let place = Place::from_url(&args.database.database);
    let photos = photo_place(args.photos.as_deref(), &place)?;
    let (taken, way_in) = take_in(&args.archive, &place, &photos, until(args.point), Clock::System.now())?;
    tell(&taken, &way_in)?;
    say(&format!("Start `preen-server serve --database {place}`."))?;
    Ok(ExitCode::SUCCESS)
}

/// Takes in one archive.
pub fn take_in(
    archive: &Path,
    place: &Place,
    photos: &PhotoPlace,
    until: Until,
    now: Instant,
) -> Result<(TakenIn, WayIn), Box<dyn std::error::Error>> {
    let runtime = Runtime::new()?;
    let password = new_secret()?;
    let password: String = password.chars().take(20).collect();
    let hash =
        runtime.block_on(Hasher::default().hash(password.clone())).map_err(|error| error.to_string())?;
    let way_in = WayIn { password, hash };
    let store = Store::open(photos)?;
    let mut keep =
        |club: &str, digest: &_, which, bytes| runtime.block_on(store.put(club, digest, which, bytes));
    let mut conn = open(place)?;
    upgrade(&mut conn, TABLES)?;
    let taken = unpack(&mut conn, archive, Limits::default(), until, now, Some(&way_in), &mut keep)?;
    Ok((taken, way_in))
}

/// Says what was taken in, and how the keeper gets in.
pub fn tell(taken: &TakenIn, way_in: &WayIn) -> Result<(), Box<dyn std::error::Error>> {
    let TakenIn { club, rebuilt, .. } = taken;
    say(&format!(
        "Took in {club}: revision {}, {} entries of the trail hold, head {}",
        rebuilt.revision, rebuilt.entries, rebuilt.head
    ))?;
    if rebuilt.erasures_repeated > 0 {
        say(&format!(
            "{} members were erased later than that: what was erased stays erased, which the trail says again.",
            rebuilt.erasures_repeated
        ))?;
    }
    if taken.pictures + taken.pictures_lost > 0 {
        say(&format!("{} pictures kept, {} were lost before.", taken.pictures, taken.pictures_lost))?;
    }
    match &taken.keeper {
        Some((tag, until)) => say(&format!(
            "Passwords and tokens do not travel. Keeper {tag} gets in once, until {until}, with the password {} and \
             chooses one of their own.",
            way_in.password
        )),
        None => say("Nobody on record is keeper, so nobody can be let in."),
    }
}
