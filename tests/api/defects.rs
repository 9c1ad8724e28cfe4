//! Defects put off over HTTP: both ways to record it, the preview, who may, and what the answers say then.

use preen_tests::http::Caller;
use preen_tests::on_both;
use preen_tests::world::{World, flight, items, new_id};
use serde_json::{Value, json};

fn defect(world: &World, tag: &str, more: Value) {
    let mut body = json!({
        "tag": tag, "model": "SG-01", "subject": { "model": "SG-01" }, "severity": "restrict",
        "occurred_at": "2026-05-20T19:00:00Z", "text": "flap hinge stiff",
    });
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    world.add("defects", body);
}

fn terms(more: Value) -> Value {
    let mut body = json!({
        "id": new_id(), "occurred_at": "2026-05-21T08:00:00Z", "fix_by_on": "2026-05-30",
        "restrictions": [{ "kind": "max_flights", "value": 4.0 }, { "kind": "no_contest" }],
        "reason": "hinge ordered",
    });
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    body
}

fn standing(by: &Caller, tag: &str) -> Value {
    by.get(&format!("/defects/{tag}/standing")).expect(200).json()
}

on_both!(a_deferral_is_previewed_recorded_and_told, |world| {
    world.small_fleet();
    defect(world, "DE-1", json!({ "cause": "wear", "cause_note": "sand in the tape" }));
    let before = standing(&world.av, "DE-1");
    assert_eq!((&before["severity"], &before["limit_on"]), (&json!("restrict"), &json!("2026-06-19")));
    assert_eq!((&before["can_be_deferred"], &before["may_sign"]), (&json!(true), &json!(["AV"])));
    assert_eq!((&before["cause"], &before["cause_note"]), (&json!("wear"), &json!("sand in the tape")));

    let body = terms(json!({}));
    let preview = world.av.post("/defects/DE-1/deferral?preview=true", &body).expect(200).json();
    assert_eq!(preview["is_preview"], true);
    assert_eq!(preview["after"]["limit_on"], "2026-05-30");
    assert_eq!(items(world.av.get("/deferrals")), Vec::<Value>::new(), "nothing is written");
    let done = world.av.post("/defects/DE-1/deferral", &body).expect(201).json();
    assert_eq!((&done["before"], &done["after"]), (&preview["before"], &preview["after"]));
    // The same again is known; another under its id is not taken.
    world.av.post("/defects/DE-1/deferral", &body).expect(200);
    world
        .av
        .post("/deferrals", &{
            let mut again = body.clone();
            again["defect"] = json!("DE-1");
            again
        })
        .expect(200);
    let other = terms(json!({ "id": body["id"], "reason": "another" }));
    world.av.post("/defects/DE-1/deferral", &other).problem(409, "id_taken");

    let listed = items(world.av.get("/deferrals?defect=DE-1"));
    assert_eq!(listed.len(), 1);
    assert_eq!(listed[0]["restrictions"], body["restrictions"]);
    assert_eq!(listed[0]["recorded_at"], "2026-05-21T08:00:00Z");
    let after = standing(&world.av, "DE-1");
    assert_eq!(after["restrictions"][0]["value"], 4.0);
    assert_eq!((&after["flights_left"], &after["becomes"]), (&json!(4), &json!("ground")));
    world.set_clock("2026-05-21T10:00:00Z");
    world.add("flights", flight("SG-01", "AV", "2026-05-21T09:00:00Z"));
    assert_eq!(standing(&world.av, "DE-1")["flights_left"], 3);
    let board = world.av.get("/may-fly?model=SG-01").expect(200).json();
    let tightest = &board["models"][0]["tightest"];
    assert_eq!(tightest[0]["kind"], "max_flights");
    assert_eq!((&tightest[0]["value"], &tightest[0]["sources"]), (&json!(3.0), &json!(["DE-1"])));
    assert_eq!(standing_on(world, "2026-05-31")["severity"], "ground");
    assert_eq!(standing_on(world, "2026-05-30")["severity"], "restrict");
});

fn standing_on(world: &World, on: &str) -> Value {
    world.av.get(&format!("/defects/DE-1/standing?on={on}")).expect(200).json()
}

