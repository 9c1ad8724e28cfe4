//! Campaigns over HTTP: tried out, opened, worked off, closed; stock.

use preen_tests::on_both;
use preen_tests::world::{World, new_id};
use serde_json::{Value, json};

/// SG-01 with two flap servos of batch B in a centre panel, one more of each batch on the shelf.
fn two_servos(world: &World) {
    world.small_fleet();
    let at = "2025-04-05T06:00:00Z";
    let servo = |tag: &str, batch: &str| {
        json!({ "tag": tag, "part": "SV08", "batch": batch, "mass_g": 10.4, "state": "serviceable",
                "location": "shelf 2" })
    };
    for (tag, batch) in [("B1", "B"), ("B2", "B"), ("B3", "B"), ("C1", "C")] {
        world.add("components", servo(tag, batch));
    }
    world.component("PN-1", "PANEL");
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", at);
    world.fit("B1", json!({ "component": "PN-1" }), "FS.L", at);
    world.fit("B2", json!({ "component": "PN-1" }), "FS.R", at);
}

fn campaign() -> Value {
    json!({
        "id": new_id(), "tag": "CA-1", "occurred_at": "2026-05-20T06:00:00Z", "part": "SV08", "batch": "B",
        "position_kind": "flap servo", "actions": [
            { "number": 1, "task": "inspect", "text": "look for cracks", "by_on": "2026-05-20" },
            { "number": 2, "task": "replace", "text": "batch C", "within_flights": 30, "replace_with_batch": "C" },
        ]
    })
}

fn counts(progress: &Value) -> [i64; 5] {
    ["targets", "open", "overdue", "kept_out", "done"].map(|key| progress["counts"][key].as_i64().unwrap())
}

/// What the campaign says of SG-01.
fn grounds(world: &World) -> Vec<String> {
    let board = world.av.get("/may-fly?model=SG-01").expect(200).json();
    let reasons = board["models"][0]["reasons"].as_array().unwrap();
    let of_campaign =
        reasons.iter().filter(|reason| reason["code"].as_str().unwrap().starts_with("campaign"));
    of_campaign.map(|reason| reason["code"].as_str().unwrap().to_owned()).collect()
}

on_both!(a_campaign_is_tried_out_and_opened, |world| {
    two_servos(world);
    let body = campaign();
    let before = world.av.get("/campaign-progress").expect(200).json();
    assert_eq!(before["campaigns"], json!([]));
    let shown = world.av.post("/campaigns?preview=true", &body).expect(200).json();
    assert_eq!(shown["is_preview"], true);
    assert_eq!(counts(&shown["progress"]), [3, 0, 3, 0, 0], "{shown}");
    let need = &shown["progress"]["needs"][0];
    assert_eq!(
        (&need["need_count"], &need["on_shelf_count"], &need["short_count"]),
        (&json!(2), &json!(1), &json!(1))
    );
    world.av.get("/campaigns/CA-1").problem(404, "not_found");
    world.av.post("/campaigns?preview=perhaps", &body).problem(400, "bad_parameter");
    world.av.post("/campaigns?view=true", &body).problem(400, "bad_parameter");
    let pilot = world.member("BK", &["pilot"], &["read", "write"]);
    pilot.post("/campaigns?preview=true", &body).problem(403, "not_allowed");
    pilot.post("/campaigns", &body).problem(403, "not_allowed");
    let mut wrong = body.clone();
    wrong["position_kind"] = json!("flaps");
    world.av.post("/campaigns?preview=true", &wrong).problem(422, "invalid_fields");

    world.av.post("/campaigns", &body).expect(201);
    world.av.post("/campaigns", &body).expect(200);
    let progress = world.av.get("/campaigns/CA-1/progress?models=SG-01").expect(200).json();
    assert_eq!(counts(&progress), counts(&shown["progress"]));
    assert_eq!(progress["needs"][0]["models_need_count"], 2);
    assert_eq!(progress["work_list"][0]["model"], "SG-01");
    world.av.get("/campaigns/CA-1/progress?models=SG-99").problem(400, "bad_parameter");
    world.av.get("/campaigns/CA-9/progress").problem(404, "not_found");
    world.av.get("/campaigns/CA-1/progress?as_of=2026-05-19").problem(404, "not_found");
    let visitor = world.member("VW", &["visitor"], &["read"]);
    visitor.get("/campaigns/CA-1/progress").problem(404, "not_found");
    assert_eq!(visitor.get("/campaign-progress").expect(200).json()["campaigns"], json!([]));
    assert_eq!(visitor.get("/stock").expect(200).json()["rows"], json!([]));
    let list = world.av.get("/campaign-progress").expect(200).json();
    assert_eq!(list["campaigns"][0]["covers"], "SV08/B at flap servo");
    assert_eq!(list["campaigns"][0]["short_count"], 1);
});

