//! Rows of tokens: making, listing, taking back. Finding one by its secret is `access`'s work.

use diesel::prelude::*;

use crate::access::tokens::{TokenRow, tokens};
use crate::db::conn::Db;

/// Writes a new token.
pub fn insert(conn: &mut Db, row: TokenRow) -> QueryResult<()> {
    diesel::insert_into(tokens::table).values(row).execute(conn).map(drop)
}

/// Finds a token by its id.
pub fn find(conn: &mut Db, club: &str, id: &str) -> QueryResult<Option<TokenRow>> {
    tokens::table.filter(tokens::club_id.eq(club)).filter(tokens::id.eq(id)).first(conn).optional()
}

/// The tokens of a member, oldest first.
pub fn list(conn: &mut Db, club: &str, member: &str) -> QueryResult<Vec<TokenRow>> {
    tokens::table
        .filter(tokens::club_id.eq(club))
        .filter(tokens::member.eq(member))
        .order((tokens::created_at.asc(), tokens::id.asc()))
        .load(conn)
}

/// Marks a token as taken back.
pub fn revoke(conn: &mut Db, club: &str, id: &str, at: i64) -> QueryResult<()> {
    diesel::update(tokens::table.filter(tokens::club_id.eq(club)).filter(tokens::id.eq(id)))
        .set(tokens::revoked_at.eq(Some(at)))
        .execute(conn)
        .map(drop)
}
