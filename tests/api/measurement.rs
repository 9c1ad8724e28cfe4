//! Nobody edits a measurement: what was read stays, and what corrects it stands beside it, with a reason and a name.

use preen_tests::description::description;
use preen_tests::http::Caller;
use preen_tests::world::{items, new_id};
use preen_tests::{Reply, World, on_both};
use serde_json::{Value, json};

/// SG-01 with a flap servo, read four times by `ME` with the play growing, and a fifth time mistyped.
fn mistyped(world: &World) -> (Caller, String) {
    world.small_fleet();
    for (tag, part) in [("PN-1", "PANEL"), ("SV-1", "SV08")] {
        world.component(tag, part);
    }
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", "2025-04-05T06:00:00Z");
    world.fit("SV-1", json!({ "component": "PN-1" }), "FS.L", "2025-04-05T06:00:00Z");
    let me = world.member("ME", &["builder"], &["read", "write"]);
    let mut last = String::new();
    let days = [("04-01", 0.50), ("04-11", 0.58), ("04-21", 0.70), ("05-01", 0.79), ("05-11", 0.11)];
    for (day, value) in days {
        last = new_id();
        me.post("/measurements", &reading(&last, day, value)).expect(201);
    }
    (me, last)
}

fn reading(id: &str, day: &str, value: f64) -> Value {
    json!({
        "id": id, "subject": { "component": "SV-1" }, "quantity": "servo_free_play", "values": [value],
        "unit": "deg", "occurred_at": format!("2026-{day}T10:00:00Z")
    })
}

fn correct(caller: &Caller, id: &str, fact: Option<Value>, reason: &str) -> Reply {
    let mut body = json!({ "id": new_id(), "reason": reason });
    match fact {
        Some(fact) => body["fact"] = fact,
        None => body["is_void"] = json!(true),
    }
    caller.post(&format!("/measurements/{id}/correction"), &body)
}

fn revision(world: &World) -> Value {
    world.av.get("/club").expect(200).json()["revision"].clone()
}

fn id_of(world: &World, member: &str) -> Value {
    world.av.get(&format!("/members/{member}")).expect(200).json()["id"].clone()
}

/// What the trend ends at, and how many days of it are left to the limit that restricts.
fn trend(world: &World, query: &str) -> (Value, Value) {
    let answer =
        world.av.get(&format!("/components/SV-1/trend?by=days&{query}")).expect(200).json()["series"][0]
            .clone();
    let readings = answer["readings"].as_array().unwrap();
    let restrict = answer["forecast"].as_array().unwrap().iter().find(|one| one["severity"] == "restrict");
    (readings.last().unwrap()["value"].clone(), restrict.map_or(Value::Null, |one| one["is_reached"].clone()))
}

/// Whether the board holds the free play against SG-01.
fn is_held_against(world: &World, query: &str) -> bool {
    let board = world.av.get(&format!("/may-fly?model=SG-01&{query}")).expect(200).json();
    let reasons = board["models"][0]["reasons"].as_array().unwrap().clone();
    reasons.iter().any(|reason| reason["code"] == "reading_beyond_limit")
}

on_both!(a_reading_typed_wrong_is_corrected_beside_it, |world| {
    let (me, id) = mistyped(world);
    let path = format!("/measurements/{id}");
    let original = world.av.get(&path).expect(200).json();
    let before = revision(world);
    assert_eq!(trend(world, "").0, 0.11);
    assert!(!is_held_against(world, ""));

    let right = reading(&id, "05-11", 1.1);
    let done = correct(&me, &id, Some(right), "the point sat one place too far left").expect(201).json();
    assert_eq!(done["recorded_by"], id_of(world, "ME"));

    // The original is read as it was, and its correction beside it.
    let kept = world.av.get(&format!("{path}?at_revision={before}")).expect(200).json();
    assert_eq!(kept, original);
    assert_eq!(world.av.get(&path).expect(200).json()["values"], json!([1.1]));
    let beside = items(world.av.get(&format!("/corrections?original={id}")));
    assert_eq!(beside.len(), 1);
    assert_eq!(beside[0]["reason"], "the point sat one place too far left");
    assert_eq!(beside[0]["fact"]["values"], json!([1.1]));

    // Trend, limits and state of every later moment are computed anew; of no earlier one.
    assert_eq!(trend(world, ""), (json!(1.1), json!(true)));
    assert_eq!(trend(world, "as_of=2026-05-12").0, 1.1);
    assert_eq!(trend(world, "as_of=2026-05-10").0, 0.79);
    assert!(is_held_against(world, "") && is_held_against(world, "as_of=2026-05-12"));
    assert!(!is_held_against(world, "as_of=2026-05-10"));
    // What was known before can still be asked.
    assert_eq!(trend(world, &format!("at_revision={before}")).0, 0.11);
    assert!(!is_held_against(world, &format!("at_revision={before}")));
    let ahead = world.av.get(&format!("{path}?at_revision={}", before.as_i64().unwrap() + 9));
    ahead.problem(400, "bad_parameter");
    world.av.get(&format!("{path}?as_of=2026-05-12")).problem(400, "bad_parameter");
    world.av.get(&format!("{path}?at_revision=0")).problem(404, "not_found");
});