on_both!(a_campaign_is_worked_off_and_closed, |world| {
    two_servos(world);
    world.av.post("/campaigns", &campaign()).expect(201);
    assert_eq!(grounds(world), ["campaign_overdue", "campaign_limit"]);
    let work = |component: &str, result: &str, at: &str| json!({ "campaign": "CA-1", "action": 1, "component": component, "result": result, "occurred_at": at });
    for part in ["B1", "B2", "B3"] {
        world.add("campaign-works", work(part, "pass", "2026-05-20T10:00:00Z"));
    }
    assert_eq!(grounds(world), ["campaign_limit"], "inspected by the day");
    world.add("campaign-works", work("B1", "fail", "2026-05-20T11:00:00Z"));
    assert_eq!(grounds(world), ["campaign_work_failed", "campaign_limit"]);
    let looked = world.av.get("/campaign-works?component=B1&action=1").expect(200).json();
    assert_eq!(looked["items"].as_array().unwrap().len(), 2);

    // B1 goes for C1; B2 stays, with a reason.
    let swap = json!({ "occurred_at": "2026-05-20T12:00:00Z", "exchanges": [{
        "path": "W.C/FS.L", "on": "C1", "installation": new_id(), "removal": new_id(), "reason": "preventive" }] });
    world.av.post("/models/SG-01/swap", &swap).expect(201);
    let close =
        |waived: Value| json!({ "id": new_id(), "occurred_at": "2026-05-20T18:00:00Z", "waived": waived });
    let refused = world.av.post("/campaigns/CA-1/close?preview=true", &close(json!([])));
    refused.problem(409, "refused_by_rule");
    for part in ["B1 (shelf)", "B2 (SG-01 W.C/FS.R)", "B3 (shelf)"] {
        assert!(refused.text.contains(part), "{part}: {}", refused.text);
    }
    world.av.post("/campaigns/CA-1/close", &close(json!([]))).problem(409, "refused_by_rule");
    world.add("conditions", json!({ "component": "B1", "state": "scrapped", "reason": "cracked", "occurred_at": "2026-05-20T13:00:00Z" }));
    let waived = close(json!([
        { "component": "B2", "reason": "looked at twice, stays until winter" },
        { "component": "B3", "reason": "marked for ailerons" },
    ]));
    let shown = world.av.post("/campaigns/CA-1/close?preview=true", &waived).expect(200).json();
    assert_eq!((&shown["is_preview"], &shown["progress"]["is_open"]), (&json!(true), &json!(false)));
    assert_eq!(grounds(world), ["campaign_limit"], "a preview closes nothing");
    let pilot = world.member("BK", &["pilot", "builder"], &["read", "write"]);
    pilot.post("/campaigns/CA-1/close", &waived).problem(403, "not_allowed");
    pilot.post("/campaigns/CA-1/close?preview=true", &waived).problem(403, "not_allowed");
    let done = world.av.post("/campaigns/CA-1/close", &waived).expect(201).json();
    assert_eq!(done["is_preview"], false);
    assert_eq!(world.av.post("/campaigns/CA-1/close", &waived).expect(200).json(), done);
    assert_eq!(grounds(world), Vec::<String>::new());
    let progress = world.av.get("/campaigns/CA-1/progress").expect(200).json();
    assert_eq!((&progress["is_open"], &progress["closed_by"]), (&json!(false), &json!("AV")));
    assert_eq!(progress["waived"][0]["reason"], "looked at twice, stays until winter");
    assert_eq!(progress["left"][0]["replaced_by"], "C1");
    let then = world.av.get("/campaigns/CA-1/progress?as_of=2026-05-20T17:00:00Z").expect(200).json();
    assert_eq!(then["is_open"], true);

    // The closing was a slip: it is voided, and the campaign is open again.
    let slip = json!({ "id": new_id(), "is_void": true, "reason": "the wrong campaign" });
    let closing = waived["id"].as_str().unwrap();
    world.av.post(&format!("/campaign-closures/{closing}/correction"), &slip).expect(201);
    assert_eq!(grounds(world), ["campaign_limit"]);
    world.av.post("/campaigns/CA-9/close", &waived).problem(404, "not_found");
});

