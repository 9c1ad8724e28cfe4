//! Every column of every noun's table, of the trail and of what is kept beside it, changed by a statement.

use diesel::connection::SimpleConnection as _;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Text};
use preen_api::audit::verify::{Break, verify};
use preen_api::db::conn::Db;
use preen_api::resources::nouns;
use preen_domain::facts::Noun;
use preen_tests::on_both;
use preen_tests::world::CLUB;

use super::fleet::{Named, named, something_of_everything, table};

#[derive(QueryableByName, Debug)]
struct Column {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    kind: String,
}

#[derive(QueryableByName, Debug, Clone)]
pub struct Row {
    #[diesel(sql_type = Text)]
    pub id: String,
    #[diesel(sql_type = BigInt)]
    pub revision: i64,
}

/// Whoever owns the database need not mind its foreign keys.
pub fn without_keys(conn: &mut Db) {
    let say = match conn {
        Db::Sqlite(_) => "PRAGMA foreign_keys = OFF",
        Db::Postgres(_) => "SET session_replication_role = 'replica'",
    };
    conn.batch_execute(say).unwrap();
}

fn columns(conn: &mut Db, table: &str) -> Vec<Column> {
    let query = match conn {
        Db::Sqlite(_) => format!("SELECT name, lower(type) AS kind FROM pragma_table_info('{table}')"),
        Db::Postgres(_) => format!(
            "SELECT column_name::text AS name, data_type::text AS kind FROM information_schema.columns \
             WHERE table_schema = 'public' AND table_name = '{table}' ORDER BY ordinal_position"
        ),
    };
    let columns = diesel::sql_query(query).load::<Column>(conn).unwrap();
    assert!(columns.len() > 3, "{table}: {columns:?}");
    columns
}

/// Something else of the same kind.
fn changed(column: &Column) -> String {
    let name = format!("\"{}\"", column.name);
    match column.kind.as_str() {
        "text" => format!("COALESCE({name}, '') || 'x'"),
        "bigint" | "integer" => format!("COALESCE({name}, 0) + 1000"),
        "double precision" => format!("COALESCE({name}, 0) + 0.5"),
        "boolean" => format!("NOT {name}"),
        other => panic!("a column of a kind that is not tampered with: {other}"),
    }
}

pub fn broken(conn: &mut Db) -> Option<Break> {
    verify(conn, nouns::TABLES, CLUB).unwrap().broken
}

/// Changes each column of the rows that a condition names, one after the other, and tells what each was named by.
fn tamper(conn: &mut Db, table: &str, which: &str) -> Vec<(String, Option<Break>)> {
    conn.batch_execute(&format!("CREATE TABLE kept_rows AS SELECT * FROM {table}")).unwrap();
    let mut found = Vec::new();
    for column in columns(conn, table) {
        let set = format!("UPDATE {table} SET \"{}\" = {} WHERE {which}", column.name, changed(&column));
        conn.batch_execute(&set).unwrap();
        found.push((format!("{table}.{}", column.name), broken(conn)));
        conn.batch_execute(&format!("DELETE FROM {table}; INSERT INTO {table} SELECT * FROM kept_rows"))
            .unwrap();
    }
    conn.batch_execute("DROP TABLE kept_rows").unwrap();
    assert_eq!(broken(conn), None, "{table} was put back");
    found
}

/// Everything that was not found, or was found under another name.
fn missed(found: Vec<(String, Option<Break>)>, wanted: &Named) -> Vec<String> {
    found
        .into_iter()
        .filter(|(_, found)| found.as_ref().map(named).as_ref() != Some(wanted))
        .map(|(column, found)| format!("{column} of {wanted:?}: {found:?}"))
        .collect()
}

/// The rows of a noun, newest first, or those that show corrected contents.
pub fn rows(conn: &mut Db, noun: Noun, is_correction: bool) -> Vec<Row> {
    let not = if is_correction { "" } else { "NOT " };
    let query =
        format!("SELECT id, revision FROM {} WHERE {not}is_correction ORDER BY revision DESC", table(noun));
    diesel::sql_query(query).load(conn).unwrap()
}

