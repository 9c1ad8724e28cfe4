//! On PostgreSQL tables in parts by club every statement stays with one club: a club of all nouns beside another, every question,
//! what is changed and signed in beside the record. With `PREEN_PARTITIONS` set every test here looks after the same.

use preen_api::audit::verify::verify;
use preen_api::db::conn::{Db, Place, open};
use preen_api::db::partition::split;
use preen_api::resources::nouns;
use preen_domain::facts::Fact;
use preen_tests::everything::everything;
use preen_tests::http::Caller;
use preen_tests::world::{CLUB, flight, new_id};
use preen_tests::{Database, World, cluster};
use serde_json::{Value, json};

/// A club with the record of the demo club, in outboxes of its keeper.
fn fill(world: &World, club: &str) -> Caller {
    let tables = preen_api::demo::tables::read().unwrap();
    let keeper = tables.rows.iter().find(|row| preen_api::exchange::tables::is_keeper(&row.fact));
    let Some(Fact::Member(member)) = keeper.map(|row| &row.fact) else { panic!("nobody is keeper") };
    let caller = world.av.with_token(&world.begin_club(club, &json!(member)));
    for some in tables.rows.chunks(1_000) {
        let facts: Vec<Value> =
            some.iter().map(|row| json!({ "noun": row.fact.noun(), "fact": row.fact })).collect();
        let told = caller.post("/facts", &json!({ "facts": facts })).expect(200).json();
        for result in told["results"].as_array().unwrap() {
            assert!(["recorded", "known"].contains(&result["status"].as_str().unwrap()), "{result}");
        }
    }
    caller
}

fn url_of(world: &World) -> &str {
    let Place::Server(url) = &world.place else { panic!("it is on a server") };
    url
}

#[test]
fn every_statement_stays_with_one_club_on_postgres() {
    let mut world = World::in_parts();
    let told = everything(&fill(&world, "club-a"), &[], &[]);
    assert!(told.values().all(|(status, _)| *status < 500));
    // Beside the record: passwords, sessions, attempts, tokens, photos, corrections, archives, a start.
    world.small_fleet();
    world.av.put("/members/AV/password", None, &json!({ "new_password": "three old oars" })).expect(200);
    let sign_in = |password: &str| {
        world
            .av
            .with_token("")
            .post("/session", &json!({ "club": CLUB, "member": "AV", "password": password }))
    };
    sign_in("three old oars").expect(201);
    sign_in("four new rudders").problem(401, "sign_in_wrong");
    let made = world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let void = json!({ "id": new_id(), "reason": "typed wrong", "is_void": true });
    world.av.post(&format!("/flights/{made}/correction"), &void).expect(201);
    let helper = world.member("JW", &["helper"], &["read"]);
    helper.get("/models/SG-01").expect(200);
    // Whoever doubts the record of one club asks for nobody else's.
    let mut doubting = open(&world.place).unwrap();
    for club in ["club-a", CLUB] {
        assert_eq!(verify(&mut doubting, nouns::TABLES, club).unwrap().broken, None, "the trail of {club}");
    }
    let archive = world.export();
    assert!(std::fs::metadata(&archive).unwrap().len() > 1_000);
    world.restart();
    world.av.get("/may-fly?at_revision=3").expect(200);
    let count = cluster::statements_of_one_club(url_of(&world)).unwrap();
    assert!(count > 5_000, "the server told of {count} statements only");
}

#[test]
fn a_statement_that_asks_several_clubs_is_seen_on_postgres() {
    use diesel::RunQueryDsl as _;
    let url = cluster::new_database_in_parts();
    let Db::Postgres(mut owner) = open(&Place::from_url(&url)).unwrap() else { panic!("it is on a server") };
    diesel::sql_query("SELECT revision FROM clubs WHERE id = 'a'").execute(&mut owner).unwrap();
    let before = cluster::statements_of_one_club(&url).unwrap();
    diesel::sql_query("SELECT count(*) FROM flights WHERE pilot = 'x'").execute(&mut owner).unwrap();
    let told = std::panic::catch_unwind(|| cluster::statements_of_one_club(&url));
    assert!(told.is_err(), "{before} statements before, and nobody said that the last one asks all clubs");
}

#[test]
fn only_an_empty_database_is_split_and_all_of_it_on_postgres() {
    let world = World::in_parts();
    let mut conn = world.conn();
    let told = split(&mut conn, 4);
    assert!(told.is_ok(), "what is in parts already stays so: {told:?}");
    let plain = World::begin(Database::Postgres);
    if !url_of(&plain).is_empty() && std::env::var_os("PREEN_PARTITIONS").is_none() {
        let told = split(&mut plain.conn(), 4).map_err(|error| error.to_string());
        assert!(told.is_err_and(|text| text.contains("holds something already")));
    }
    let mut file = World::begin(Database::Sqlite).conn();
    assert!(split(&mut file, 4).is_err_and(|error| error.to_string().contains("--partitions")));
}
