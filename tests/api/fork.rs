//! A database server that lost its newest commits, as after a fail-over to a replica that lacked them, or a restore: a
//! service that held what was lost answers by the record as it is now, whatever others wrote under the same numbers.

use preen_api::db::conn::Place;
use preen_tests::world::{flight, model, part};
use preen_tests::{Database, Reply, World, cluster};
use serde_json::json;

const PATHS: [&str; 7] =
    ["/may-fly", "/due", "/where?part=SV08", "/models", "/models/SG-01/usage", "/facts", "/parts"];

/// Another service on the records of a world, which remembers nothing.
fn beside(world: &World) -> World {
    World::nothing(Database::Sqlite).serving(&world.place, &world.photos, world)
}

fn same_as_of_one_that_remembers_nothing(world: &World, when: &str) {
    let fresh = beside(world);
    for path in PATHS {
        let (here, there) = (world.av.get(path).expect(200), fresh.av.get(path).expect(200));
        assert_eq!(here.text, there.text, "{path}, {when}");
        assert_eq!(here.header("etag"), there.header("etag"), "{path}, {when}");
    }
}

#[test]
fn what_the_record_lost_is_held_no_longer_on_postgres() {
    let world = World::begin(Database::Postgres);
    let Place::Server(url) = &world.place else { panic!("it is on a server") };
    world.small_fleet();
    // Others write nothing, as much as was lost, more; the service first reads or first writes.
    for (round, others) in [0, 3, 5].into_iter().flat_map(|others| [(0, others), (1, others)]) {
        let when = format!("{others} others, round {round}");
        let kept = cluster::keep(url);
        let lost_tag = format!("SG-L{others}{round}");
        world.add("models", model(&lost_tag, "AV"));
        world.add("parts", part(&format!("P-L{others}{round}"), "servo"));
        world.add("flights", flight(&lost_tag, "AV", "2026-05-20T10:00:00Z"));
        let lost = world.av.get("/may-fly").expect(200);
        assert!(lost.text.contains(&lost_tag), "{when}");
        kept.set_back();
        let other = beside(&world);
        for number in 0..others {
            other.add("parts", part(&format!("P-{others}{round}{number}"), "servo"));
        }
        if round == 0 {
            let now = world.av.get("/may-fly").expect(200);
            assert!(!now.text.contains(&lost_tag), "{when}");
            assert_ne!(now.header("etag"), lost.header("etag"), "{when}");
        } else {
            // What rested on what was lost is refused, and its tags are free.
            let body = flight(&lost_tag, "AV", "2026-05-20T11:00:00Z");
            world.av.post("/flights", &body).problem(422, "invalid_fields");
            world.add("models", model(&lost_tag, "AV"));
            let used = world.av.get(&format!("/models/{lost_tag}/usage")).expect(200).json();
            assert_eq!(used["flights"], json!(0), "{when}");
        }
        same_as_of_one_that_remembers_nothing(&world, &when);
        same_as_of_one_that_remembers_nothing(&other, &when);
    }
}

#[test]
fn what_was_seen_before_is_not_what_stands_there_now_on_postgres() {
    let world = World::begin(Database::Postgres);
    let Place::Server(url) = &world.place else { panic!("it is on a server") };
    world.small_fleet();
    let path = "/parts/SV08";
    let revise = |etag: &str, mass_g: f64| {
        let mut body = part("SV08", "servo");
        body["nominal_mass_g"] = json!(mass_g);
        world.av.put(path, Some(etag), &body)
    };
    let etag = |reply: &Reply| reply.header("etag").unwrap().to_owned();
    let first = etag(&world.av.get(path).expect(200));
    let kept = cluster::keep(url);
    let lost = revise(&first, 8.5).expect(200);
    kept.set_back();
    world.set_clock("2026-05-21T08:00:10Z");
    let now = revise(&first, 9.0).expect(200);
    assert_eq!(lost.json()["revision"], now.json()["revision"], "the same number, of another change");
    // Whoever saw the lost change has not seen what stands there.
    revise(&etag(&lost), 9.5).problem(412, "stale");
    revise(&etag(&now), 9.5).expect(200);
}