on_both!(stock_of_a_part_type_by_batch, |world| {
    two_servos(world);
    world.av.post("/campaigns", &campaign()).expect(201);
    let loan = json!({ "item": { "component": "B3" }, "lent_to": "AV", "occurred_at": "2026-05-20T10:00:00Z",
                       "from_on": "2026-05-20", "due_back_on": "2026-05-31" });
    world.add("loans", loan);
    let stock = world.av.get("/stock?part=SV08").expect(200).json();
    let rows = stock["rows"].as_array().unwrap();
    let count = |row: &Value, key: &str| row[key].as_i64().unwrap();
    assert_eq!(
        (count(&rows[0], "fitted_count"), count(&rows[0], "lent_count"), count(&rows[0], "ready_count")),
        (2, 1, 0)
    );
    assert_eq!(rows[0]["loose"][0]["lent_to"], "AV");
    let c = &rows[1];
    assert_eq!(
        (&c["batch"], count(c, "ready_count"), count(c, "reserved_count"), count(c, "short_count")),
        (&json!("C"), 1, 1, 1)
    );
    assert_eq!(c["reserved_for"], json!([{ "source": "CA-1", "need_count": 2 }]));
    assert_eq!(c["loose"][0]["location"], "shelf 2");
    assert_eq!(
        world.av.get("/stock").expect(200).json()["rows"].as_array().unwrap().len(),
        3,
        "and the panel"
    );
    world.av.get("/stock?part=SV99").problem(400, "bad_parameter");
    world.av.get("/stock?parts=SV08").problem(400, "bad_parameter");
});

on_both!(a_maker_s_serial_number_is_kept_and_compared, |world| {
    two_servos(world);
    world.add(
        "components",
        json!({ "tag": "X", "part": "SV08", "mass_g": 10.0, "state": "serviceable", "serial": "SN0150" }),
    );
    assert_eq!(world.av.get("/components/X").expect(200).json()["serial"], "SN0150");
    let mut body = campaign();
    body["batch"] = Value::Null;
    body["serial_from"] = json!("SN100");
    body["serial_to"] = json!("SN200");
    world.av.post("/campaigns", &body).expect(201);
    let stored = world.av.get("/campaigns/CA-1").expect(200).json();
    assert_eq!((&stored["serial_from"], &stored["serial_to"]), (&json!("SN100"), &json!("SN200")));
    let progress = world.av.get("/campaigns/CA-1/progress").expect(200).json();
    assert_eq!(progress["targets"].as_array().unwrap().len(), 1);
    assert_eq!(progress["targets"][0]["serial"], "SN0150");
    assert_eq!(progress["serials_unknown"], json!(["B1", "B2", "B3", "C1"]), "nobody wrote theirs down");
});