on_both!(who_defers_and_who_extends, |world| {
    world.small_fleet();
    let pilot = world.member("DR", &["pilot"], &["read", "write"]);
    let owner = world.member("CM", &["pilot"], &["read", "write"]);
    let inspector = world.member("QS", &["inspector"], &["read", "write"]);
    let visitor = world.member("VW", &["visitor"], &["read", "write"]);
    world.add("models", preen_tests::world::model("SG-04", "CM"));
    let on = json!({ "model": "SG-04", "subject": { "model": "SG-04" } });
    defect(world, "DE-1", on.clone());
    visitor.get("/defects/DE-1/standing").problem(404, "not_found");
    visitor.post("/defects/DE-1/deferral", &terms(json!({}))).problem(404, "not_found");
    for way in ["/defects/DE-1/deferral", "/defects/DE-1/deferral?preview=true"] {
        pilot.post(way, &terms(json!({}))).problem(403, "not_allowed");
    }
    owner.post("/defects/DE-1/deferral", &terms(json!({}))).expect(201);
    // Not the owner once more, and not who signed first.
    owner.post("/defects/DE-1/deferral", &terms(json!({}))).problem(403, "not_allowed");
    let extension = || terms(json!({ "fix_by_on": "2026-06-05" }));
    inspector.post("/defects/DE-1/deferral", &extension()).expect(201);
    let said = world.av.post("/defects/DE-1/deferral", &extension()).problem(409, "refused_by_rule");
    assert!(said.to_string().contains("deferred and extended already"), "{said}");

    defect(world, "DE-2", on);
    inspector.post("/defects/DE-2/deferral", &terms(json!({}))).expect(201);
    let said =
        inspector.post("/defects/DE-2/deferral?preview=true", &extension()).problem(409, "refused_by_rule");
    assert!(said.to_string().contains("QS signed for DE-2 first: another inspector extends it"), "{said}");
    let by_fact = {
        let mut body = extension();
        body["defect"] = json!("DE-2");
        body
    };
    inspector.post("/deferrals", &by_fact).problem(409, "refused_by_rule");
    inspector
        .post("/deferrals", &{
            let mut b = by_fact.clone();
            b["deferred_by"] = json!("AV");
            b
        })
        .problem(403, "scope_missing");
    world.av.post("/deferrals", &by_fact).expect(201);
    let signed: Vec<Value> = standing(&world.av, "DE-2")["deferrals"].as_array().unwrap().clone();
    assert_eq!((&signed[0]["by"], &signed[1]["by"]), (&json!("QS"), &json!("AV")));
    assert_eq!(signed[1]["is_extension"], true);
});

on_both!(terms_that_do_not_do, |world| {
    world.small_fleet();
    defect(world, "DE-1", json!({ "severity": "ground", "cause": "swollen_pack" }));
    let said = world.av.post("/defects/DE-1/deferral", &terms(json!({}))).problem(409, "refused_by_rule");
    assert!(said.to_string().contains("never deferred"), "{said}");
    defect(world, "DE-2", json!({}));
    let wrong = |changes: Value| world.av.post("/defects/DE-2/deferral", &terms(changes)).wrong_field().0;
    assert_eq!(wrong(json!({ "restrictions": [] })), "/restrictions");
    assert_eq!(wrong(json!({ "restrictions": [{ "kind": "slowly" }] })), "/restrictions/0/kind");
    assert_eq!(wrong(json!({ "fix_by_on": "2026-05-20" })), "/fix_by_on");
    assert_eq!(wrong(json!({ "within_flights": 0 })), "/within_flights");
    assert_eq!(wrong(json!({ "defect": "DE-1" })), "/defect");
    assert_eq!(wrong(json!({ "colour": "red" })), "/colour");
    assert_eq!(
        wrong(json!({ "restrictions": [{ "kind": "max_wind", "value": -1 }] })),
        "/restrictions/0/value"
    );
    world.av.post("/defects/DE-9/deferral", &terms(json!({}))).problem(404, "not_found");
    world.av.get("/defects/DE-9/standing").problem(404, "not_found");
    world.av.post("/defects/DE-2/deferral?dry=true", &terms(json!({}))).problem(400, "bad_parameter");
    let body = json!({
        "id": new_id(), "model": "SG-01", "subject": { "model": "SG-01" }, "severity": "watch", "cause": "failsafe",
        "occurred_at": "2026-05-20T19:00:00Z", "text": "holds the last position",
    });
    assert_eq!(world.av.post("/defects", &body).wrong_field().0, "/severity");
});

