//! Records of an earlier version, brought up to date: their tables, and what the newer tables repeat of the facts.

use super::club;
use super::conn::{Db, OpenError};
use super::door::{DoorError, Tables, bring_up};
use super::fitted;
use super::migrate;

/// Applies all pending migrations and returns their versions. Where one was applied, what is kept beside the facts is
/// made from them anew: a migration cannot read facts, so that a table that came later was empty.
pub fn upgrade(conn: &mut Db, tables: Tables) -> Result<Vec<String>, OpenError> {
    let applied = migrate::up(conn)?;
    if !applied.is_empty() {
        let other = |error: DoorError| OpenError::Other(error.to_string());
        for club in club::names(conn).map_err(other)? {
            fill(conn, tables, &club).map_err(other)?;
        }
    }
    Ok(applied)
}

/// Writes anew where the parts of a club sit, if that is not as the facts say.
fn fill(conn: &mut Db, tables: Tables, name: &str) -> Result<(), DoorError> {
    conn.begin_write()?;
    let made = club::hold(conn, name).and_then(|()| {
        let held = bring_up(conn, tables, name, None, None)?;
        fitted::make_anew(conn, name, &held.fleet)
    });
    match made {
        Ok(()) => Ok(conn.commit()?),
        Err(error) => {
            conn.roll_back()?;
            Err(error)
        }
    }
}
