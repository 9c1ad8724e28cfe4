//! The club the load goes to, and what must hold of its record after a kill.

use std::collections::BTreeSet;

use preen_api::audit::verify::verify;
use preen_api::db::conn::{Place, open};
use preen_api::db::migrate;
use preen_api::resources::{nouns, setup};
use preen_domain::time::Instant;
use preen_tests::Database;
use preen_tests::world::{CLUB, design, new_id, part, scratch};
use serde_json::{Value, json};

use crate::Process;
use crate::load::{Acknowledged, WRITERS};

/// A club with a model for each writer; what its database is called, and the keeper's token.
pub fn begin(database: Database) -> (String, String) {
    let place = match database {
        Database::Sqlite => scratch("preen-kill").join("preen.db").display().to_string(),
        Database::Postgres => preen_tests::cluster::new_database_to_serve(),
    };
    begin_at(place)
}

/// The same at a given place.
pub fn begin_at(place: String) -> (String, String) {
    let mut conn = open(&Place::from_url(&place)).unwrap();
    migrate::up(&mut conn).unwrap();
    let now: Instant = "2025-04-05T06:00:00Z".parse().unwrap();
    let zone = "Europe/London".parse().unwrap();
    let code =
        setup::store::create_club(&mut conn, CLUB, "A club", zone, now).unwrap().expect("the club is new");
    let mut service = crate::start(&place, "");
    let roles = json!(["pilot", "builder", "stores", "inspector", "keeper"]);
    let wanted =
        json!({ "club": CLUB, "code": code, "member": { "id": new_id(), "tag": "AV", "roles": roles } });
    let token = service.caller.post("/setup", &wanted).expect(201).json()["token"]["token"].clone();
    service.caller.token = token.as_str().unwrap().to_owned();
    let add = |noun: &str, mut body: Value| {
        body["id"] = json!(new_id());
        service.caller.post(&format!("/{noun}"), &body).expect(201);
    };
    add("designs", design("SEDGE"));
    for (tag, kind) in [("SV08", "servo"), ("PANEL", "panel")] {
        add("parts", part(tag, kind));
    }
    for writer in 0..WRITERS {
        let mut model = preen_tests::world::model(&format!("SG-0{writer}"), "AV");
        model["first_flight_on"] = json!("2025-04-05");
        add("models", model);
    }
    let component = |tag: &str, part: &str, rest: Value| {
        let mut body = json!({ "tag": tag, "part": part, "mass_g": 10.4, "state": "serviceable" });
        body.as_object_mut().unwrap().extend(rest.as_object().unwrap().clone());
        body
    };
    add("components", component("PN-1", "PANEL", json!({ "seat": "PANEL", "design": "SEDGE" })));
    add("components", component("SV-1", "SV08", json!({})));
    add("components", component("SV-2", "SV08", json!({})));
    let at = "2025-04-05T06:00:00Z";
    add(
        "installations",
        json!({ "component": "PN-1", "inside": { "model": "SG-00" }, "position": "W.C", "occurred_at": at }),
    );
    add(
        "installations",
        json!({ "component": "SV-1", "inside": { "component": "PN-1" }, "position": "FS.L", "occurred_at": at }),
    );
    (place, service.caller.token.clone())
}

/// What must hold after each kill.
pub fn look(service: &Process, place: &str, acknowledged: &Acknowledged) {
    let feed = service.caller.get("/facts").expect(200);
    let lines: Vec<Value> = feed.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let ids: BTreeSet<&str> = lines.iter().map(|line| line["fact"]["id"].as_str().unwrap()).collect();
    for id in &acknowledged.facts {
        assert!(ids.contains(id.as_str()), "{id} was acknowledged and is gone");
    }
    for (removal, installation) in &acknowledged.swaps {
        assert_eq!(
            ids.contains(removal.as_str()),
            ids.contains(installation.as_str()),
            "half an exchange: {removal} {installation}"
        );
    }
    holds(service, place);
    // The Fleet counts what the record holds, model by model.
    for writer in 0..WRITERS {
        let tag = format!("SG-0{writer}");
        let model = service.caller.get(&format!("/models/{tag}")).expect(200).json()["id"].clone();
        let is_flight = |line: &&Value| line["noun"] == "flights" && line["fact"]["model"] == model;
        let recorded = lines.iter().filter(is_flight).count();
        let counted =
            service.caller.get(&format!("/models/{tag}/usage")).expect(200).json()["flights"].clone();
        assert_eq!(counted, json!(recorded), "{tag}");
    }
}

/// The trail holds, and what the service answers from stands at its end.
pub fn holds(service: &Process, place: &str) {
    preen_tests::cluster::statements_of_one_club(place);
    let mut conn = open(&Place::from_url(place)).unwrap();
    let verdict = verify(&mut conn, nouns::TABLES, CLUB).unwrap();
    assert_eq!(verdict.broken, None);
    let board = service.caller.get("/may-fly").expect(200).json();
    assert_eq!(
        board["revision"].as_i64(),
        Some(verdict.revision),
        "the Fleet is not at the end of the trail"
    );
}
