//! How often one may try to sign in: counts of failures by member and by address, kept in the database so that
//! they survive a restart and hold for all processes that share it.
//!
//! An attempt is counted as failed before its password is looked at, and forgiven when it was right: many
//! attempts at the same moment cannot slip past the count. While a lock holds, nothing is counted or looked
//! at. A stranger can thus lock a member out of signing in; tokens and running sessions are not touched by
//! that, and a password set by the keeper lifts the lock.

use diesel::prelude::*;
use diesel::result::{DatabaseErrorKind, Error as DieselError};
use preen_domain::time::Instant;

use crate::audit::chain::sha256;
use crate::db::conn::Db;
use crate::db::door::{Door, DoorError};
use crate::problem::Problem;

diesel::table! {
    /// Failures of one subject.
    sign_in_attempts (club_id, subject) {
        club_id -> Text,
        subject -> Text,
        failures -> Integer,
        last_at -> BigInt,
        locked_until -> BigInt,
    }
}

#[derive(Clone, Queryable, Insertable)]
#[diesel(table_name = sign_in_attempts)]
struct AttemptRow {
    club_id: String,
    subject: String,
    failures: i32,
    last_at: i64,
    locked_until: i64,
}

/// How many failures are free, and how the lock grows after them.
#[derive(Clone, Copy, Debug)]
pub struct Limit {
    /// The failure with this number is the first that locks.
    pub free: i32,
    /// The longest lock.
    pub most_s: i64,
    /// Failures are forgotten this long after the last of them.
    pub forget_s: i64,
}

/// For one member of one club, whoever tries.
pub const OF_MEMBER: Limit = Limit { free: 5, most_s: 3600, forget_s: 86_400 };
/// For one address, whomever it tries for. Wider, since a club house shares one.
pub const OF_ADDRESS: Limit = Limit { free: 30, most_s: 900, forget_s: 3600 };
/// The first lock; each further failure doubles it.
const FIRST_LOCK_S: i64 = 30;
/// Tries against another process that counts at the same moment.
const TRIES: usize = 4;

impl Limit {
    /// Seconds of lock after so many failures.
    fn lock_s(&self, failures: i32) -> i64 {
        if failures < self.free {
            return 0;
        }
        let doublings = u32::try_from(failures.saturating_sub(self.free)).unwrap_or(0).min(20);
        FIRST_LOCK_S.saturating_mul(1 << doublings).min(self.most_s)
    }
}

/// Whose failures are counted.
#[derive(Clone, Debug)]
pub struct Subject {
    club: String,
    key: String,
    limit: Limit,
}

impl Subject {
    /// A member, by id or by whatever was typed where none of that name exists.
    pub fn member(club: &str, name: &str) -> Self {
        let key = sha256(&["preen sign-in member 1", club, &name.to_lowercase()]);
        Self { club: club.to_owned(), key, limit: OF_MEMBER }
    }

    /// The club it belongs to; empty for an address.
    pub fn club(&self) -> &str {
        &self.club
    }

    /// An address. Of IPv6 the network counts: a household has all addresses of one.
    pub fn address(address: std::net::IpAddr) -> Self {
        let network = match address.to_canonical() {
            std::net::IpAddr::V4(address) => address.to_string(),
            std::net::IpAddr::V6(address) => {
                let [a, b, c, d, ..] = address.segments();
                format!("{a:x}:{b:x}:{c:x}:{d:x}::/64")
            }
        };
        let key = sha256(&["preen sign-in address 1", &network]);
        Self { club: String::new(), key, limit: OF_ADDRESS }
    }
}

/// Counts an attempt before its password is looked at, or says that it must wait.
pub async fn reserve(door: &Door, subjects: &[Subject], now: Instant) -> Result<(), Problem> {
    for _ in 0..TRIES {
        let list = subjects.to_vec();
        let counted = door.write_beside(move |conn| count(conn, &list, now)).await;
        match counted {
            // Another process made the row at the same moment.
            Err(DoorError::Database(DieselError::DatabaseError(DatabaseErrorKind::UniqueViolation, _))) => {}
            Err(error) => return Err(error.into()),
            Ok(0) => return Ok(()),
            Ok(wait_s) => return Err(Problem::TooManyAttempts(wait_s)),
        }
    }
    Err(Problem::Busy)
}