on_both!(nobody_edits_a_reading, |world| {
    let (me, id) = mistyped(world);
    let inspector = world.member("IN", &["inspector"], &["read", "write"]);
    let safety = world.member("SO", &["safety_officer"], &["read", "write"]);
    let path = format!("/measurements/{id}");
    let original = world.av.get(&path).expect(200).json();
    for caller in [&me, &inspector, &safety, &world.av] {
        for method in ["PUT", "PATCH", "DELETE"] {
            let body = reading(&id, "05-11", 1.1);
            let reply = Reply::of(caller.request(method, &path).header("if-match", "*").json(&body));
            reply.problem(405, "method_not_allowed");
        }
    }
    assert_eq!(world.av.get(&path).expect(200).json(), original);
    // A correction needs its reason, and one's own may be made for seven days.
    let mute = json!({ "id": new_id(), "is_void": true });
    assert_eq!(me.post(&format!("{path}/correction"), &mute).expect(422).wrong_field().0, "/reason");
    let empty = json!({ "id": new_id(), "is_void": true, "reason": " " });
    assert_eq!(me.post(&format!("{path}/correction"), &empty).expect(422).wrong_field().0, "/reason");
    let right = || Some(reading(&id, "05-11", 1.1));
    correct(&safety, &id, right(), "looked wrong").problem(403, "not_allowed");
    correct(&safety, &id, None, "looked wrong").problem(403, "not_allowed");
    world.set_clock("2026-05-28T08:00:00Z");
    correct(&me, &id, right(), "one digit").problem(403, "not_allowed");
    assert_eq!(world.av.get(&path).expect(200).json(), original);

    // An inspector adds one; it was still ME who read it.
    let before = revision(world);
    correct(&inspector, &id, right(), "one digit, asked ME").expect(201);
    let corrected = world.av.get(&path).expect(200).json();
    assert_eq!((&corrected["values"], &corrected["measured_by"]), (&json!([1.1]), &id_of(world, "ME")));
    assert_eq!(corrected["recorded_by"], id_of(world, "IN"));
    // Said never to have been taken, it is still there to be read.
    let then = revision(world);
    correct(&inspector, &id, None, "the gauge was not zeroed").expect(201);
    world.av.get(&path).problem(404, "not_found");
    assert_eq!(world.av.get(&format!("{path}?at_revision={before}")).expect(200).json(), original);
    assert_eq!(world.av.get(&format!("{path}?at_revision={then}")).expect(200).json(), corrected);
    assert_eq!(items(world.av.get(&format!("/corrections?original={id}"))).len(), 2);
    assert_eq!(trend(world, "").0, 0.79);
});

#[test]
fn no_operation_replaces_or_deletes_a_reading() {
    let paths = description()["paths"].as_object().unwrap();
    let mut methods = Vec::new();
    for (path, item) in paths.iter().filter(|(path, _)| path.starts_with("/api/v1/measurements")) {
        methods.extend(item.as_object().unwrap().keys().map(|method| format!("{method} {path}")));
    }
    methods.sort();
    let expected = [
        "get /api/v1/measurements",
        "get /api/v1/measurements/{id}",
        "post /api/v1/measurements",
        "post /api/v1/measurements/{id}/correction",
    ];
    assert_eq!(methods, expected);
}

on_both!(a_correction_does_not_change_hands, |world| {
    world.small_fleet();
    let worker = world.member("BK", &["builder"], &["read", "write"]);
    let inspector = world.member("IN", &["inspector"], &["read", "write"]);
    let id = new_id();
    let repair = |text: &str| json!({ "id": id, "model": "SG-01", "kind": "R5", "occurred_at": "2026-05-20T10:00:00Z", "text": text });
    worker.post("/repairs", &repair("servo renwed")).expect(201);
    let path = format!("/repairs/{id}/correction");
    let send = |caller: &Caller, fact: Value| {
        caller.post(&path, &json!({ "id": new_id(), "reason": "a letter", "fact": fact }))
    };
    // Nobody says in a correction that somebody else did it, not even of one's own entry.
    let mut by_another = repair("servo renewed");
    by_another["done_by"] = json!("AV");
    send(&worker, by_another.clone()).problem(403, "scope_missing");
    send(&inspector, by_another).problem(403, "scope_missing");
    let mut by_me = repair("servo renewed");
    by_me["done_by"] = json!("IN");
    send(&inspector, by_me).problem(403, "scope_missing");
    send(&inspector, repair("servo renewed")).expect(201);
    let stands = world.av.get(&format!("/repairs/{id}")).expect(200).json();
    assert_eq!((&stands["text"], &stands["done_by"]), (&json!("servo renewed"), &id_of(world, "BK")));
    // So the worker does not become a second person by it, and who corrected the letter may still be one.
    let release = |second: &str| json!({ "id": new_id(), "repair": id, "second_person": second, "occurred_at": "2026-05-20T12:00:00Z" });
    worker.post("/releases", &release("BK")).problem(403, "not_allowed");
    inspector.post("/releases", &release("IN")).expect(201);
});
