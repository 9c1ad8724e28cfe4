//! Where each component sits just now, as rows whose keys make the database itself refuse a component in two
//! places and a position with two components. The rules refuse that before; this is the second lock.
//!
//! A projection: whatever stands here is in the Fleet, and [`expected`] says what must stand here.

use diesel::prelude::*;
use diesel::result::{DatabaseErrorKind, Error as DieselError};
use preen_domain::facts::{Fact, Inside, Noun};
use preen_domain::fleet::Fleet;
use preen_domain::ids::ComponentId;

use super::conn::Db;
use super::door::DoorError;

diesel::table! {
    /// One row per fitted component.
    now_fitted (club_id, component) {
        club_id -> Text,
        component -> Text,
        inside -> Text,
        position -> Text,
        installation -> Text,
    }
}

/// A component and where it sits.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Queryable, Insertable)]
#[diesel(table_name = now_fitted)]
pub struct Fitted {
    club_id: String,
    component: String,
    inside: String,
    position: String,
    installation: String,
}

impl Fitted {
    /// The component.
    pub fn component(&self) -> &str {
        &self.component
    }
}

/// Whether a fact can change the rows.
pub fn may_change_by(fact: &Fact) -> bool {
    match fact {
        Fact::Installation(_) | Fact::Removal(_) => true,
        Fact::Correction(correction) => matches!(correction.noun, Noun::Installations | Noun::Removals),
        _ => false,
    }
}

/// Brings the rows up to what a fact just recorded has changed; `fleet` has it already.
pub fn keep(conn: &mut Db, club: &str, fleet: &Fleet, fact: &Fact) -> Result<(), DoorError> {
    let wanted = match fact {
        Fact::Installation(installation) => row_of(club, fleet, installation.component).into_iter().collect(),
        Fact::Removal(removal) => row_of(club, fleet, removal.component).into_iter().collect(),
        Fact::Correction(correction) => match correction.noun {
            // Which components it moves depends on what it corrects: all are written anew.
            Noun::Installations | Noun::Removals => expected(club, fleet),
            _ => return Ok(()),
        },
        _ => return Ok(()),
    };
    let of_club = now_fitted::table.filter(now_fitted::club_id.eq(club));
    match fact {
        Fact::Installation(installation) => {
            diesel::delete(of_club.filter(now_fitted::component.eq(installation.component.to_string())))
                .execute(conn)?
        }
        Fact::Removal(removal) => {
            diesel::delete(of_club.filter(now_fitted::component.eq(removal.component.to_string())))
                .execute(conn)?
        }
        _ => diesel::delete(of_club).execute(conn)?,
    };
    insert(conn, wanted)
}

/// Writes all rows of a club anew, unless they are there as they must be.
pub fn make_anew(conn: &mut Db, club: &str, fleet: &Fleet) -> Result<(), DoorError> {
    let wanted = expected(club, fleet);
    if stored(conn, club)? == wanted {
        return Ok(());
    }
    diesel::delete(now_fitted::table.filter(now_fitted::club_id.eq(club))).execute(conn)?;
    insert(conn, wanted)
}

fn insert(conn: &mut Db, rows: Vec<Fitted>) -> Result<(), DoorError> {
    for row in rows {
        let shown = format!("{} in {} of {}", row.component, row.position, row.inside);
        diesel::insert_into(now_fitted::table).values(row).execute(conn).map_err(|error| match error {
            DieselError::DatabaseError(DatabaseErrorKind::UniqueViolation, _) => DoorError::PlaceTaken(shown),
            other => other.into(),
        })?;
    }
    Ok(())
}

/// The rows that the Fleet asks for, in order.
pub fn expected(club: &str, fleet: &Fleet) -> Vec<Fitted> {
    let mut rows: Vec<Fitted> = fleet.components().filter_map(|(id, _)| row_of(club, fleet, id)).collect();
    rows.sort();
    rows
}

/// The rows that are there, in order.
pub fn stored(conn: &mut Db, club: &str) -> Result<Vec<Fitted>, DoorError> {
    let mut rows: Vec<Fitted> = now_fitted::table.filter(now_fitted::club_id.eq(club)).load(conn)?;
    rows.sort();
    Ok(rows)
}

fn row_of(club: &str, fleet: &Fleet, component: ComponentId) -> Option<Fitted> {
    let span = fleet.component(component)?.spans.iter().rev().find(|span| span.to.is_none())?;
    Some(Fitted {
        club_id: club.to_owned(),
        component: component.to_string(),
        inside: match span.inside {
            Inside::Model(model) => format!("model:{model}"),
            Inside::Component(parent) => format!("component:{parent}"),
        },
        position: span.position.to_string(),
        installation: span.installation.to_string(),
    })
}
