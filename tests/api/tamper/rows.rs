//! Whole rows: taken out, put in, exchanged, and entries put into another order.

use diesel::connection::SimpleConnection as _;
use diesel::prelude::*;
use preen_api::audit::verify::verify;
use preen_api::db::conn::Db;
use preen_api::resources::nouns;
use preen_domain::facts::Noun;
use preen_tests::on_both;
use preen_tests::world::{CLUB, new_id};
use serde_json::json;

use super::columns::{Row, broken, rows, without_keys};
use super::fleet::{Named, named, something_of_everything, table};

/// Runs statements on copies of tables, looks, and puts the tables back.
fn tampered(conn: &mut Db, tables: &[&str], with: &str) -> Option<Named> {
    for table in tables {
        conn.batch_execute(&format!("CREATE TABLE kept_{table} AS SELECT * FROM {table}")).unwrap();
    }
    conn.batch_execute(with).unwrap();
    let found = broken(conn);
    for table in tables {
        let back = format!(
            "DELETE FROM {table}; INSERT INTO {table} SELECT * FROM kept_{table}; DROP TABLE kept_{table}"
        );
        conn.batch_execute(&back).unwrap();
    }
    found.as_ref().map(named)
}

fn named_as(noun: Noun, row: &Row) -> Option<Named> {
    Some((noun.to_string(), row.id.clone(), row.revision))
}

on_both!(a_row_taken_out_of_any_table_is_missed, |world| {
    something_of_everything(world);
    let mut conn = world.conn();
    without_keys(&mut conn);
    for noun in Noun::ALL {
        let row = rows(&mut conn, *noun, false).remove(0);
        let of_table = table(*noun);
        let out = format!("DELETE FROM {of_table} WHERE id = '{}' AND revision = {}", row.id, row.revision);
        assert_eq!(tampered(&mut conn, &[&of_table], &out), named_as(*noun, &row), "{noun}");
        // With its entry, with the entry alone, with its payload alone.
        let place = format!(
            "revision = {} AND ordinal = (SELECT ordinal FROM kept_trail WHERE fact_id = '{}' AND revision = {})",
            row.revision, row.id, row.revision
        );
        let entry = format!("DELETE FROM trail WHERE {place}");
        let payload = format!("DELETE FROM trail_payloads WHERE {place}");
        assert_eq!(tampered(&mut conn, &["trail"], &entry), named_as(*noun, &row), "{noun}");
        assert_eq!(
            tampered(&mut conn, &["trail", "trail_payloads"], &payload),
            named_as(*noun, &row),
            "{noun}"
        );
        let all = format!("{out}; {payload}; {entry}");
        let found = tampered(&mut conn, &[&of_table, "trail", "trail_payloads"], &all);
        let revision = found.map(|(_, _, revision)| revision);
        assert!(revision.is_some_and(|found| found >= row.revision && found <= row.revision + 1), "{noun}");
    }
});

on_both!(rows_put_in_are_strangers, |world| {
    something_of_everything(world);
    let mut conn = world.conn();
    without_keys(&mut conn);
    for noun in Noun::ALL {
        let row = rows(&mut conn, *noun, false).remove(0);
        let (of_table, other) = (table(*noun), new_id());
        let put_in = format!(
            "CREATE TABLE put_in AS SELECT * FROM {of_table} WHERE id = '{}' AND revision = {}; \
             UPDATE put_in SET id = '{other}'; INSERT INTO {of_table} SELECT * FROM put_in; DROP TABLE put_in",
            row.id, row.revision
        );
        let found = tampered(&mut conn, &[&of_table], &put_in);
        assert_eq!(found, Some((noun.to_string(), other, row.revision)), "{noun}");
    }
});

