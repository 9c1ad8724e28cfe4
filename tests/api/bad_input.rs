//! Bad input: one clear problem that says what to mend, and nothing recorded.

use preen_tests::on_both;
use preen_tests::world::{design, flight, items, model, new_id, part};
use serde_json::{Value, json};

/// A flight with one field set to something else.
fn flight_with(field: &str, value: Value) -> Value {
    let mut body = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    body[field] = value;
    body
}

on_both!(fields_that_do_not_fit_are_named, |world| {
    world.small_fleet();
    let cases = [
        ("colour", json!("red"), "/colour", "nknown field"),
        ("occurred_at", json!("2026-05-20T10:00:00"), "/occurred_at", "time zone"),
        ("occurred_at", json!("yesterday"), "/occurred_at", "2026-05-23T14:00:00Z"),
        ("airtime_min", json!("long"), "/airtime_min", "nvalid type"),
        ("launches", json!(-1), "/launches", "nvalid value"),
        ("landing", json!("crashed"), "/landing", "soft"),
        ("model", json!("SG-99"), "/model", "no `SG-99` among the models"),
        ("pilot", json!("SG-01"), "/pilot", "among the members"),
        ("tag", json!("SG\u{7}01"), "/tag", "letters"),
        ("note", json!("beep\u{8}"), "/note", "line breaks"),
        ("id", json!("not-an-id"), "/id", "UUID"),
    ];
    for (field, value, pointer, text) in cases {
        let reply = world.av.post("/flights", &flight_with(field, value));
        reply.problem(422, "invalid_fields");
        let wrong = reply.wrong_field();
        assert_eq!(wrong.0, pointer, "{}", reply.text);
        assert!(wrong.2.contains(text), "{field}: {}", wrong.2);
    }
    let mut missing = flight("SG-01", "AV", "2026-05-20T10:00:00Z");
    missing.as_object_mut().unwrap().remove("landing");
    assert_eq!(world.av.post("/flights", &missing).expect(422).wrong_field().0, "/landing");
    assert_eq!(items(world.av.get("/flights")).len(), 0);
});

on_both!(a_list_is_never_taken_for_the_fields_of_a_shape, |world| {
    world.small_fleet();
    let rock = json!({
        "joint": { "engagement_mm": 105.0, "panel_mm": 990.0, "loose": "one" }, "limits_mm": [0.12, 0.35]
    });
    let cases = [
        ("/compute/joiner", json!({ "rock": rock }), "/rock/limits_mm"),
        ("/flights", json!([new_id(), "SG-01", "AV", "2026-05-20T10:00:00Z"]), ""),
        ("/designs", json!({ "id": new_id(), "tag": "D", "positions": [["W.C", "panel"]] }), "/positions/0"),
    ];
    for (path, body, pointer) in cases {
        let reply = world.av.post(path, &body);
        assert_eq!(reply.status, 422, "{path}: {}", reply.text);
        let wrong = reply.wrong_field();
        assert_eq!(wrong.0, pointer, "{}", reply.text);
        assert!(wrong.2.contains("object"), "{path}: {}", wrong.2);
    }
    assert_eq!(items(world.av.get("/flights")).len(), 0);
});

on_both!(what_lies_ahead_is_refused, |world| {
    world.small_fleet();
    for ahead in ["2026-05-21T09:00:00Z", "2026-05-23T08:00:00Z"] {
        let reply = world.av.post("/flights", &flight("SG-01", "AV", ahead));
        reply.problem(422, "invalid_fields");
        let wrong = reply.wrong_field();
        assert_eq!((wrong.0.as_str(), wrong.1.as_str()), ("/occurred_at", "in_the_future"));
        assert!(wrong.2.contains("clock"), "{}", wrong.2);
    }
});

on_both!(a_flight_before_the_models_first_day_is_refused, |world| {
    world.small_fleet();
    let reply = world.av.post("/flights", &flight("SG-01", "AV", "2025-04-04T10:00:00Z"));
    reply.problem(409, "refused_by_rule");
    assert_eq!(reply.wrong_field().1, "before_first_flight");
    world.add("flights", flight("SG-01", "AV", "2025-04-05T10:00:00Z"));
});

on_both!(a_part_is_in_one_place_and_a_place_holds_one_part, |world| {
    world.small_fleet();
    world.add("models", model("SG-02", "AV"));
    world.component("PN-1", "PANEL");
    world.component("PN-2", "PANEL");
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", "2026-05-01T08:00:00Z");
    let fit = |component: &str, model: &str| {
        world.av.post(
            "/installations",
            &json!({
                "id": new_id(), "component": component, "inside": { "model": model }, "position": "W.C",
                "occurred_at": "2026-05-02T08:00:00Z"
            }),
        )
    };
    fit("PN-1", "SG-02").problem(409, "refused_by_rule");
    fit("PN-2", "SG-01").problem(409, "refused_by_rule");
    fit("PN-2", "SG-02").expect(201);
});

on_both!(a_part_that_is_not_serviceable_is_not_fitted, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    world.add(
        "conditions",
        json!({
            "component": "PN-1", "occurred_at": "2026-05-01T08:00:00Z", "state": "held", "reason": "a query"
        }),
    );
    let fit = json!({
        "id": new_id(), "component": "PN-1", "inside": { "model": "SG-01" }, "position": "W.C",
        "occurred_at": "2026-05-02T08:00:00Z"
    });
    let reply = world.av.post("/installations", &fit);
    reply.problem(409, "refused_by_rule");
    assert!(reply.json()["detail"].as_str().unwrap().contains("held"), "{}", reply.text);
});

