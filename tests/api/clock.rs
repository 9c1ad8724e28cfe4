//! A clock that is set back: the record, sessions, locks and answers do not go back with it.

use diesel::prelude::*;
use diesel::sql_types::BigInt;
use preen_tests::http::Reply;
use preen_tests::world::{CLUB, World, flight, items, new_id};
use preen_tests::{Database, on_both};
use serde_json::{Value, json};

const GOOD: &str = "heron over the marsh";

#[derive(QueryableByName)]
struct At {
    #[diesel(sql_type = BigInt)]
    recorded_at: i64,
}

/// The trail's times in the order of the trail.
fn times(world: &World) -> Vec<i64> {
    let query = "SELECT recorded_at FROM trail ORDER BY club_id, revision, ordinal";
    let rows: Vec<At> = diesel::sql_query(query).load(&mut world.conn()).unwrap();
    rows.into_iter().map(|row| row.recorded_at).collect()
}

fn state(world: &World) -> Value {
    world.av.get("/may-fly?model=SG-01").expect(200).json()["models"][0]["state"].clone()
}

/// A model that a defect grounds at 09:30.
fn grounded(world: &World) {
    world.small_fleet();
    world.set_clock("2026-05-21T10:00:00Z");
    world.add("flights", flight("SG-01", "AV", "2026-05-21T09:00:00Z"));
    world
        .add("events", json!({ "model": "SG-01", "kind": "laid_up", "occurred_at": "2026-05-21T09:30:00Z" }));
    assert_eq!(state(world), "laid_up");
}

/// What must hold once the clock is back at 08:00 of the same day or at the beginning of all clocks.
fn holds(world: &World) {
    // "Now" still sees what was recorded, and what is true lately can still be recorded.
    assert_eq!(state(world), "laid_up");
    let now = world.av.get("/club").expect(200).json()["now"].clone();
    assert_eq!(now, "2026-05-21T10:00:00Z");
    let logged = world.av.post("/flights", &flight("SG-01", "AV", "2026-05-21T09:20:00Z")).expect(201).json();
    assert_eq!(logged["recorded_at"], "2026-05-21T10:00:00Z");
    let ahead = world.av.post("/flights", &flight("SG-01", "AV", "2026-05-21T10:30:00Z"));
    ahead.problem(422, "invalid_fields");
    assert!(times(world).is_sorted(), "{:?}", times(world));
    // Once the clock has caught up, time is the clock's again.
    world.set_clock("2026-05-21T11:00:00Z");
    let logged = world.av.post("/flights", &flight("SG-01", "AV", "2026-05-21T10:30:00Z")).expect(201).json();
    assert_eq!(logged["recorded_at"], "2026-05-21T11:00:00Z");
}

on_both!(set_back_while_the_service_runs, |world| {
    grounded(world);
    world.set_clock("2026-05-21T08:00:00Z");
    holds(world);
});

on_both!(forgotten_while_the_service_runs, |world| {
    grounded(world);
    world.set_clock("1970-01-01T00:00:00Z");
    holds(world);
});

fn restarted_with_the_clock_back(database: Database) {
    let mut world = World::begin(database);
    grounded(&world);
    world.set_clock("2026-05-20T08:00:00Z");
    world.restart();
    holds(&world);
}

#[test]
fn set_back_across_a_restart_on_sqlite() {
    restarted_with_the_clock_back(Database::Sqlite);
}

#[test]
fn set_back_across_a_restart_on_postgres() {
    restarted_with_the_clock_back(Database::Postgres);
}

on_both!(an_outbox_after_the_clock_was_set_back, |world| {
    world.small_fleet();
    world.set_clock("2026-05-21T10:00:00Z");
    world.add("flights", flight("SG-01", "AV", "2026-05-21T09:00:00Z"));
    world.set_clock("2026-05-21T09:00:00Z");
    let facts: Vec<Value> = ["09:10", "09:20", "09:30"]
        .map(|time| flight("SG-01", "AV", &format!("2026-05-21T{time}:00Z")))
        .map(|fact| json!({ "noun": "flights", "fact": fact }))
        .to_vec();
    let sent = json!({ "sent_at": "2026-05-21T10:00:00Z", "facts": facts });
    let answer = world.av.post("/facts", &sent).expect(200).json();
    assert!(answer["results"].as_array().unwrap().iter().all(|one| one["status"] == "recorded"), "{answer}");
    assert_eq!(answer["clock_ahead_s"], 0);
    assert!(times(world).is_sorted());
});

