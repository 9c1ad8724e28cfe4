//! The trail: what tampering it finds, and that a stopped service starts with what it had.

use diesel::connection::SimpleConnection;
use preen_api::audit::verify::{Break, verify};
use preen_api::resources::nouns;
use preen_tests::world::{CLUB, flight};
use preen_tests::{Database, World, on_both};

fn broken(world: &World) -> Break {
    verify(&mut world.conn(), nouns::TABLES, CLUB).unwrap().broken.expect("the trail is broken")
}

/// Runs statements past the service, then looks, then takes them back by the second list.
fn tamper(world: &World, with: &str, back: &str) -> Break {
    let mut conn = world.conn();
    conn.batch_execute(with).unwrap();
    let found = broken(world);
    conn.batch_execute(back).unwrap();
    assert_eq!(verify(&mut conn, nouns::TABLES, CLUB).unwrap().broken, None);
    found
}

on_both!(the_first_entry_that_does_not_hold_is_named, |world| {
    world.small_fleet();
    let id = world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    world.add("flights", flight("SG-01", "AV", "2026-05-20T11:00:00Z"));
    let gone = preen_tests::world::new_id();
    let cases = [
        (
            format!("UPDATE flights SET airtime_min = 60 WHERE id = '{id}'"),
            format!("UPDATE flights SET airtime_min = 6.5 WHERE id = '{id}'"),
            "not what was recorded",
        ),
        (
            format!("UPDATE flights SET recorded_at = recorded_at + 1 WHERE id = '{id}'"),
            format!("UPDATE flights SET recorded_at = recorded_at - 1 WHERE id = '{id}'"),
            "another time",
        ),
        (
            format!("UPDATE trail SET act = 'log_fligth' WHERE fact_id = '{id}'"),
            format!("UPDATE trail SET act = 'log_flight' WHERE fact_id = '{id}'"),
            "hash does not fit",
        ),
        (
            format!("UPDATE flights SET id = '{gone}' WHERE id = '{id}'"),
            format!("UPDATE flights SET id = '{id}' WHERE id = '{gone}'"),
            "no longer stored",
        ),
    ];
    for (with, back, text) in cases {
        let found = tamper(world, &with, &back);
        assert!(found.text.contains(text), "{with}: {found:?}");
        assert_eq!((found.noun.as_str(), found.fact_id.as_str()), ("flights", id.as_str()));
    }
});

on_both!(what_is_put_in_past_the_service_is_found, |world| {
    world.small_fleet();
    let id = world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let other = preen_tests::world::new_id();
    let found = tamper(
        world,
        &format!(
            "INSERT INTO flights SELECT club_id, '{other}', revision, recorded_at, recorded_by, superseded, \
             is_correction, tag, model, pilot, occurred_at, launches, airtime_min, motor_s, is_landing_flap_used, \
             landing, is_post_flight_logged, note FROM flights WHERE id = '{id}'"
        ),
        &format!("DELETE FROM flights WHERE id = '{other}'"),
    );
    assert!(found.text.contains("the trail does not know"), "{found:?}");
    assert_eq!(found.fact_id, other);
});

on_both!(the_last_entries_cannot_be_cut_off, |world| {
    world.small_fleet();
    let id = world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let last = "SELECT MAX(revision) FROM clubs";
    let found = tamper(
        world,
        &format!(
            "CREATE TABLE kept_payloads AS SELECT * FROM trail_payloads WHERE revision = ({last}); \
             CREATE TABLE kept_entries AS SELECT * FROM trail WHERE revision = ({last}); \
             CREATE TABLE kept_flights AS SELECT * FROM flights WHERE id = '{id}'; \
             DELETE FROM trail_payloads WHERE revision = ({last}); \
             DELETE FROM trail WHERE revision = ({last}); \
             DELETE FROM flights WHERE id = '{id}'"
        ),
        "INSERT INTO trail SELECT * FROM kept_entries; \
         INSERT INTO trail_payloads SELECT * FROM kept_payloads; \
         INSERT INTO flights SELECT * FROM kept_flights; \
         DROP TABLE kept_payloads; DROP TABLE kept_entries; DROP TABLE kept_flights",
    );
    assert!(found.text.contains("the trail ends at"), "{found:?}");
});

on_both!(a_row_that_cannot_be_read_is_named, |world| {
    world.small_fleet();
    let id = world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let found = tamper(
        world,
        &format!("UPDATE flights SET landing = 'crashed' WHERE id = '{id}'"),
        &format!("UPDATE flights SET landing = 'normal' WHERE id = '{id}'"),
    );
    assert!(found.text.contains(&id) && found.text.contains("landing"), "{found:?}");
});

#[test]
fn a_stopped_service_starts_with_what_it_had() {
    for database in [Database::Sqlite, Database::Postgres] {
        let mut world = World::begin(database);
        world.small_fleet();
        world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
        let before = world.av.get("/may-fly").expect(200).text;
        world.restart();
        assert_eq!(world.av.get("/may-fly").expect(200).text, before);
        world.add("flights", flight("SG-01", "AV", "2026-05-20T11:00:00Z"));
    }
}

#[test]
fn a_change_by_another_process_is_seen() {
    let world = World::begin(Database::Postgres);
    world.small_fleet();
    let second = preen_api::server::start(&preen_api::server::Config {
        place: world.place.clone(),
        photos: Some(world.photos.clone()),
        listen: "127.0.0.1:0".parse().unwrap(),
        clock: world.clock.clone(),
        workers: Some(1),
        replica: None,
    })
    .unwrap();
    let there = preen_tests::http::Caller::new(&second.url(), &world.av.token);
    there.post("/flights", &flight("SG-01", "AV", "2026-05-20T10:00:00Z")).expect(201);
    assert_eq!(world.av.get("/models/SG-01/usage").json()["flights"], 1);
    world.add("flights", flight("SG-01", "AV", "2026-05-20T11:00:00Z"));
    assert_eq!(there.get("/models/SG-01/usage").json()["flights"], 2);
}
