//! Passwords: what they must be, how they are hashed, and their table, which stands beside the record.
//!
//! Hashed by argon2id with 19 MiB, two passes, one lane: the least that the OWASP Password Storage Cheat Sheet
//! recommends (from memory), because Preen may run on a small board beside other things; two at once take
//! 38 MiB. Rules for passwords follow NIST SP 800-63B (from memory): a least length, no rules of composition,
//! no forced change, well-known ones refused. The least length is 10 rather than the 8 of that publication.

use argon2::{Algorithm, Argon2, Params, PasswordHash, PasswordHasher, PasswordVerifier, Version};
use diesel::prelude::*;
use preen_domain::time::Instant;
use tokio::sync::Semaphore;

use crate::db::conn::Db;
use crate::db::door::DoorError;
use crate::problem::Problem;

diesel::table! {
    /// One row per member who has a password.
    passwords (club_id, member) {
        club_id -> Text,
        member -> Text,
        hash -> Text,
        is_one_time -> Bool,
        changed_at -> BigInt,
        changed_by -> Text,
    }
}

/// A password as it is kept.
#[derive(Clone, Queryable, Insertable, AsChangeset)]
#[diesel(table_name = passwords)]
pub struct PasswordRow {
    pub club_id: String,
    pub member: String,
    pub hash: String,
    pub is_one_time: bool,
    pub changed_at: i64,
    pub changed_by: String,
}

/// Characters of a password at least.
pub const LEAST_CHARS: usize = 10;
/// Bytes of a password at most.
pub const MOST_BYTES: usize = 256;
/// Days for which a one-time password set by the keeper can be used.
pub const ONE_TIME_DAYS: i64 = 7;

const MEMORY_KIB: u32 = 19_456;
const PASSES: u32 = 2;
const LANES: u32 = 1;
/// Hashes computed at once.
const AT_ONCE: usize = 2;
/// Hashes waiting at most; one more is turned away as busy.
const WAITING: usize = 32;

/// Long enough and yet tried first by everybody who guesses. From memory of published lists.
const WELL_KNOWN: &[&str] = &[
    "1234567890",
    "0123456789",
    "0987654321",
    "123456789a",
    "1q2w3e4r5t",
    "1qaz2wsx3edc",
    "abcdefghij",
    "administrator",
    "changeme123",
    "iloveyou123",
    "letmein123",
    "passw0rd123",
    "password12",
    "password123",
    "password1234",
    "qwertyuiop",
    "qwerty12345",
    "qwerty123456",
    "welcome123",
    "welcome1234",
];

/// What is wrong with a password, if anything.
pub fn check(password: &str, club: &str) -> Result<(), String> {
    let count = password.chars().count();
    if password.len() > MOST_BYTES {
        return Err(format!("A password has at most {MOST_BYTES} bytes; this one has {}.", password.len()));
    }
    if count < LEAST_CHARS {
        return Err(format!(
            "A password has at least {LEAST_CHARS} characters; this one has {count}. A few words in a row do well."
        ));
    }
    let small = password.to_lowercase();
    let first = password.chars().next();
    let is_one_character = password.chars().all(|char| first == Some(char));
    let is_club = small.trim_end_matches(|char: char| !char.is_alphabetic()) == club;
    if is_one_character || is_club || WELL_KNOWN.contains(&small.as_str()) {
        return Err("This password is among the first that a stranger would try. Choose another.".to_owned());
    }
    Ok(())
}

/// Computes hashes off the request threads, few at once.
pub struct Hasher {
    slots: Semaphore,
    places: Semaphore,
}

impl Default for Hasher {
    fn default() -> Self {
        Self { slots: Semaphore::new(AT_ONCE), places: Semaphore::new(AT_ONCE + WAITING) }
    }
}

impl Hasher {
    /// The hash of a new password, as text in the PHC form.
    pub async fn hash(&self, password: String) -> Result<String, Problem> {
        self.work(move || {
            let mut salt = [0_u8; 16];
            getrandom::fill(&mut salt).map_err(|error| Problem::Internal(error.to_string()))?;
            let salt = argon2::password_hash::SaltString::encode_b64(&salt).map_err(internal)?;
            let hash = argon()?.hash_password(password.as_bytes(), &salt).map_err(internal)?;
            Ok(hash.to_string())
        })
        .await
    }

