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
    // Without a limit: SQLite would prepare the statement anew whenever one is bound.
    clubs::table.find(club).get_result(conn).optional()?.ok_or_else(|| DoorError::NoClub(club.to_owned()))
}

/// Makes the row of a club that comes from elsewhere, before anything is on record. One that was made and never begun
/// gives way to it; `false` if there is a record already.
pub fn begin_again(conn: &mut Db, club: &Club) -> Result<bool, DoorError> {
    let row = Club { revision: 0, setup_hash: None, ..club.clone() };
    let known: Option<Club> = clubs::table.find(&row.id).first(conn).optional()?;
    match known {
        None => {
            diesel::insert_into(clubs::table).values(row).execute(conn)?;
        }
        Some(known) if known.revision == 0 => {
            diesel::update(clubs::table.find(&row.id))
                .set((
                    clubs::uuid.eq(row.uuid),
                    clubs::name.eq(row.name),
                    clubs::time_zone.eq(row.time_zone),
                    clubs::created_at.eq(row.created_at),
                    clubs::setup_hash.eq(None::<String>),
                ))
                .execute(conn)?;
        }
        Some(_) => return Ok(false),
    }
    Ok(true)
}

/// Says at which revision a club is that was loaded.
pub fn reach_revision(conn: &mut Db, club: &str, revision: i64) -> Result<(), DoorError> {
    diesel::update(clubs::table.find(club)).set(clubs::revision.eq(revision)).execute(conn)?;
    Ok(())
}
