//! Failed items of a check over REST: recorded with the part by its tag, heard in the board and the audit, and cleared.

use preen_tests::on_both;
use preen_tests::world::{World, new_id};
use serde_json::{Value, json};

fn failed(world: &World) -> Vec<Value> {
    let board = world.av.get("/may-fly?model=SG-01").expect(200).json();
    let reasons = board["models"][0]["reasons"].as_array().unwrap().clone();
    reasons.into_iter().filter(|reason| reason["code"] == "check_item_failed").collect()
}

fn check(group: &str, at: &str, items: Value) -> Value {
    json!({ "id": new_id(), "model": "SG-01", "group": group, "occurred_at": at, "result": "restrict",
            "is_summary": false, "items": items })
}

on_both!(a_failed_item_is_a_reason_until_it_is_followed_up, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    world.component("SV-1", "SV08");
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", "2025-04-05T06:00:00Z");
    world.fit("SV-1", json!({ "component": "PN-1" }), "FS.L", "2025-04-05T06:00:00Z");
    let items = json!([{ "item": "N25-02", "result": "fail", "value": 1.0, "component": "SV-1" }]);
    world.av.post("/inspections", &check("N25", "2026-05-01T10:00:00Z", items)).expect(201);
    let motor = json!([{ "item": "DF-05", "result": "fail" }]);
    world.av.post("/inspections", &check("DF", "2026-05-01T11:00:00Z", motor)).expect(201);
    let said = failed(world);
    assert_eq!(said.len(), 2, "{said:?}");
    assert_eq!((&said[0]["subject"], &said[0]["severity"]), (&json!("DF-05"), &json!("ground")));
    assert_eq!((&said[1]["subject"], &said[1]["severity"]), (&json!("N25-02"), &json!("restrict")));
    assert_eq!(said[1]["clear_by"], "pass N25-02 again on SV-1, repair it, or report the defect");
    let audit = world.av.get("/findings").expect(200).json();
    let found = audit["findings"].as_array().unwrap().iter();
    assert_eq!(found.filter(|found| found["code"] == "check_item_failed").count(), 2, "{audit}");
    // One is passed again, the other reported.
    let motor = json!([{ "item": "DF-05", "result": "pass" }]);
    world.av.post("/inspections", &check("DF", "2026-05-01T12:00:00Z", motor)).expect(201);
    assert_eq!(failed(world).len(), 1);
    let defect = json!({ "id": new_id(), "model": "SG-01", "subject": { "component": "SV-1" }, "severity": "restrict",
                         "occurred_at": "2026-05-01T13:00:00Z", "text": "play", "restriction": { "kind": "no_contest" } });
    world.av.post("/defects", &defect).expect(201);
    assert_eq!(failed(world), Vec::<Value>::new());
});
