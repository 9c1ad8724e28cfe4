//! The row of a club: its lock and its sequence number.

use diesel::prelude::*;

use super::conn::Db;
use super::fault::DoorError;

diesel::table! {
    /// One row per club: its lock and its sequence number.
    clubs (id) {
        id -> Text,
        uuid -> Text,
        name -> Text,
        time_zone -> Text,
        revision -> BigInt,
        created_at -> BigInt,
        setup_hash -> Nullable<Text>,
    }
}

/// A club of this database.
#[derive(Clone, Debug, Queryable, Insertable)]
#[diesel(table_name = clubs)]
pub struct Club {
    /// The short name in tokens and keys, such as `quillmarsh`.
    pub id: String,
    /// Its id among all clubs.
    pub uuid: String,
    /// The name for people.
    pub name: String,
    /// The IANA name of the zone its days are counted in.
    pub time_zone: String,
    /// The number of changes so far.
    pub revision: i64,
    /// When it was created, in microseconds UTC.
    pub created_at: i64,
    /// The hash of the set-up code, until the first member has used it.
    pub setup_hash: Option<String>,
}

impl Club {
    /// What the Fleet wants to know of the club.
    pub fn for_fleet(&self) -> Result<preen_domain::fleet::Club, DoorError> {
        let broken = |text: String| DoorError::Broken(format!("club {}: {text}", self.id));
        Ok(preen_domain::fleet::Club {
            id: self.uuid.parse().map_err(|error| broken(format!("{error}")))?,
            tag: self.id.parse().map_err(|error| broken(format!("{error}")))?,
            title: self.name.clone(),
            zone: self.time_zone.parse().map_err(|error| broken(format!("{error}")))?,
        })
    }
}

/// Raises the club's revision by one. The row stays locked until the transaction ends.
pub fn raise_revision(conn: &mut Db, club: &str) -> Result<Club, DoorError> {
    diesel::update(clubs::table.find(club))
        .set(clubs::revision.eq(clubs::revision + 1))
        .returning(clubs::all_columns)
        .get_result(conn)
        .optional()?
        .ok_or_else(|| DoorError::NoClub(club.to_owned()))
}

/// Holds a club without changing it: whoever writes its record waits until the transaction ends.
pub fn hold(conn: &mut Db, club: &str) -> Result<(), DoorError> {
    let changed =
        diesel::update(clubs::table.find(club)).set(clubs::revision.eq(clubs::revision)).execute(conn)?;
    if changed == 1 { Ok(()) } else { Err(DoorError::NoClub(club.to_owned())) }
}

/// Short names of all clubs.
pub fn names(conn: &mut Db) -> Result<Vec<String>, DoorError> {
    Ok(clubs::table.order(clubs::id.asc()).select(clubs::id).load(conn)?)
}

/// Reads the row of a club.
pub fn find_club(conn: &mut Db, club: &str) -> Result<Club, DoorError> {
    clubs::table.find(club).first(conn).optional()?.ok_or_else(|| DoorError::NoClub(club.to_owned()))
}