on_both!(corrected_and_voided, |world| {
    world.small_fleet();
    defect(world, "DE-1", json!({}));
    let body = terms(json!({ "tag": "DF-1" }));
    world.av.post("/defects/DE-1/deferral", &body).expect(201);
    let mut corrected = body.clone();
    corrected["defect"] = json!("DE-1");
    corrected["fix_by_on"] = json!("2026-05-28");
    let correction = json!({ "id": new_id(), "reason": "the 28th was agreed", "fact": corrected });
    world.av.post("/deferrals/DF-1/correction", &correction).expect(201);
    assert_eq!(world.av.get("/deferrals/DF-1").expect(200).json()["fix_by_on"], "2026-05-28");
    assert_eq!(standing(&world.av, "DE-1")["limit_on"], "2026-05-28");
    // The defect cannot become one that is never deferred while it is.
    let mut worse = world.av.get("/defects/DE-1").expect(200).json();
    for stamp in ["recorded_at", "recorded_by", "revision"] {
        worse.as_object_mut().unwrap().remove(stamp);
    }
    worse["severity"] = json!("ground");
    let worse = json!({ "id": new_id(), "reason": "it is cracked", "fact": worse });
    world.av.post("/defects/DE-1/correction", &worse).problem(409, "refused_by_rule");
    let void = json!({ "id": new_id(), "reason": "never signed", "is_void": true });
    world.av.post("/deferrals/DF-1/correction", &void).expect(201);
    assert_eq!(standing(&world.av, "DE-1")["deferrals"], json!([]));
    world
        .av
        .post(
            "/defects/DE-1/correction",
            &json!({ "id": new_id(), "reason": "it is cracked", "fact": worse["fact"] }),
        )
        .expect(201);
    assert_eq!(standing(&world.av, "DE-1")["severity"], "ground");
});

on_both!(found_wrong_names_its_reading, |world| {
    world.small_fleet();
    defect(world, "DE-1", json!({}));
    let closing = |more: Value| {
        let mut body = json!({
            "id": new_id(), "defect": "DE-1", "kind": "found_wrong", "text": "it is free",
            "occurred_at": "2026-05-21T08:00:00Z",
        });
        for (key, value) in more.as_object().unwrap() {
            body[key] = value.clone();
        }
        body
    };
    let said = world.av.post("/closures", &closing(json!({}))).problem(409, "refused_by_rule");
    assert!(said.to_string().contains("measure SG-01 again"), "{said}");
    world.add(
        "measurements",
        json!({ "tag": "ME-1", "subject": { "model": "SG-01" }, "quantity": "gap", "unit": "mm", "values": [0.1],
                "occurred_at": "2026-05-21T07:00:00Z" }),
    );
    let (pointer, ..) = world.av.post("/closures", &closing(json!({ "measurement": "ME-2" }))).wrong_field();
    assert_eq!(pointer, "/measurement");
    world.av.post("/closures", &closing(json!({ "measurement": "ME-1" }))).expect(201);
    let closed = standing(&world.av, "DE-1");
    assert_eq!((&closed["is_open"], &closed["severity"]), (&json!(false), &Value::Null));
    let kinds: Vec<&str> =
        closed["events"].as_array().unwrap().iter().map(|event| event["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["defect", "closure"]);
    world.av.post("/defects/DE-1/deferral", &terms(json!({}))).problem(409, "refused_by_rule");
    // As it was known and as it was then.
    let then = world.av.get("/defects/DE-1/standing?as_of=2026-05-20").expect(200).json();
    assert_eq!((&then["is_open"], &then["severity"]), (&json!(true), &json!("restrict")));
});
