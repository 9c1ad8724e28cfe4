//! Sessions of members who signed in with a password: a cookie with 256 random bits, of which only the hash is
//! stored.
//!
//! A session is looked up in the database for each request: what ends it (signing out, a new password) ends it
//! at once, for every process that shares the database. Its CSRF token is derived from the cookie's secret, so
//! there is nothing to store and nothing to guess.

use std::collections::BTreeSet;

use actix_web::HttpRequest;
use actix_web::http::header;
use diesel::prelude::*;
use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use preen_domain::words::Scope;

use super::tokens::{new_secret, split_pair};
use crate::audit::chain::sha256;
use crate::db::conn::Db;
use crate::db::door::DoorError;

diesel::table! {
    /// Sessions that were not ended.
    sessions (club_id, secret_hash) {
        club_id -> Text,
        secret_hash -> Text,
        member -> Text,
        began_at -> BigInt,
        seen_at -> BigInt,
        must_change_password -> Bool,
    }
}

#[derive(Queryable, Insertable)]
#[diesel(table_name = sessions)]
struct SessionRow {
    club_id: String,
    secret_hash: String,
    member: String,
    began_at: i64,
    seen_at: i64,
    must_change_password: bool,
}

/// Name of the cookie.
pub const COOKIE: &str = "preen_session";
/// Hours after which a session ends that is not used.
pub const IDLE_H: i64 = 12;
/// Days after which every session ends.
pub const LONGEST_DAYS: i64 = 30;
/// Seconds for which a use need not be noted again. A session may end this much early.
const NOTED_S: i64 = 300;

/// A session that may be used.
#[derive(Clone, Debug)]
pub struct Session {
    /// Its club.
    pub club: String,
    /// Whose it is.
    pub member: MemberId,
    /// When the member signed in.
    pub began_at: Instant,
    /// When it ends if it is not used again.
    pub ends_at: Instant,
    /// Signed in with a one-time password: nothing can be done before choosing one's own.
    pub must_change_password: bool,
    /// What changing requests must show beside the cookie.
    pub csrf_token: String,
    secret_hash: String,
    seen_at: Instant,
}

/// What a session may do: all that a member may, but not entering what others did. That needs a token.
pub fn scopes() -> BTreeSet<Scope> {
    BTreeSet::from([Scope::Read, Scope::Write])
}

fn hash_of(secret: &str) -> String {
    sha256(&["preen session 1", secret])
}

fn ends_at(began_at: Instant, seen_at: Instant) -> Instant {
    began_at.plus_days(LONGEST_DAYS).min(seen_at.plus_seconds(IDLE_H * 3600))
}

impl Session {
    fn of(club: &str, secret: &str, member: MemberId, row: &SessionRow) -> Self {
        let (began_at, seen_at) = (Instant::from_micros(row.began_at), Instant::from_micros(row.seen_at));
        Self {
            club: club.to_owned(),
            member,
            began_at,
            ends_at: ends_at(began_at, seen_at),
            must_change_password: row.must_change_password,
            csrf_token: sha256(&["preen csrf 1", secret]),
            secret_hash: row.secret_hash.clone(),
            seen_at,
        }
    }

    /// Whether this use must be noted.
    pub fn is_to_be_noted(&self, now: Instant) -> bool {
        now.seconds_since(self.seen_at) >= NOTED_S
    }
}

/// The cookie's text in a request.
pub fn cookie(request: &HttpRequest) -> Option<String> {
    let lines = request.headers().get_all(header::COOKIE).filter_map(|line| line.to_str().ok());
    lines
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == COOKIE)
        .map(|(_, value)| value.to_owned())
}

/// The header that hands the cookie out, or (with an empty text) takes it back.
pub fn set_cookie(text: &str, is_encrypted: bool) -> String {
    let age_s = if text.is_empty() { 0 } else { LONGEST_DAYS * 86_400 };
    let secure = if is_encrypted { "; Secure" } else { "" };
    format!("{COOKIE}={text}; Path=/; Max-Age={age_s}; HttpOnly; SameSite=Strict{secure}")
}

/// Begins a session and returns it with its cookie's text. Those of the club that have ended by themselves
/// are swept out.
pub fn begin(
    conn: &mut Db,
    club: &str,
    member: MemberId,
    must_change_password: bool,
    now: Instant,
) -> Result<(Session, String), DoorError> {
    let idle_since = now.plus_seconds(-IDLE_H * 3600).micros();
    diesel::delete(
        sessions::table.filter(sessions::club_id.eq(club)).filter(sessions::seen_at.le(idle_since)),
    )
    .execute(conn)?;
    let secret = new_secret()?;
    let row = SessionRow {
        club_id: club.to_owned(),
        secret_hash: hash_of(&secret),
        member: member.to_string(),
        began_at: now.micros(),
        seen_at: now.micros(),
        must_change_password,
    };
    let session = Session::of(club, &secret, member, &row);
    diesel::insert_into(sessions::table).values(row).execute(conn)?;
    Ok((session, format!("{club}_{secret}")))
}

/// Finds the session of a cookie, if it has not ended.
pub fn find(conn: &mut Db, cookie: &str, now: Instant) -> Result<Option<Session>, DoorError> {
    let Some((club, secret)) = split_pair(cookie) else { return Ok(None) };
    let row: Option<SessionRow> = sessions::table.find((club, hash_of(secret))).first(conn).optional()?;
    let Some(row) = row else { return Ok(None) };
    let member = row.member.parse().map_err(|error| DoorError::Broken(format!("a session: {error}")))?;
    let session = Session::of(club, secret, member, &row);
    Ok((now < session.ends_at).then_some(session))
}

/// The newest use of any session.
pub fn newest(conn: &mut Db) -> Result<Option<Instant>, DoorError> {
    let newest: Option<i64> = sessions::table.select(diesel::dsl::max(sessions::seen_at)).first(conn)?;
    Ok(newest.map(Instant::from_micros))
}

/// Notes that a session was used.
pub fn note_use(conn: &mut Db, session: &Session, now: Instant) -> Result<(), DoorError> {
    diesel::update(sessions::table.find((&session.club, &session.secret_hash)))
        .set(sessions::seen_at.eq(now.micros()))
        .execute(conn)?;
    Ok(())
}

/// Ends one session.
pub fn end(conn: &mut Db, session: &Session) -> Result<(), DoorError> {
    diesel::delete(sessions::table.find((&session.club, &session.secret_hash))).execute(conn)?;
    Ok(())
}

/// Ends all sessions of a member and says how many there were.
pub fn end_all(conn: &mut Db, club: &str, member: MemberId) -> Result<usize, DoorError> {
    let of_member =
        sessions::table.filter(sessions::club_id.eq(club)).filter(sessions::member.eq(member.to_string()));
    Ok(diesel::delete(of_member).execute(conn)?)
}