    /// Whether a password has a hash. Without one to compare with, the same work is done for nothing, so that
    /// the time of the answer does not tell whether there is one.
    pub async fn verify(&self, password: String, hash: Option<String>) -> Result<bool, Problem> {
        self.work(move || {
            let text = hash.unwrap_or_else(of_nobody);
            let hash = PasswordHash::new(&text).map_err(internal)?;
            Ok(argon()?.verify_password(password.as_bytes(), &hash).is_ok())
        })
        .await
    }

    async fn work<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
    ) -> Result<T, Problem> {
        let _place = self.places.try_acquire().map_err(|_full| Problem::Busy)?;
        let _slot = self.slots.acquire().await.map_err(|_closed| Problem::Busy)?;
        tokio::task::spawn_blocking(work).await.map_err(|error| Problem::Internal(error.to_string()))?
    }
}

/// A hash of today's parameters that no password has: its last part was not computed from any.
fn of_nobody() -> String {
    format!("$argon2id$v=19$m={MEMORY_KIB},t={PASSES},p={LANES}$AAAAAAAAAAAAAAAAAAAAAA${}", "A".repeat(43))
}

fn argon() -> Result<Argon2<'static>, Problem> {
    let params = Params::new(MEMORY_KIB, PASSES, LANES, None)
        .map_err(|error| Problem::Internal(format!("argon2: {error}")))?;
    Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
}

fn internal(error: argon2::password_hash::Error) -> Problem {
    Problem::Internal(format!("argon2: {error}"))
}

/// The password of a member that can be used now: one-time ones end by themselves.
pub fn find(conn: &mut Db, club: &str, member: &str, now: Instant) -> Result<Option<PasswordRow>, DoorError> {
    let row: Option<PasswordRow> = passwords::table.find((club, member)).first(conn).optional()?;
    Ok(row.filter(|row| {
        !row.is_one_time || now < Instant::from_micros(row.changed_at).plus_days(ONE_TIME_DAYS)
    }))
}

/// Sets a password.
pub fn set(conn: &mut Db, row: &PasswordRow) -> Result<(), DoorError> {
    let changed =
        diesel::update(passwords::table.find((&row.club_id, &row.member))).set(row).execute(conn)?;
    if changed == 0 {
        diesel::insert_into(passwords::table).values(row.clone()).execute(conn)?;
    }
    Ok(())
}

/// Makes sure that a password is still the one that was verified, and holds its row until the transaction
/// ends. A one-time password is used up by this.
pub fn take(conn: &mut Db, row: &PasswordRow) -> Result<bool, DoorError> {
    let same = passwords::table
        .filter(passwords::club_id.eq(&row.club_id))
        .filter(passwords::member.eq(&row.member))
        .filter(passwords::hash.eq(&row.hash));
    let count = if row.is_one_time {
        diesel::delete(same).execute(conn)?
    } else {
        diesel::update(same).set(passwords::hash.eq(&row.hash)).execute(conn)?
    };
    Ok(count == 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn length_is_the_rule_and_composition_is_not() {
        for good in ["three old oars", "zzzzzzzzzy", "ööööööööä ", &"long ".repeat(51)] {
            assert_eq!(check(good, "quillmarsh"), Ok(()), "{good}");
        }
        for bad in
            ["", "nine char", "zzzzzzzzzz", "Password123", "Quillmarsh", "quillmarsh12", &"x".repeat(257)]
        {
            assert!(check(bad, "quillmarsh").is_err(), "{bad}");
        }
    }

    #[test]
    fn nobodys_hash_asks_for_the_same_work_as_a_real_one() {
        let text = of_nobody();
        let nobody = PasswordHash::new(&text).unwrap();
        let params = Params::try_from(&nobody).unwrap();
        assert_eq!((params.m_cost(), params.t_cost(), params.p_cost()), (MEMORY_KIB, PASSES, LANES));
        assert_eq!(nobody.algorithm.as_str(), "argon2id");
        assert_eq!(nobody.hash.map(|hash| hash.len()), Some(32));
        assert!(argon().unwrap().verify_password(b"", &nobody).is_err());
    }
}
