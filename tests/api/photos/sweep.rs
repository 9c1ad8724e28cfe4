//! Pictures that no photo names are thrown away after a day; what any photo ever named stays.

use std::path::PathBuf;

use preen_api::photos::place::PhotoPlace;
use preen_tests::http::Caller;
use preen_tests::world::new_id;
use preen_tests::{Database, World};
use serde_json::{Value, json};

use super::pictures::{jpeg, two_halves};
use super::{BLUE, RED, photo, send, wait_until};

/// How many of the two files of a picture are there.
fn files(world: &World, kept: &Value) -> usize {
    let PhotoPlace::Folder(folder) = &world.photos else { panic!("not in a folder") };
    let sha256 = kept["sha256"].as_str().unwrap();
    let shelf = folder.join("quillmarsh").join(&sha256[..2]);
    let paths: [PathBuf; 2] = ["", "-thumbnail"].map(|end| shelf.join(format!("{sha256}{end}.jpg")));
    paths.iter().filter(|path| path.exists()).count()
}

fn kept(caller: &Caller, width: u32) -> Value {
    send(caller, &jpeg(&two_halves(width, 20, RED, BLUE))).expect(201).json()
}

fn check_sweep(database: Database) {
    let mut world = World::begin(database);
    world.small_fleet();
    let [unused, named, voided, replaced, by, again] =
        [30, 31, 32, 33, 34, 35].map(|width| kept(&world.av, width));
    world.add("photos", photo(&named, json!({ "model": "SG-01" })));
    let gone = world.add("photos", photo(&voided, json!({ "model": "SG-01" })));
    let other = world.add("photos", photo(&replaced, json!({ "model": "SG-01" })));
    let correct = |id: &str, body: Value| {
        let mut body = body;
        body["id"] = json!(new_id());
        body["reason"] = json!("another picture was meant");
        world.av.post(&format!("/photos/{id}/correction"), &body).expect(201);
    };
    correct(&gone, json!({ "is_void": true }));
    let mut meant = photo(&by, json!({ "model": "SG-01" }));
    meant["id"] = json!(other);
    correct(&other, json!({ "is_void": false, "fact": meant }));
    // Within a day nothing goes.
    world.set_clock("2026-05-22T07:00:00Z");
    world.restart();
    // What is sent again waits anew.
    send(&world.av, &jpeg(&two_halves(35, 20, RED, BLUE))).expect(200);
    world.set_clock("2026-05-22T09:00:00Z");
    for known in [&unused, &named, &voided, &replaced, &by, &again] {
        assert_eq!(files(&world, known), 2);
    }
    world.restart();
    wait_until(|| files(&world, &unused) == 0);
    for known in [&named, &voided, &replaced, &by, &again] {
        assert_eq!(files(&world, known), 2, "{known}");
    }
    // No photo can name it any more, until it is sent again; the others can be named as before.
    wait_until(|| {
        let reply = world.av.post("/photos", &photo(&unused, json!({ "model": "SG-01" })));
        reply.status == 422 && reply.wrong_field().1 == "unknown_reference"
    });
    for known in [&voided, &again] {
        world.av.post("/photos", &photo(known, json!({ "model": "SG-01" }))).expect(201);
    }
    assert_eq!(kept(&world.av, 30), unused);
    assert_eq!(files(&world, &unused), 2);
    let id = world.add("photos", photo(&unused, json!({ "model": "SG-01" })));
    world.av.get(&format!("/photos/{id}/image")).expect(200);
}

#[test]
fn what_no_photo_names_goes_after_a_day_on_sqlite() {
    check_sweep(Database::Sqlite);
}

#[test]
fn what_no_photo_names_goes_after_a_day_on_postgres() {
    check_sweep(Database::Postgres);
}
