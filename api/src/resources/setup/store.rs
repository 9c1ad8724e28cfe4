//! Making a club, and the end of its set-up code.

use diesel::prelude::*;
use preen_domain::time::Instant;

use crate::access::tokens::{hash_of, new_secret};
use crate::db::conn::Db;
use crate::db::door::{Club, DoorError, clubs};

pub use crate::db::club::names as list_clubs;

/// Makes a club and returns its one-time set-up code; `None` if there is a club of this name already.
pub fn create_club(
    conn: &mut Db,
    id: &str,
    name: &str,
    zone: chrono_tz::Tz,
    now: Instant,
) -> Result<Option<String>, DoorError> {
    let known: i64 = clubs::table.filter(clubs::id.eq(id)).count().get_result(conn)?;
    if known > 0 {
        return Ok(None);
    }
    let code = new_secret()?;
    let club = Club {
        id: id.to_owned(),
        uuid: uuid::Uuid::now_v7().to_string(),
        name: name.to_owned(),
        time_zone: zone.name().to_owned(),
        revision: 0,
        created_at: now.micros(),
        setup_hash: Some(hash_of(&code)),
    };
    diesel::insert_into(clubs::table).values(club).execute(conn)?;
    Ok(Some(code))
}

/// Takes the set-up code out of use.
pub fn end_setup(conn: &mut Db, club: &str) -> Result<(), DoorError> {
    diesel::update(clubs::table.find(club)).set(clubs::setup_hash.eq(None::<String>)).execute(conn)?;
    Ok(())
}
