//! Bad input on the demo club, over REST on both databases: each is refused with its code and a sentence that says what
//! to do instead, and leaves the record as it was.

use preen_tests::Database;
use preen_tests::http::{Caller, Reply};
use preen_tests::world::{World, new_id};
use serde_json::{Value, json};

#[test]
fn on_sqlite() {
    refuses(&World::demo(Database::Sqlite));
}

#[test]
fn on_postgres() {
    refuses(&World::demo(Database::Postgres));
}

/// Refused with a status, and its errors name a code and say so much.
#[track_caller]
fn no(reply: &Reply, status: u16, code: &str, words: &str) {
    let body = reply.json();
    assert_eq!(reply.status, status, "{}", reply.text);
    let errors = body["errors"].as_array().cloned().unwrap_or_default();
    let found = errors.iter().find(|error| error["code"] == code);
    let found = found.unwrap_or_else(|| panic!("no {code}: {}", reply.text));
    assert!(found["text"].as_str().unwrap().contains(words), "{found}");
}

fn revision(caller: &Caller) -> Value {
    caller.get("/club").expect(200).json()["revision"].clone()
}

fn refuses(world: &World) {
    world.set_clock("2026-05-22T20:00:00Z");
    let scopes = &["read", "write"];
    let [bk, qs, av, fs, cm] = ["BK", "QS", "AV", "FS", "CM"].map(|tag| world.token_of(tag, scopes, None));
    let before = revision(&qs);

    // Release before the end of the cure; the worker as second person.
    let release = |at: &str, more: Value| {
        let mut body = json!({ "id": new_id(), "repair": "RE-014", "occurred_at": at });
        for (key, value) in more.as_object().unwrap() {
            body[key] = value.clone();
        }
        body
    };
    let early = release("2026-05-22T20:00:00Z", json!({}));
    no(&qs.post("/releases", &early), 409, "still_curing", "2026-05-22T21:00:00Z");
    world.set_clock("2026-05-22T22:00:00Z");
    let own = release("2026-05-22T21:30:00Z", json!({ "second_person": "BK" }));
    no(&qs.post("/releases", &own), 409, "worker_as_second_person", "BK");

    // What grounds is not put off.
    let defer = json!({ "id": new_id(), "occurred_at": "2026-05-22T20:30:00Z", "reason": "servo ordered",
                        "restrictions": [{ "kind": "max_flights", "value": 4.0 }], "fix_by_on": "2026-05-30" });
    no(
        &fs.post("/defects/DE-008/deferral", &defer),
        409,
        "ground_is_never_deferred",
        "repair and release it",
    );

    // Out of quarantine into a model.
    let fit = json!({ "id": new_id(), "component": "SV08-B008", "inside": { "component": "PN-C-04" },
                      "position": "FS.L", "occurred_at": "2026-05-22T20:30:00Z" });
    no(&cm.post("/installations", &fit), 409, "not_serviceable", "only a serviceable part may be fitted");

    // A lead with no slack left is not cut again.
    let cut = json!({ "id": new_id(), "model": "SG-03", "kind": "R3", "components": ["CF-SG-03-R"],
                      "occurred_at": "2026-05-22T20:30:00Z", "text": "contacts worn", "slack_used_mm": 7.0 });
    no(&bk.post("/repairs", &cut), 409, "no_slack_left", "splice in an extension");

    // A reading in a unit that nobody judges it by, tried out or recorded.
    let reading = json!({ "id": new_id(), "subject": { "component": "SV08-B001" }, "quantity": "servo_free_play",
                          "values": [0.7], "unit": "mm", "occurred_at": "2026-05-22T20:30:00Z" });
    no(&av.post("/measurements?preview=true", &reading), 422, "wrong_unit", "is read in deg");
    no(&av.post("/measurements", &reading), 422, "wrong_unit", "convert the reading from mm");

    // A campaign with open parts.
    let close = json!({ "id": new_id(), "occurred_at": "2026-05-22T20:30:00Z", "text": "enough" });
    no(&qs.post("/campaigns/CA-2026-1/close", &close), 409, "target_open", "SV08-B001");

    // A design in which a seat lies inside itself.
    let seat = |path: &str, inside: &str, holds: &str| {
        json!({ "path": path, "name": path, "kind": "panel", "accepts": "panel", "is_required": false, "inside": inside,
                "seat": holds, "x_mm": 0.0, "y_mm": 0.0, "z_mm": 0.0 })
    };
    let mut design = preen_tests::world::design("LOOP");
    design["positions"] = json!([seat("A", "B2", "A1"), seat("B", "A1", "B2")]);
    design["id"] = json!(new_id());
    no(&qs.post("/designs", &design), 422, "position_loop", "lies inside itself");

    // A panel that comes off while its model flies.
    let spans = qs.get("/installations?component=PN-L-04").expect(200).json();
    let fitted = spans["items"].as_array().unwrap().iter().last().unwrap()["id"].clone();
    let off = |at: &str| json!({ "id": new_id(), "component": "PN-L-04", "installation": fitted, "reason": "suspected", "occurred_at": at });
    no(
        &cm.post("/removals", &off("2026-05-17T12:10:00Z")),
        409,
        "in_the_air",
        "was in the air until 2026-05-17T12:18:00Z",
    );

    assert_eq!(revision(&qs), before, "nothing was recorded");
    sanding_and_corrections(world, &bk, &qs);
}

