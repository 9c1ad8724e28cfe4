//! A club that is taken away as one file and put into another database: the same answers there, byte for byte, at every
//! moment and every revision; and what is not taken in.

mod hostile;
mod part;
mod point;

use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use preen_api::audit::rebuild::Until;
use preen_tests::everything::{everything, unlike};
use preen_tests::world::{flight, new_id};
use preen_tests::{Database, World, on_both};
use serde_json::{Value, json};
use zip::ZipArchive;

use super::access_table::picture;

/// The names of an archive's files.
pub fn names(archive: &Path) -> Vec<String> {
    let zip = ZipArchive::new(File::open(archive).unwrap()).unwrap();
    zip.file_names().map(|name| name.unwrap().into_owned()).collect()
}

/// One file of an archive as text.
pub fn text_of(archive: &Path, name: &str) -> String {
    let mut zip = ZipArchive::new(File::open(archive).unwrap()).unwrap();
    let mut text = String::new();
    zip.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

fn comes_out_the_same(world: &World, database: Database, as_ofs: &[&str], at_least: usize) {
    let revision = world.av.get("/club").expect(200).json()["revision"].as_i64();
    let newest = revision.unwrap_or_else(|| world.av.get("/may-fly").json()["revision"].as_i64().unwrap());
    let revisions = if as_ofs.is_empty() { vec![] } else { vec![newest / 2] };
    let archive = world.export();
    let other = world.taken_over(&archive, database, Until::Newest);
    let (here, there) =
        (everything(&world.av, as_ofs, &revisions), everything(&other.av, as_ofs, &revisions));
    assert!(here.len() > at_least, "{}", here.len());
    let differ = unlike(&here, &there);
    assert!(differ.is_empty(), "{} of {} differ: {differ:#?}", differ.len(), here.len());
    println!("{} answers the same", here.len());
    // The record goes on there, and what it becomes can be taken away again.
    other.av.post("/flights", &flight("SG-01", "FS", "2026-05-21T07:00:00Z")).expect(201);
    assert_eq!(
        text_of(&other.export(), "trail.ndjson").lines().count(),
        text_of(&archive, "trail.ndjson").lines().count() + 1
    );
}

/// A photo, a correction, a new version and an erased member, so that there is one of everything to take away.
fn more(world: &World) {
    let kept = world.av.post_file("/photos/files", "image/jpeg", &picture()).expect(201).json();
    let mut photo = kept.clone();
    photo["subject"] = json!({ "model": "SG-01" });
    photo["occurred_at"] = json!("2026-05-20T10:00:00Z");
    let photo = world.add("photos", photo);
    world.av.get(&format!("/photos/{photo}/image")).expect(200);
    let flown = world.add("flights", flight("SG-01", "FS", "2026-05-20T10:00:00Z"));
    let mut corrected = world.av.get(&format!("/flights/{flown}")).json();
    for stamp in ["recorded_at", "recorded_by", "revision"] {
        corrected.as_object_mut().unwrap().remove(stamp);
    }
    corrected["airtime_min"] = json!(7.25);
    let correction = json!({ "id": new_id(), "reason": "a slip", "fact": corrected });
    world.av.post(&format!("/flights/{flown}/correction"), &correction).expect(201);
    let never = world.add("flights", flight("SG-01", "FS", "2026-05-20T11:00:00Z"));
    let void = json!({ "id": new_id(), "reason": "never flown", "is_void": true });
    world.av.post(&format!("/flights/{never}/correction"), &void).expect(201);
    world.add("members", json!({ "tag": "XY", "name": "Xaver Ypsilon", "roles": ["pilot"] }));
    world.av.post("/members/XY/erasure", &json!({})).expect(200);
}

#[test]
fn the_demo_club_answers_the_same_elsewhere_by_way_of_both_databases() {
    let world = World::demo(Database::Sqlite);
    more(&world);
    comes_out_the_same(&world, Database::Postgres, &["2026-05-20T12:00:00Z"], 250);
    let postgres = world.taken_over(&world.export(), Database::Postgres, Until::Newest);
    comes_out_the_same(&postgres, Database::Sqlite, &[], 120);
}

on_both!(an_archive_says_what_it_holds_and_holds_no_access, |world| {
    world.small_fleet();
    world.add("members", json!({ "tag": "FS", "name": "=cmd|' /C calc'!A0", "roles": ["pilot"] }));
    more(world);
    let archive = world.export();
    let head: Value = serde_json::from_str(&text_of(&archive, "club.json")).unwrap();
    assert_eq!(
        (&head["format"], &head["format_number"], &head["photos"]),
        (&json!("preen-archive"), &json!(1), &json!(1))
    );
    let readme = text_of(&archive, "README.txt");
    for name in names(&archive).into_iter().filter(|name| name != "README.txt") {
        let told = if name.starts_with("photos/") { "photos/" } else { &name };
        assert!(readme.contains(told), "{name} is not explained");
    }
    // What begins like a formula is a text for spreadsheets, and itself for programs.
    assert!(text_of(&archive, "csv/members.csv").contains("'=cmd|' /C calc'!A0"));
    assert!(text_of(&archive, "facts.ndjson").contains("\"name\":\"=cmd|' /C calc'!A0\""));
    let flights = text_of(&archive, "csv/flights.csv");
    assert!(flights.starts_with("id,revision,recorded_at,recorded_by,tag,model,"), "{flights}");
    assert!(flights.contains("SG-01") && flights.contains("7.25"), "{flights}");
    let secret = world.av.token.rsplit('_').next().unwrap();
    for name in names(&archive).iter().filter(|name| !name.starts_with("photos/")) {
        let text = text_of(&archive, name);
        assert!(
            !text.contains(secret) && !text.contains("secret_hash") && !text.contains("argon2"),
            "{name}"
        );
        assert!(!text.contains("Xaver"), "{name} names whom the club erased");
    }
});

on_both!(only_the_keeper_takes_it_away_and_only_with_the_scope, |world| {
    world.small_fleet();
    world.member("BK", &["pilot"], &["read", "write", "copy"]).get("/export").problem(403, "not_allowed");
    world.token_of("AV", &["read", "write"], None).get("/export").problem(403, "scope_missing");
    let reply = world.token_of("AV", &["copy"], None).get("/export").expect(200);
    assert_eq!(reply.header("content-type"), Some("application/zip"));
    assert_eq!(reply.header("content-length").unwrap(), reply.bytes.len().to_string());
    assert!(reply.header("content-disposition").unwrap().contains("quillmarsh-"));
});

#[test]
fn the_keeper_gets_in_by_a_password_that_counts_once() {
    use preen_api::commands::taken_in::take_in;
    let world = World::begin(Database::Sqlite);
    let archive = world.export();
    let other = World::nothing(Database::Sqlite);
    let (taken, way_in) =
        take_in(&archive, &other.place, &other.photos, Until::Newest, world.clock.now()).unwrap();
    assert_eq!(taken.keeper.unwrap().0.as_str(), "AV");
    assert!(taken.is_whole);
    let body = json!({ "club": "quillmarsh", "member": "AV", "password": way_in.password });
    let session = other.av.with_token("").post("/session", &body).expect(201).json();
    assert_eq!(session["must_change_password"], true);
    other.av.with_token("").post("/session", &body).problem(401, "sign_in_wrong");
    // There once, there for good: nothing is written over a record.
    let again = take_in(&archive, &other.place, &other.photos, Until::Newest, world.clock.now());
    assert!(again.unwrap_err().to_string().contains("with a record of its own already"));
}