on_both!(rows_that_changed_places_are_both_wrong, |world| {
    something_of_everything(world);
    let mut conn = world.conn();
    without_keys(&mut conn);
    // Each says what the other was recorded with.
    for noun in [Noun::Flights, Noun::Defects, Noun::Components] {
        let mut two = rows(&mut conn, noun, false);
        two.truncate(2);
        let (later, earlier) = (&two[0], &two[1]);
        let of_table = table(noun);
        let swap = format!(
            "UPDATE {of_table} SET id = 'between' WHERE id = '{a}'; UPDATE {of_table} SET id = '{a}' WHERE id = '{b}'; \
             UPDATE {of_table} SET id = '{b}' WHERE id = 'between'; \
             UPDATE {of_table} SET revision = -1 WHERE revision = {ra}; \
             UPDATE {of_table} SET revision = {ra} WHERE revision = {rb}; \
             UPDATE {of_table} SET revision = {rb} WHERE revision = -1",
            a = later.id,
            b = earlier.id,
            ra = later.revision,
            rb = earlier.revision,
        );
        assert_eq!(tampered(&mut conn, &[&of_table], &swap), named_as(noun, earlier), "{noun}");
    }
});

on_both!(entries_in_another_order_are_found, |world| {
    something_of_everything(world);
    let mut conn = world.conn();
    without_keys(&mut conn);
    let mut two = rows(&mut conn, Noun::Flights, false);
    two.truncate(2);
    let (later, earlier) = (two[0].revision, two[1].revision);
    assert_eq!(later, earlier + 1, "one right after the other");
    let swap = |table: &str| {
        format!(
            "UPDATE {table} SET revision = -1 WHERE revision = {later}; \
             UPDATE {table} SET revision = {later} WHERE revision = {earlier}; \
             UPDATE {table} SET revision = {earlier} WHERE revision = -1"
        )
    };
    let trail = tampered(&mut conn, &["trail"], &swap("trail")).unwrap();
    assert_eq!(trail.2, earlier, "{trail:?}");
    let all = [swap("trail"), swap("trail_payloads"), swap("flights")].join("; ");
    let found = tampered(&mut conn, &["trail", "trail_payloads", "flights"], &all).unwrap();
    assert_eq!((found.0.as_str(), found.2), ("flights", earlier), "{found:?}");
    // What belongs to the payload of one is put beside the other.
    let exchanged = tampered(&mut conn, &["trail_payloads"], &swap("trail_payloads"));
    assert_eq!(exchanged, named_as(Noun::Flights, &two[1]));
});

on_both!(only_an_erasure_lets_payloads_go, |world| {
    let member = json!({ "id": new_id(), "tag": "XY", "name": "Xaver Ypsilon", "roles": ["pilot"] });
    world.av.post("/members", &member).expect(201);
    let mut conn = world.conn();
    let before = verify(&mut conn, nouns::TABLES, CLUB).unwrap();
    assert_eq!((before.erased, &before.broken), (0, &None));
    without_keys(&mut conn);
    let row = rows(&mut conn, Noun::Members, false).remove(0);
    let gone = format!("DELETE FROM trail_payloads WHERE revision = {}", row.revision);
    assert_eq!(tampered(&mut conn, &["trail_payloads"], &gone), named_as(Noun::Members, &row));
    world.av.post("/members/XY/erasure", &json!({})).expect(200);
    let after = verify(&mut conn, nouns::TABLES, CLUB).unwrap();
    assert_eq!((after.erased, &after.broken), (1, &None));
    assert_eq!(after.entries, before.entries + 1);
    // What was wiped cannot be written in again.
    let again = format!("UPDATE members SET name = 'Xaver' WHERE revision = {}", row.revision);
    assert_eq!(tampered(&mut conn, &["members"], &again), named_as(Noun::Members, &row));
    let first = rows(&mut conn, Noun::Members, false).remove(0);
    let moment = diesel::sql_query(format!(
        "SELECT id, recorded_at AS revision FROM members WHERE revision = {}",
        first.revision
    ));
    assert!(moment.get_result::<Row>(&mut conn).unwrap().revision > 0);
});
