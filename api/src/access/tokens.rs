//! Bearer tokens `preen_<club>_<secret>`: 256 random bits, of which only the hash is stored.

use std::collections::{BTreeSet, HashMap};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{PoisonError, RwLock};

use diesel::prelude::*;
use preen_domain::ids::{MemberId, TokenId};
use preen_domain::time::Instant;
use preen_domain::words::Scope;

use crate::audit::chain::{sha256, to_hex};
use crate::db::conn::Db;
use crate::db::door::DoorError;
use crate::problem::{Problem, TokenFault};

diesel::table! {
    /// Tokens, without their secrets.
    tokens (club_id, id) {
        club_id -> Text,
        id -> Text,
        member -> Text,
        label -> Text,
        scopes -> Text,
        secret_hash -> Text,
        created_at -> BigInt,
        created_by -> Text,
        expires_at -> Nullable<BigInt>,
        revoked_at -> Nullable<BigInt>,
    }
}

/// A token as it is kept.
#[derive(Clone, Debug, Queryable, Insertable)]
#[diesel(table_name = tokens)]
pub struct TokenRow {
    pub club_id: String,
    pub id: String,
    pub member: String,
    pub label: String,
    pub scopes: String,
    pub secret_hash: String,
    pub created_at: i64,
    pub created_by: String,
    pub expires_at: Option<i64>,
    pub revoked_at: Option<i64>,
}

/// A token that may be used, read from its row.
#[derive(Clone, Debug)]
pub struct Token {
    /// Its id.
    pub id: TokenId,
    /// Whose it is.
    pub member: MemberId,
    /// What it may be used for.
    pub scopes: BTreeSet<Scope>,
    expires_at: Option<Instant>,
    revoked_at: Option<Instant>,
}

impl Token {
    fn read(row: &TokenRow) -> Result<Self, DoorError> {
        let broken = |text: String| DoorError::Broken(format!("token {}: {text}", row.id));
        Ok(Self {
            id: row.id.parse().map_err(|error| broken(format!("{error}")))?,
            member: row.member.parse().map_err(|error| broken(format!("{error}")))?,
            scopes: parse_scopes(&row.scopes).map_err(broken)?,
            expires_at: row.expires_at.map(Instant::from_micros),
            revoked_at: row.revoked_at.map(Instant::from_micros),
        })
    }

    /// Whether it may be used now.
    pub fn check(&self, now: Instant) -> Result<(), TokenFault> {
        if self.revoked_at.is_some() {
            Err(TokenFault::Revoked)
        } else if self.expires_at.is_some_and(|end| end <= now) {
            Err(TokenFault::Expired)
        } else {
            Ok(())
        }
    }
}

/// Reads the scopes of a row.
pub fn parse_scopes(text: &str) -> Result<BTreeSet<Scope>, String> {
    text.split_whitespace().map(|word| word.parse().map_err(|error| format!("{error}"))).collect()
}

/// Scopes as they stand in a row.
pub fn join_scopes(scopes: &BTreeSet<Scope>) -> String {
    scopes.iter().map(|scope| scope.as_str()).collect::<Vec<_>>().join(" ")
}

/// The two parts of a token's text.
pub fn split(text: &str) -> Result<(&str, &str), TokenFault> {
    let rest = text.strip_prefix("preen_").ok_or(TokenFault::Malformed)?;
    split_pair(rest).ok_or(TokenFault::Malformed)
}

/// The club and the secret of `<club>_<secret>`.
pub fn split_pair(text: &str) -> Option<(&str, &str)> {
    let (club, secret) = text.rsplit_once('_')?;
    let is_secret = secret.len() == 64 && secret.bytes().all(|byte| byte.is_ascii_hexdigit());
    (is_secret && is_club_name(club)).then_some((club, secret))
}

/// Whether a text may be the short name of a club: 2 to 40 small letters, digits and `-`, a letter first.
pub fn is_club_name(text: &str) -> bool {
    (2..=40).contains(&text.len())
        && text.starts_with(|first: char| first.is_ascii_lowercase())
        && text.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-')
}

