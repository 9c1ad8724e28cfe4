//! Rows as they are written, and ids looked up many at once: the statements of the way that every fact goes.
//!
//! Their texts are put together here and not by the query builder, so that each is the same text every time and stays
//! prepared. SQLite gets a row a statement, which needs no journal of its own there; PostgreSQL gets many, since each
//! statement is a message to the server and back.

use std::collections::{BTreeMap, HashSet};

use diesel::pg::Pg;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::sql_types::{BigInt, Bool, Double, Integer, Nullable, Text};
use diesel::sqlite::Sqlite;
use diesel::{QueryResult, RunQueryDsl};
use uuid::Uuid;

use super::conn::Db;

/// What stands in one column of a row.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A text.
    Text(Option<String>),
    /// A whole number.
    Whole(Option<i64>),
    /// A whole number of a narrower column.
    Small(i32),
    /// A number with a fraction.
    Number(Option<f64>),
    /// Yes or no.
    Flag(bool),
}

macro_rules! value_of {
    ($($raw:ty => $kind:ident, $value:ident -> $made:expr;)+) => {
        $(impl From<$raw> for Value {
            fn from($value: $raw) -> Self {
                Self::$kind($made)
            }
        })+
    };
}

value_of! {
    String => Text, value -> Some(value);
    Option<String> => Text, value -> value;
    i64 => Whole, value -> Some(value);
    Option<i64> => Whole, value -> value;
    i32 => Small, value -> value;
    f64 => Number, value -> Some(value);
    Option<f64> => Number, value -> value;
    bool => Flag, value -> value;
}

/// A row to be written.
#[derive(Clone, Debug, PartialEq)]
pub struct NewRow {
    /// Its statement up to and with `VALUES`, which names the table and its columns.
    pub insert: &'static str,
    /// One for each of these columns, in their order.
    pub values: Vec<Value>,
}

/// Lengths of the pieces in which many are sent: few, so that few statements are kept prepared.
const PIECES: [usize; 3] = [64, 8, 1];

/// Cuts a list into such pieces.
fn pieces<T>(mut rest: &[T]) -> impl Iterator<Item = &[T]> {
    std::iter::from_fn(move || {
        let length = PIECES.into_iter().find(|length| *length <= rest.len())?;
        let (piece, after) = rest.split_at(length);
        rest = after;
        Some(piece)
    })
}

/// Writes rows; all of them are of one table.
pub fn insert(conn: &mut Db, rows: &[NewRow]) -> QueryResult<()> {
    match conn {
        Db::Sqlite(inner) => {
            for row in rows {
                Insert { rows: std::slice::from_ref(row) }.execute(inner)?;
            }
        }
        Db::Postgres(inner) => {
            for rows in pieces(rows) {
                Insert { rows }.execute(inner)?;
            }
        }
    }
    Ok(())
}

/// Those of some ids under which nothing was ever recorded, by the trail.
pub fn unknown(conn: &mut Db, club: &str, ids: &[Uuid]) -> QueryResult<HashSet<Uuid>> {
    let mut unknown: BTreeMap<String, Uuid> = ids.iter().map(|id| (id.to_string(), *id)).collect();
    let texts: Vec<String> = unknown.keys().cloned().collect();
    // SQLite makes a table of its own of a list: there they are asked for one by one.
    let lists: Vec<&[String]> = match conn {
        Db::Sqlite(_) => texts.chunks(1).collect(),
        Db::Postgres(_) => pieces(&texts).collect(),
    };
    for ids in lists {
        let asked = Recorded { club, ids };
        let known: Vec<String> = match conn {
            Db::Sqlite(inner) => asked.load(inner)?,
            Db::Postgres(inner) => asked.load(inner)?,
        };
        for id in known {
            unknown.remove(&id);
        }
    }
    Ok(unknown.into_values().collect())
}

/// One statement that writes rows of a table.
struct Insert<'a> {
    rows: &'a [NewRow],
}

/// Which of some ids stand in the trail.
struct Recorded<'a> {
    club: &'a str,
    ids: &'a [String],
}

impl QueryId for Insert<'_> {
    type QueryId = ();
    const HAS_STATIC_QUERY_ID: bool = false;
}

impl QueryId for Recorded<'_> {
    type QueryId = ();
    const HAS_STATIC_QUERY_ID: bool = false;
}

impl Query for Recorded<'_> {
    type SqlType = Text;
}

impl<Conn> RunQueryDsl<Conn> for Insert<'_> {}
impl<Conn> RunQueryDsl<Conn> for Recorded<'_> {}

macro_rules! said_to {
    ($($backend:ty),+) => {$(
        impl QueryFragment<$backend> for Insert<'_> {
            fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, $backend>) -> QueryResult<()> {
                let mut before = self.rows.first().map_or("", |row| row.insert);
                for row in self.rows {
                    out.push_sql(before);
                    before = ", ";
                    let mut sign = "(";
                    for value in &row.values {
                        out.push_sql(sign);
                        sign = ", ";
                        match value {
                            Value::Text(text) => out.push_bind_param::<Nullable<Text>, _>(text)?,
                            Value::Whole(number) => out.push_bind_param::<Nullable<BigInt>, _>(number)?,
                            Value::Small(number) => out.push_bind_param::<Integer, _>(number)?,
                            Value::Number(number) => out.push_bind_param::<Nullable<Double>, _>(number)?,
                            Value::Flag(flag) => out.push_bind_param::<Bool, _>(flag)?,
                        }
                    }
                    out.push_sql(")");
                }
                Ok(())
            }
        }

        impl QueryFragment<$backend> for Recorded<'_> {
            fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, $backend>) -> QueryResult<()> {
                out.push_sql("SELECT fact_id FROM trail WHERE club_id = ");
                out.push_bind_param::<Text, _>(self.club)?;
                let mut sign = " AND fact_id IN (";
                for id in self.ids {
                    out.push_sql(sign);
                    sign = ", ";
                    out.push_bind_param::<Text, _>(id)?;
                }
                out.push_sql(")");
                Ok(())
            }
        }
    )+};
}

said_to!(Sqlite, Pg);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_are_cut_into_pieces_of_few_lengths() {
        let many: Vec<usize> = (0..150).collect();
        let lengths: Vec<usize> = pieces(&many).map(<[usize]>::len).collect();
        assert_eq!(lengths, [64, 64, 8, 8, 1, 1, 1, 1, 1, 1]);
        assert_eq!(pieces(&many).flatten().copied().collect::<Vec<_>>(), many);
        assert!(pieces::<usize>(&[]).next().is_none());
    }
}