on_both!(a_batch_forbidden_at_a_position_is_not_fitted, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    world.fit("PN-1", json!({ "model": "SG-01" }), "W.C", "2026-05-01T08:00:00Z");
    for (tag, batch) in [("B001", "B"), ("C001", "C")] {
        world.add(
            "components",
            json!({ "tag": tag, "part": "SV08", "batch": batch, "mass_g": 10.4, "state": "serviceable" }),
        );
    }
    world.add(
        "campaigns",
        json!({
            "tag": "CA-1", "occurred_at": "2026-05-08T08:00:00Z", "part": "SV08", "batch": "B",
            "position_kind": "flap servo",
            "actions": [{ "number": 1, "task": "replace", "text": "replace", "replace_with_batch": "C" }]
        }),
    );
    let fit = |tag: &str| {
        world.av.post(
            "/installations",
            &json!({
                "id": new_id(), "component": tag, "inside": { "component": "PN-1" }, "position": "FS.L",
                "occurred_at": "2026-05-10T08:00:00Z"
            }),
        )
    };
    let refused = fit("B001");
    refused.problem(409, "refused_by_rule");
    assert!(refused.text.contains("CA-1"), "{}", refused.text);
    fit("C001").expect(201);
});

on_both!(nothing_is_nested_in_itself, |world| {
    world.small_fleet();
    world.component("PN-1", "PANEL");
    let fit = json!({
        "id": new_id(), "component": "PN-1", "inside": { "component": "PN-1" }, "position": "FS.L",
        "occurred_at": "2026-05-02T08:00:00Z"
    });
    let reply = world.av.post("/installations", &fit);
    assert!(reply.status == 409 || reply.status == 422, "{}", reply.text);
    assert!(reply.text.contains("itself"), "{}", reply.text);
});

on_both!(a_mass_is_not_negative, |world| {
    world.small_fleet();
    let mut body = part("SV09", "servo");
    body["id"] = json!(new_id());
    body["nominal_mass_g"] = json!(-10.4);
    let reply = world.av.post("/parts", &body);
    reply.problem(422, "invalid_fields");
    assert_eq!(reply.wrong_field().0, "/nominal_mass_g");
});

on_both!(numbers_are_finite, |world| {
    for number in ["NaN", "Infinity", "-Infinity", "1e999"] {
        let id = new_id();
        let body = format!(
            r#"{{"id":"{id}","tag":"SV09","kind":"servo","tracking":"serial","nominal_mass_g":{number}}}"#
        );
        let problem = world.av.post_text("/parts", &body).problem(400, "malformed_json");
        assert!(problem["detail"].as_str().unwrap().contains("finite"), "{problem}");
    }
});

on_both!(a_key_that_stands_twice_is_named, |world| {
    world.small_fleet();
    let flight = flight("SG-01", "AV", "2026-05-20T10:00:00Z").to_string();
    let doubled = flight.replacen('{', r#"{"airtime_min":3.0,"#, 1);
    let reply = world.av.post_text("/flights", &doubled);
    reply.problem(422, "invalid_fields");
    let (pointer, code, text) = reply.wrong_field();
    assert_eq!((pointer.as_str(), code.as_str()), ("/airtime_min", "duplicate_key"));
    assert!(text.contains("`airtime_min`"), "{text}");
    // Inside lists and objects, by another spelling, and in an outbox.
    let nested =
        design("TERN").to_string().replacen(r#""is_required""#, r#""\u0070ath":"X","is_required""#, 1);
    let reply = world.av.post_text("/designs", &nested);
    reply.problem(422, "invalid_fields");
    assert_eq!(reply.wrong_field().0, "/positions/0/path");
    let outbox = format!(r#"{{"facts":[{{"noun":"flights","fact":{doubled}}}]}}"#);
    let reply = world.av.post_text("/facts", &outbox);
    reply.problem(422, "invalid_fields");
    assert_eq!(reply.wrong_field().0, "/facts/0/fact/airtime_min");
    assert_eq!(items(world.av.get("/flights")).len(), 0);
    world.av.post_text("/flights", &flight).expect(201);
});

on_both!(a_body_has_its_limits, |world| {
    let big = format!("{{\"id\":\"{}\"}}", "x".repeat(10 << 20));
    world.av.post_text("/parts", &big).problem(413, "too_large");
    world.av.post_text("/parts", "{\"id\":").problem(400, "malformed_json");
    world.av.post_text("/parts", "").problem(400, "malformed_json");
    world.av.post_text("/parts", "[]").expect(422);
    let plain = world.av.request("POST", "/parts").header("content-type", "text/plain").body("{}");
    preen_tests::Reply::of(plain).problem(415, "not_json");
});

on_both!(unknown_paths_and_methods_are_problems_too, |world| {
    world.av.get("/colours").problem(404, "no_such_path");
    world.av.get("/flights/SG-01/colours").problem(404, "no_such_path");
    let reply = preen_tests::Reply::of(world.av.request("DELETE", "/flights"));
    reply.problem(405, "method_not_allowed");
    assert_eq!(reply.header("allow"), Some("GET, POST"));
    assert!(reply.header("x-request-id").is_some());
});