fn sign_in(world: &World, password: &str) -> Reply {
    let body = json!({ "club": CLUB, "member": "AV", "password": password });
    world.av.with_token("").post("/session", &body)
}

fn session_of(world: &World, cookie: &str) -> Reply {
    let request = world.av.with_token("").request("GET", "/members").header("cookie", cookie);
    Reply::of(request)
}

/// What has ended does not come to life again, and what was locked does not open early or stay locked for ever.
fn what_ended_stays_ended(world: &mut World, set_back: fn(&mut World)) {
    let own = json!({ "new_password": GOOD });
    preen_tests::Reply::of(world.av.request("PUT", "/members/AV/password").json(&own)).expect(200);
    let cookie = sign_in(world, GOOD).expect(201).header("set-cookie").unwrap().to_owned();
    let cookie = cookie.split(';').next().unwrap().to_owned();
    let brief = world.token_of("AV", &["read"], Some("2026-05-21T20:00:00Z"));
    session_of(world, &cookie).expect(200);
    brief.get("/members").expect(200);
    world.set_clock("2026-05-21T20:00:00Z");
    session_of(world, &cookie).problem(401, "session_ended");
    brief.get("/members").problem(401, "token_expired");
    for _ in 0..5 {
        sign_in(world, "not the password").problem(401, "sign_in_wrong");
    }
    sign_in(world, GOOD).problem(429, "too_many_attempts");
    set_back(world);
    session_of(world, &cookie).problem(401, "session_ended");
    let brief = world.av.with_token(&brief.token);
    brief.get("/members").problem(401, "token_expired");
    let locked = sign_in(world, GOOD);
    locked.problem(429, "too_many_attempts");
    let wait: i64 = locked.header("retry-after").unwrap().parse().unwrap();
    assert!((1..=30).contains(&wait), "{wait}");
    world.set_clock("2026-05-21T20:00:30Z");
    sign_in(world, GOOD).expect(201);
}

#[test]
fn what_ended_stays_ended_on_sqlite() {
    what_ended_stays_ended(&mut World::begin(Database::Sqlite), |world| {
        world.set_clock("2026-05-21T19:00:00Z");
    });
}

#[test]
fn what_ended_stays_ended_on_postgres() {
    what_ended_stays_ended(&mut World::begin(Database::Postgres), |world| {
        world.set_clock("2026-05-21T19:00:00Z");
    });
}

#[test]
fn what_ended_stays_ended_across_a_restart_on_sqlite() {
    what_ended_stays_ended(&mut World::begin(Database::Sqlite), |world| {
        world.set_clock("2026-05-21T19:00:00Z");
        world.restart();
    });
}

#[test]
fn what_ended_stays_ended_across_a_restart_on_postgres() {
    what_ended_stays_ended(&mut World::begin(Database::Postgres), |world| {
        world.set_clock("2026-05-21T19:00:00Z");
        world.restart();
    });
}

#[test]
fn two_services_with_different_clocks_keep_one_order() {
    let world = World::begin(Database::Postgres);
    world.small_fleet();
    let behind = preen_api::state::Clock::held_at("2026-05-21T07:00:00Z".parse().unwrap());
    let config = preen_api::server::Config {
        place: world.place.clone(),
        photos: Some(world.photos.clone()),
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: behind,
        workers: Some(1),
        replica: None,
    };
    let other = preen_api::server::start(&config).unwrap();
    let there = preen_tests::http::Caller::new(&other.url(), &world.av.token);
    world.set_clock("2026-05-21T12:00:00Z");
    let here = world.av.post("/flights", &flight("SG-01", "AV", "2026-05-21T07:00:00Z")).expect(201).json();
    let late = there.post("/flights", &flight("SG-01", "AV", "2026-05-21T06:30:00Z")).expect(201).json();
    assert_eq!(
        (&here["recorded_at"], &late["recorded_at"]),
        (&json!("2026-05-21T12:00:00Z"), &here["recorded_at"])
    );
    assert!(times(&world).is_sorted());
    let new = json!({ "id": new_id(), "tag": "ZZ", "roles": ["pilot"] });
    there.post("/members", &new).expect(201);
    assert_eq!(items(world.av.get("/members")).len(), 2);
    other.stop();
}