/// Those that need something on record first.
fn sanding_and_corrections(world: &World, bk: &Caller, qs: &Caller) {
    let repair = json!({ "id": new_id(), "tag": "RE-J", "model": "SG-03", "kind": "R1", "components": ["JN-SG-03-R"],
                         "occurred_at": "2026-05-22T20:30:00Z", "text": "too tight" });
    bk.post("/repairs", &repair).expect(201);
    let sand = |depth_mm: f64| {
        json!({ "id": new_id(), "repair": "RE-J", "occurred_at": "2026-05-22T20:40:00Z",
                "joiner": { "sanded": { "top_mm": depth_mm } } })
    };
    let far = bk.post("/repair-steps", &sand(0.15));
    assert!(matches!(far.status, 403 | 409) && far.text.contains("inspector"), "{}", far.text);
    no(&qs.post("/repair-steps", &sand(0.20)), 409, "sanded_too_far", "re-sleeve");

    // A correction is of an original, never of a correction.
    let typed = json!({ "id": new_id(), "tag": "ME-X", "subject": { "component": "JN-SG-03-R" }, "values": [0.15],
                        "quantity": "joiner_clearance_vertical", "unit": "mm", "occurred_at": "2026-05-22T21:00:00Z" });
    bk.post("/measurements", &typed).expect(201);
    let mut fact = typed.clone();
    fact["values"] = json!([0.16]);
    let first = json!({ "id": new_id(), "reason": "typed wrong", "fact": fact });
    bk.post("/measurements/ME-X/correction", &first).expect(201);
    let id = first["id"].as_str().unwrap();
    let mut nameless = fact.clone();
    nameless.as_object_mut().unwrap().remove("id");
    let again = json!({ "id": new_id(), "reason": "once more", "fact": nameless });
    let reply = bk.post(&format!("/measurements/{id}/correction"), &again);
    reply.problem(404, "not_found");
    let reply = bk.post(&format!("/corrections/{id}/correction"), &again);
    assert!(matches!(reply.status, 404 | 405), "{}", reply.text);
    // The original is corrected once more instead.
    fact["values"] = json!([0.17]);
    let mended = json!({ "id": new_id(), "reason": "once more", "fact": fact });
    bk.post("/measurements/ME-X/correction", &mended).expect(201);
    assert_eq!(bk.get("/measurements/ME-X").expect(200).json()["values"], json!([0.17]));

    // An extension is signed by another than the first signer.
    let av = world.token_of("AV", &["read", "write"], None);
    let defect = json!({ "id": new_id(), "tag": "DE-X", "model": "SG-01", "subject": { "model": "SG-01" }, "severity": "restrict",
                         "occurred_at": "2026-05-22T21:00:00Z", "text": "hinge stiff",
                         "restriction": { "kind": "no_contest" }, "restrictions": [{ "kind": "max_wind", "value": 6.0 }] });
    qs.post("/defects", &defect).expect(201);
    let extend = json!({ "id": new_id(), "occurred_at": "2026-05-22T21:10:00Z", "reason": "tape ordered",
                         "restrictions": [{ "kind": "no_contest" }], "fix_by_on": "2026-06-20" });
    let own = qs.post("/defects/DE-X/deferral", &extend);
    assert!(own.status == 409 || own.status == 403, "{}", own.text);
    assert!(own.text.contains("signed first") || own.text.contains("signed for DE-X first"), "{}", own.text);
    // Both restrictions that were stated hold until then.
    let board = av.get("/may-fly?model=SG-01").expect(200).json();
    let kinds: Vec<&str> = board["models"][0]["restrictions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|said| said["source"] == "DE-X")
        .map(|said| said["kind"].as_str().unwrap())
        .collect();
    assert_eq!(kinds, ["no_contest", "max_wind"]);
}