/// 256 fresh random bits, as hexadecimal text.
pub fn new_secret() -> Result<String, DoorError> {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes).map_err(|error| DoorError::Broken(format!("no random numbers: {error}")))?;
    Ok(to_hex(&bytes))
}

/// What is stored of a secret.
pub fn hash_of(secret: &str) -> String {
    sha256(&["preen token 1", secret])
}

/// Finds a token by its text, without judging it.
pub fn find(conn: &mut Db, club: &str, secret: &str) -> Result<Token, Problem> {
    let row: Option<TokenRow> = tokens::table
        .filter(tokens::club_id.eq(club))
        .filter(tokens::secret_hash.eq(hash_of(secret)))
        .first(conn)
        .optional()
        .map_err(DoorError::from)?;
    let row = row.ok_or(Problem::NotSignedIn(TokenFault::Unknown))?;
    Ok(Token::read(&row)?)
}

/// Tokens seen lately, so that the database need not be asked for each request of the embedded service.
/// Another process on the same server would not tell us of a revocation: there it stays empty.
pub struct TokenMemory {
    is_used: bool,
    seen: RwLock<HashMap<String, Token>>,
    turn: AtomicU64,
}

/// Tokens remembered at most; beyond that all are forgotten.
const MOST: usize = 10_000;

impl TokenMemory {
    /// An empty memory; `is_used` is false where other processes share the database.
    pub fn new(is_used: bool) -> Self {
        Self { is_used, seen: RwLock::default(), turn: AtomicU64::new(0) }
    }

    /// The token with this text.
    pub fn get(&self, text: &str) -> Option<Token> {
        self.seen.read().unwrap_or_else(PoisonError::into_inner).get(&hash_of(text)).cloned()
    }

    /// How many revocations there were; asked before a token is read from the database.
    pub fn turn(&self) -> u64 {
        self.turn.load(Ordering::SeqCst)
    }

    /// Remembers a token that was read since `turn`. If any was revoked meanwhile it may be out of date.
    pub fn put(&self, text: &str, token: &Token, turn: u64) {
        if !self.is_used {
            return;
        }
        let mut seen = self.seen.write().unwrap_or_else(PoisonError::into_inner);
        if self.turn() != turn {
            return;
        }
        if seen.len() >= MOST {
            seen.clear();
        }
        seen.insert(hash_of(text), token.clone());
    }

    /// Forgets a token that was revoked.
    pub fn forget(&self, id: TokenId) {
        let mut seen = self.seen.write().unwrap_or_else(PoisonError::into_inner);
        self.turn.fetch_add(1, Ordering::SeqCst);
        seen.retain(|_, token| token.id != id);
    }
}

#[cfg(test)]
mod tests {
    use preen_domain::ids::MemberId;

    use super::*;

    #[test]
    fn a_token_read_before_a_revocation_is_not_remembered_after_it() {
        let token = Token {
            id: TokenId(uuid::Uuid::from_u128(1)),
            member: MemberId(uuid::Uuid::from_u128(2)),
            scopes: BTreeSet::new(),
            expires_at: None,
            revoked_at: None,
        };
        let memory = TokenMemory::new(true);
        let turn = memory.turn();
        memory.forget(token.id);
        memory.put("text", &token, turn);
        assert!(memory.get("text").is_none());
        memory.put("text", &token, memory.turn());
        assert!(memory.get("text").is_some());
    }

    #[test]
    fn a_token_has_a_club_and_a_secret() {
        let secret = new_secret().unwrap();
        let text = format!("preen_quill-marsh_{secret}");
        assert_eq!(split(&text), Ok(("quill-marsh", secret.as_str())));
        for bad in ["", "preen_", "preen_quillmarsh", "preen_quillmarsh_12", &text[1..], "preen_Q_aa"] {
            assert_eq!(split(bad), Err(TokenFault::Malformed), "{bad}");
        }
    }
}
