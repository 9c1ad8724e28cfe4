//! An archive taken in up to a point: the club as it was known then, with the head of its trail at that point.

use preen_api::audit::rebuild::Until;
use preen_api::audit::verify::verify;
use preen_api::commands::taken_in::take_in;
use preen_api::resources::nouns;
use preen_tests::world::{CLUB, flight};
use preen_tests::{Database, World};
use serde_json::{Value, json};

use super::text_of;

fn board(world: &World, revision: Option<i64>) -> Value {
    let query = revision.map_or_else(String::new, |revision| format!("&at_revision={revision}"));
    let mut board = world.av.get(&format!("/may-fly?on=2026-05-22{query}")).expect(200).json();
    // The moment of the newest fact used is the same only where the same facts are on record.
    board.as_object_mut().unwrap().remove("inputs_newest_at");
    board
}

#[test]
fn any_revision_can_be_had_with_the_head_it_had() {
    let world = World::begin(Database::Sqlite);
    world.small_fleet();
    for hour in 8..14 {
        world.add("flights", flight("SG-01", "AV", &format!("2026-05-20T{hour:02}:00:00Z")));
    }
    let archive = world.export();
    let trail: Vec<Value> =
        text_of(&archive, "trail.ndjson").lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let newest = trail.last().unwrap()["revision"].as_i64().unwrap();
    for (revision, database) in
        [(1, Database::Postgres), (newest - 4, Database::Sqlite), (newest, Database::Sqlite)]
    {
        let then = world.taken_over(&archive, database, Until::Revision(revision));
        let verdict = verify(&mut then.conn(), nouns::TABLES, CLUB).unwrap();
        let last = trail.iter().rfind(|entry| entry["revision"].as_i64() <= Some(revision)).unwrap();
        assert_eq!(
            (verdict.broken, verdict.revision, json!(verdict.head)),
            (None, revision, last["hash"].clone())
        );
        assert_eq!(board(&then, None), board(&world, Some(revision)), "revision {revision}");
    }
    for revision in [0, -1, newest + 1] {
        let other = World::nothing(Database::Sqlite);
        let refused =
            take_in(&archive, &other.place, &other.photos, Until::Revision(revision), world.clock.now());
        let text = refused.unwrap_err().to_string();
        assert!(text.contains(&format!("there is no revision {revision}: the newest is {newest}")), "{text}");
    }
}

#[test]
fn a_moment_means_what_was_recorded_by_then() {
    let world = World::begin(Database::Sqlite);
    world.small_fleet();
    world.set_clock("2026-05-22T08:00:00Z");
    world.add("flights", flight("SG-01", "AV", "2026-05-20T10:00:00Z"));
    let archive = world.export();
    let at = |text: &str| Until::Moment(text.parse().unwrap());
    let then = world.taken_over(&archive, Database::Sqlite, at("2026-05-22T07:59:59Z"));
    assert_eq!(then.av.get("/flights").json()["items"], json!([]));
    let then = world.taken_over(&archive, Database::Sqlite, at("2026-05-22T08:00:00Z"));
    assert_eq!(then.av.get("/flights").json()["items"].as_array().unwrap().len(), 1);
    let other = World::nothing(Database::Sqlite);
    let before = at("2025-01-01T00:00:00Z");
    let refused = take_in(&archive, &other.place, &other.photos, before, world.clock.now());
    assert!(refused.unwrap_err().to_string().contains("nothing was on record then"));
}

#[test]
fn what_was_erased_later_stays_erased_and_the_trail_says_so() {
    let world = World::begin(Database::Sqlite);
    world.small_fleet();
    world.add("members", json!({ "tag": "XY", "name": "Xaver Ypsilon", "roles": ["pilot"] }));
    world.add("flights", flight("SG-01", "XY", "2026-05-20T10:00:00Z"));
    let before = world.av.get("/may-fly").json()["revision"].as_i64().unwrap();
    world.av.post("/members/XY/erasure", &json!({})).expect(200);
    world.add("flights", flight("SG-01", "AV", "2026-05-20T12:00:00Z"));
    let archive = world.export();
    let then = world.taken_over(&archive, Database::Sqlite, Until::Revision(before));
    let verdict = verify(&mut then.conn(), nouns::TABLES, CLUB).unwrap();
    assert_eq!((verdict.broken, verdict.revision, verdict.erased), (None, before + 1, 1));
    assert!(!then.av.get("/facts").expect(200).text.contains("Xaver"));
    assert_eq!(then.av.get("/flights").json()["items"].as_array().unwrap().len(), 1);
    let again = then.taken_over(&then.export(), Database::Postgres, Until::Newest);
    assert_eq!(verify(&mut again.conn(), nouns::TABLES, CLUB).unwrap().erased, 1);
}