on_both!(every_column_of_every_noun_is_held_by_the_trail, |world| {
    something_of_everything(world);
    let mut conn = world.conn();
    without_keys(&mut conn);
    let mut faults = Vec::new();
    for noun in Noun::ALL {
        let rows = rows(&mut conn, *noun, false);
        let row =
            rows.first().unwrap_or_else(|| panic!("nothing was recorded of {noun}: add it to the fleet"));
        let which = format!("id = '{}' AND revision = {}", row.id, row.revision);
        let found = tamper(&mut conn, &table(*noun), &which);
        faults.extend(missed(found, &(noun.to_string(), row.id.clone(), row.revision)));
    }
    assert_eq!(faults, Vec::<String>::new());
});

on_both!(every_column_of_a_corrected_content_is_held, |world| {
    something_of_everything(world);
    let mut conn = world.conn();
    without_keys(&mut conn);
    let row = rows(&mut conn, Noun::Flights, true).remove(0);
    let corrections = rows(&mut conn, Noun::Corrections, false);
    let correction = corrections.iter().find(|correction| correction.revision == row.revision).unwrap();
    let which = format!("id = '{}' AND revision = {}", row.id, row.revision);
    let found = tamper(&mut conn, "flights", &which);
    // The row stands for the correction, whose entry is the one that no longer holds; but when it was replaced is
    // said by the row alone.
    let (marks, found): (Vec<_>, Vec<_>) =
        found.into_iter().partition(|(column, _)| column.ends_with("superseded"));
    let mut faults = missed(found, &("corrections".to_owned(), correction.id.clone(), row.revision));
    faults.extend(missed(marks, &("flights".to_owned(), row.id.clone(), row.revision)));
    assert_eq!(faults, Vec::<String>::new());
});

on_both!(every_column_of_the_trail_is_held_by_itself, |world| {
    something_of_everything(world);
    let mut conn = world.conn();
    without_keys(&mut conn);
    let mut faults = Vec::new();
    // In the midst of it, and at its end.
    for noun in [Noun::Weighings, Noun::Settlements] {
        let row = rows(&mut conn, noun, false).remove(0);
        let wanted = (noun.to_string(), row.id.clone(), row.revision);
        for table in ["trail", "trail_payloads"] {
            let found = tamper(&mut conn, table, &format!("revision = {}", row.revision));
            faults.extend(missed(found, &wanted));
        }
    }
    // One that stands for no fact.
    let tokens = "SELECT fact_id AS id, revision FROM trail WHERE noun = 'tokens' ORDER BY revision DESC";
    let token = diesel::sql_query(tokens).load::<Row>(&mut conn).unwrap().remove(0);
    for (column, found) in tamper(&mut conn, "trail", &format!("revision = {}", token.revision)) {
        let revision = found.as_ref().map(|found| found.revision).unwrap_or_default();
        // Without its club or its revision it is only missed by the one after it.
        let is_near = (token.revision..=token.revision + 1).contains(&revision);
        if !is_near {
            faults.push(format!("{column} of a token: {found:?}"));
        }
    }
    assert_eq!(faults, Vec::<String>::new());
    for change in ["+ 1", "- 1"] {
        conn.batch_execute(&format!("UPDATE clubs SET revision = revision {change}")).unwrap();
        let found = broken(&mut conn).unwrap();
        assert_eq!((found.noun.as_str(), found.fact_id.as_str()), ("clubs", CLUB), "{found:?}");
        let back = if change == "+ 1" { "- 1" } else { "+ 1" };
        conn.batch_execute(&format!("UPDATE clubs SET revision = revision {back}")).unwrap();
    }
});

on_both!(names_and_places_are_held_by_the_facts, |world| {
    something_of_everything(world);
    let mut conn = world.conn();
    without_keys(&mut conn);
    for table in ["names", "now_fitted"] {
        let key = if table == "names" { "id" } else { "component" };
        let first =
            format!("SELECT {key} AS id, CAST(0 AS BIGINT) AS revision FROM {table} ORDER BY {key} LIMIT 1");
        let row = diesel::sql_query(first).get_result::<Row>(&mut conn).unwrap();
        let found = tamper(&mut conn, table, &format!("{key} = '{}'", row.id));
        assert!(found.len() > 3);
        for (column, found) in found {
            let found = found.unwrap_or_else(|| panic!("{column}"));
            assert_eq!((found.noun.as_str(), found.fact_id.as_str()), (table, row.id.as_str()), "{column}");
        }
    }
});
