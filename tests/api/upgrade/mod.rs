//! Records of the first released tables are brought up to date, and say afterwards what they said then.
//!
//! `first_rows.sql` holds the rows of one club as they were stored then; the two migrations that were released first, and
//! that are never changed any more, make the tables for them.

use diesel::connection::SimpleConnection as _;
use preen_api::audit::chain::sha256;
use preen_api::audit::verify::verify;
use preen_api::db::conn::{Db, Place, open};
use preen_api::db::migrate;
use preen_api::resources::nouns;
use preen_tests::world::{CLUB, flight, items};
use preen_tests::{Database, World};
use serde_json::{Value, json};

const ROWS: &str = include_str!("first_rows.sql");
/// A token of the club's keeper, whose hash is among the rows.
const TOKEN: &str = "preen_quillmarsh_08b51c12f509cfb6444acbf7d67efea3aa70ac4e85462342c3245956dd97ef70";
/// Head of the trail and revision, as stored.
const HEAD: (&str, i64) = ("b1f1cebc75e6046fb0fe518576984f042cc0349f359637ac4472dc1ea2d5087f", 56);

/// The migrations that were released first: their versions and what they say, alike for both databases.
const FIRST: [(&str, &str, &str); 2] = [
    (
        "20260110000000",
        include_str!("../../../migrations/sqlite/2026-01-10-000000_club_and_trail/up.sql"),
        include_str!("../../../migrations/postgres/2026-01-10-000000_club_and_trail/up.sql"),
    ),
    (
        "20260110000001",
        include_str!("../../../migrations/sqlite/2026-01-10-000001_nouns/up.sql"),
        include_str!("../../../migrations/postgres/2026-01-10-000001_nouns/up.sql"),
    ),
];

fn batch(conn: &mut Db, sql: &str) {
    match conn {
        Db::Sqlite(conn) => conn.batch_execute(sql),
        Db::Postgres(conn) => conn.batch_execute(sql),
    }
    .unwrap_or_else(|error| panic!("{error}: {}", sql.chars().take(200).collect::<String>()));
}

/// Makes the first tables and puts the rows into them.
fn store_first(place: &Place) {
    let mut conn = open(place).unwrap();
    let is_sqlite = matches!(conn, Db::Sqlite(_));
    batch(
        &mut conn,
        "CREATE TABLE __diesel_schema_migrations (version VARCHAR(50) PRIMARY KEY NOT NULL,
             run_on TIMESTAMP NOT NULL DEFAULT CURRENT_TIMESTAMP)",
    );
    for (version, sqlite, postgres) in FIRST {
        batch(&mut conn, if is_sqlite { sqlite } else { postgres });
        batch(&mut conn, &format!("INSERT INTO __diesel_schema_migrations (version) VALUES ('{version}')"));
    }
    batch(&mut conn, ROWS);
    let standing = migrate::standing(&mut conn).unwrap();
    assert_eq!(standing.applied, FIRST.map(|(version, ..)| version));
    assert!(standing.pending.len() > 8, "{:?}", standing.pending);
}

fn codes(reasons: &Value) -> Vec<(&str, &str)> {
    reasons
        .as_array()
        .unwrap()
        .iter()
        .map(|reason| (reason["code"].as_str().unwrap(), reason["subject"].as_str().unwrap()))
        .collect()
}

/// The migrations released first are what they were: records somewhere were made by them.
#[test]
fn what_was_released_is_never_changed() {
    let known = [
        "596428446f81f9fd50122b2bb9488f2853111b22f4520065b33bcf111b78c913",
        "3d71385eb20bf808e123f2fdb8a847816ea944811b44eba7899bc211f7755864",
    ];
    for ((_, sqlite, postgres), known) in FIRST.iter().zip(known) {
        for sql in [sqlite, postgres] {
            assert_eq!(sha256(&[sql]), known);
        }
    }
}