/// Counts one failure for each subject and returns 0; if one of them is locked, counts none and returns the
/// seconds that it still is.
fn count(conn: &mut Db, subjects: &[Subject], now: Instant) -> Result<i64, DoorError> {
    let mut rows = Vec::with_capacity(subjects.len());
    let mut wait = 0;
    for subject in subjects {
        // Writing what stands there locks the row, for other processes too.
        let row: Option<AttemptRow> =
            diesel::update(sign_in_attempts::table.find((&subject.club, &subject.key)))
                .set(sign_in_attempts::failures.eq(sign_in_attempts::failures))
                .returning(sign_in_attempts::all_columns)
                .get_result(conn)
                .optional()?;
        if let Some(row) = &row {
            wait = wait.max(row.locked_until.saturating_sub(now.micros()));
        }
        rows.push((subject, row));
    }
    if wait > 0 {
        return Ok((wait.saturating_add(999_999)) / 1_000_000);
    }
    for (subject, row) in rows {
        let is_recent =
            |row: &AttemptRow| now.seconds_since(Instant::from_micros(row.last_at)) < subject.limit.forget_s;
        let before = row.as_ref().filter(|row| is_recent(row)).map_or(0, |row| row.failures);
        let failures = before.saturating_add(1);
        let lock_s = subject.limit.lock_s(failures);
        let new = AttemptRow {
            club_id: subject.club.clone(),
            subject: subject.key.clone(),
            failures,
            last_at: now.micros(),
            // No lock is no moment: one that came a little earlier and had to wait for this one must not find it.
            locked_until: if lock_s > 0 { now.plus_seconds(lock_s).micros() } else { 0 },
        };
        if row.is_none() {
            diesel::insert_into(sign_in_attempts::table).values(new).execute(conn)?;
        } else {
            store(conn, &new)?;
        }
    }
    Ok(0)
}

/// When anybody last failed to sign in.
pub fn newest(conn: &mut Db) -> Result<Option<Instant>, DoorError> {
    let newest: Option<i64> =
        sign_in_attempts::table.select(diesel::dsl::max(sign_in_attempts::last_at)).first(conn)?;
    Ok(newest.map(Instant::from_micros))
}

fn store(conn: &mut Db, row: &AttemptRow) -> Result<(), DoorError> {
    diesel::update(sign_in_attempts::table.find((&row.club_id, &row.subject)))
        .set((
            sign_in_attempts::failures.eq(row.failures),
            sign_in_attempts::last_at.eq(row.last_at),
            sign_in_attempts::locked_until.eq(row.locked_until),
        ))
        .execute(conn)?;
    Ok(())
}

/// Takes back the one failure that an attempt with the right password was counted as, and the lock it made.
pub fn forgive(conn: &mut Db, subject: &Subject) -> Result<(), DoorError> {
    diesel::update(sign_in_attempts::table.find((&subject.club, &subject.key)))
        .set((
            sign_in_attempts::failures.eq(sign_in_attempts::failures - 1),
            sign_in_attempts::locked_until.eq(0_i64),
        ))
        .execute(conn)?;
    Ok(())
}

/// Forgets all failures of a subject.
pub fn clear(conn: &mut Db, subject: &Subject) -> Result<(), DoorError> {
    diesel::delete(sign_in_attempts::table.find((&subject.club, &subject.key))).execute(conn)?;
    Ok(())
}

/// Sweeps out what has been forgotten.
pub fn sweep(conn: &mut Db, now: Instant) -> Result<(), DoorError> {
    let old = now.plus_seconds(-OF_MEMBER.forget_s).micros();
    diesel::delete(sign_in_attempts::table.filter(sign_in_attempts::last_at.lt(old))).execute(conn)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lock_doubles_and_ends_growing() {
        let locks: Vec<i64> = [0, 4, 5, 6, 7, 11, 12, 100, i32::MAX].map(|n| OF_MEMBER.lock_s(n)).into();
        assert_eq!(locks, [0, 0, 30, 60, 120, 1920, 3600, 3600, 3600]);
        assert_eq!(OF_ADDRESS.lock_s(29), 0);
        assert_eq!(OF_ADDRESS.lock_s(30), 30);
    }

    #[test]
    fn a_household_is_one_address() {
        let key = |text: &str| Subject::address(text.parse().unwrap()).key;
        assert_eq!(key("2001:db8:1:2::7"), key("2001:db8:1:2:ffff::1"));
        assert_ne!(key("2001:db8:1:2::7"), key("2001:db8:1:3::7"));
        assert_ne!(key("192.0.2.1"), key("192.0.2.2"));
        assert_eq!(key("192.0.2.1"), key("::ffff:192.0.2.1"));
    }
}
