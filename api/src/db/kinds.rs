//! Embedded SQLite lets any cell hold any kind of value, whatever its column says: a text kept as bytes reads the
//! same and is found by no query. PostgreSQL has no such cells.

use diesel::prelude::*;
use diesel::sql_types::Text;

use super::conn::Db;

/// A cell that holds another kind of value than its column says.
#[derive(Clone, Debug, QueryableByName)]
pub struct OddCell {
    /// The first column of the row's key, after the club.
    #[diesel(sql_type = Text)]
    pub first: String,
    /// The second.
    #[diesel(sql_type = Text)]
    pub second: String,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    kind: String,
}

impl OddCell {
    /// What is wrong, as part of a sentence.
    pub fn told(&self) -> String {
        format!("{} holds a value of another kind ({})", self.name, self.kind)
    }
}

#[derive(QueryableByName)]
struct Column {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    kind: String,
}

/// The odd cells of a club's rows in a table, whose key is the club and two columns more. Names of tables and columns
/// come from this program, never from outside.
pub fn odd_cells(conn: &mut Db, table: &str, key: [&str; 2], club: &str) -> QueryResult<Vec<OddCell>> {
    let Db::Sqlite(_) = conn else { return Ok(Vec::new()) };
    let columns = format!("SELECT name, lower(type) AS kind FROM pragma_table_info('{table}')");
    let columns: Vec<Column> = diesel::sql_query(columns).load(conn)?;
    let [first, second] = key;
    let odd: Vec<String> = columns
        .iter()
        .map(|column| {
            let kinds = match column.kind.as_str() {
                "text" => "'text'",
                "double precision" => "'real'",
                _ => "'integer'",
            };
            format!(
                "SELECT CAST(\"{first}\" AS TEXT) AS first, CAST(\"{second}\" AS TEXT) AS second, '{name}' AS name, \
                 typeof(\"{name}\") AS kind FROM \"{table}\" NOT INDEXED \
                 WHERE CAST(club_id || '' AS TEXT) = ?1 AND typeof(\"{name}\") NOT IN ({kinds}, 'null')",
                name = column.name
            )
        })
        .collect();
    diesel::sql_query(odd.join(" UNION ALL ")).bind::<Text, _>(club).load(conn)
}