fn check_upgrade(database: Database) {
    let mut world = World::over(database, store_first);
    world.av = world.av.with_token(TOKEN);
    let mut conn = world.conn();
    assert_eq!(migrate::standing(&mut conn).unwrap().pending, Vec::<String>::new());
    // Not a byte of the trail is another.
    let verdict = verify(&mut conn, nouns::TABLES, CLUB).unwrap();
    assert_eq!(verdict.broken, None);
    assert_eq!((verdict.head.as_str(), verdict.revision), HEAD);
    drop(conn);

    let at = "as_of=2026-04-27T08:00:00Z";
    let usage = world.av.get(&format!("/components/SV-1/usage?{at}")).expect(200).json();
    assert_eq!(
        (&usage["flights"], &usage["riggings"], &usage["airtime_h"]),
        (&json!(5), &json!(1), &json!(0.6))
    );
    let spans = usage["spans"].as_array().unwrap();
    assert_eq!(
        (spans.len(), &spans[0]["path"], &spans[0]["to"]),
        (1, &json!("W.C/FS.L"), &json!("2026-04-20T08:00:00Z"))
    );
    let board = world.av.get(&format!("/may-fly?on=2026-04-27&{at}")).expect(200).json();
    let models = board["models"].as_array().unwrap();
    let reasons = |tag: &str| {
        let found = models.iter().find(|one| one["model"] == tag).unwrap();
        assert_eq!(found["state"], "grounded");
        codes(&found["reasons"])
    };
    assert!(reasons("SG-01").contains(&("defect_open", "DF-2")), "{:?}", reasons("SG-01"));
    let other = reasons("SG-02");
    assert!(
        other.contains(&("repair_unreleased", "RE-1")) || other.contains(&("repair_open", "RE-1")),
        "{other:?}"
    );
    assert!(
        other.iter().any(|(code, _)| code.contains("hard_landing") || *code == "check_open"),
        "{other:?}"
    );
    // A flight that never was is none, one that was corrected is as it was corrected.
    let flights = |model: &str| items(world.av.get(&format!("/flights?model={model}&limit=100")));
    assert_eq!((flights("SG-01").len(), flights("SG-02").len()), (8, 6));
    assert!(flights("SG-01").iter().any(|one| one["airtime_min"] == 7.5 && one["landing"] == "firm"));
    assert_eq!(world.av.get("/members/BK").expect(200).json()["tag"], "BK");
    let sheet = world.av.get("/repairs/RE-1/sheet").expect(200).json();
    assert_eq!((&sheet["kind"], &sheet["is_kept"]), (&json!("R10"), &json!(false)));

    // The record goes on, and what came later works with what was there.
    let part = |tag: &str| world.av.get(&format!("/components/{tag}")).expect(200).json()["id"].clone();
    let mut flown = flight("SG-01", "AV", "2026-04-28T10:00:00Z");
    flown["id"] = json!("01970a3c-5d00-7000-9000-000000000002");
    world.av.post("/flights", &flown).expect(201);
    // Its seat is taken: the table that says so came later, and was filled from what was there.
    let fitted = json!({ "id": "01970a3c-5d00-7000-9000-000000000001", "component": part("SV-1"),
        "inside": { "component": part("PN-2") }, "position": "FS.L", "occurred_at": "2026-04-28T12:00:00Z" });
    world.av.post("/installations", &fitted).problem(409, "refused_by_rule");
    let revision = world.av.get("/may-fly").expect(200).json()["revision"].as_i64().unwrap();
    assert_eq!(revision, HEAD.1 + 1);
    world.restart();
    assert_eq!(world.av.get("/may-fly").expect(200).json()["revision"], revision);
}

#[test]
fn records_of_the_first_tables_go_on_sqlite() {
    check_upgrade(Database::Sqlite);
}

#[test]
fn records_of_the_first_tables_go_on_postgres() {
    check_upgrade(Database::Postgres);
}
