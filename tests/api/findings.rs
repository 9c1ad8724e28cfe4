//! The records audit over HTTP: what is found, for whom, and what clears it.

use preen_tests::{World, on_both};
use serde_json::{Value, json};

fn codes(world: &World, path: &str) -> Vec<String> {
    let answer = world.av.get(path).expect(200).json();
    let list = answer["findings"].as_array().unwrap();
    list.iter().map(|found| found["code"].as_str().unwrap().to_owned()).collect()
}

fn reading(component: &str, quantity: &str, values: &Value, unit: &str, at: &str) -> Value {
    json!({
        "subject": { "component": component }, "quantity": quantity, "values": values, "unit": unit,
        "occurred_at": at,
    })
}

on_both!(what_the_record_shows_is_found_and_cleared, |world| {
    world.small_fleet();
    assert!(codes(world, "/findings").contains(&"position_empty".to_owned()));
    world.add("parts", json!({
        "tag": "PK3S", "kind": "pack", "tracking": "serial", "nominal_mass_g": 77.5, "rated_capacity_mah": 900,
        "new_cell_mohm": [4.9, 5.0, 5.0],
    }));
    world.component("PK-1", "PK3S");
    world.add("measurements", reading("PK-1", "capacity", &json!([742]), "mAh", "2026-05-20T10:00:00Z"));
    let answer = world.av.get("/findings?code=reading_beyond_limit").expect(200).json();
    let found = &answer["findings"][0];
    assert_eq!((&found["severity"], &found["subject"]), (&json!("watch"), &json!("PK-1")));
    assert_eq!((&found["reading"]["value"], &found["reading"]["unit"]), (&json!(82.4), &json!("%")));
    assert_eq!((&found["family"], &found["model"]), (&json!("readings"), &Value::Null));
    assert_eq!(answer["counts"], json!({ "ground": 0, "restrict": 0, "watch": 1 }));
    // By the day before nothing had been read.
    let before = world.av.get("/findings?code=reading_beyond_limit&as_of=2026-05-19").expect(200).json();
    assert_eq!(before["findings"], json!([]));
    // What it was read at cannot be told without a temperature; with it, one cell is at 1.43 times new.
    let cells = json!([6.1, 6.3, 8.9]);
    world.add("measurements", reading("PK-1", "cell_resistance", &cells, "mOhm", "2026-05-20T11:00:00Z"));
    assert!(codes(world, "/findings").contains(&"reading_without_temperature".to_owned()));
    let mut cold = reading("PK-1", "cell_resistance", &cells, "mOhm", "2026-05-20T12:00:00Z");
    cold["temperature_c"] = json!(14);
    world.add("measurements", cold);
    assert!(!codes(world, "/findings").contains(&"reading_without_temperature".to_owned()));
    // A fresh, better reading clears what was found.
    world.add("measurements", reading("PK-1", "capacity", &json!([880]), "mAh", "2026-05-20T13:00:00Z"));
    assert_eq!(codes(world, "/findings?code=reading_beyond_limit"), Vec::<String>::new());
});

on_both!(the_audit_is_asked_by_model_and_class, |world| {
    world.small_fleet();
    world.component("B001", "SV08");
    let lot = json!({
        "tag": "H-03", "item": "hinge tape", "use_by_on": "2026-05-01", "quantity": 12.0, "unit": "m",
    });
    world.add("lots", lot);
    assert_eq!(codes(world, "/findings?code=lot_out_of_date"), ["lot_out_of_date"]);
    let of_model = world.av.get("/findings?model=SG-01").expect(200).json();
    for found in of_model["findings"].as_array().unwrap() {
        assert_eq!(found["model"], "SG-01");
    }
    assert_eq!(codes(world, "/findings?model=SG-01&code=lot_out_of_date"), Vec::<String>::new());
    for found in world.av.get("/findings?severity=ground").expect(200).json()["findings"].as_array().unwrap()
    {
        assert_eq!(found["severity"], "ground");
    }
    world.av.get("/findings?severity=bad").problem(400, "bad_parameter");
    world.av.get("/findings?models=SG-01").problem(400, "bad_parameter");
    world.av.get("/findings?model=SG-99").problem(404, "not_found");
    // A visitor is told nothing about the club, nor about models that are not lent to them.
    let visitor = world.member("VV", &["visitor"], &["read"]);
    assert_eq!(visitor.get("/findings").expect(200).json()["findings"], json!([]));
});

on_both!(a_reading_in_another_unit_is_refused, |world| {
    world.small_fleet();
    world.component("B001", "SV08");
    let mut wrong = reading("B001", "servo_free_play", &json!([0.014]), "rad", "2026-05-20T10:00:00Z");
    wrong["id"] = json!(preen_tests::world::new_id());
    let reply = world.av.post("/measurements", &wrong);
    reply.problem(422, "invalid_fields");
    assert_eq!(reply.wrong_field().0, "/unit");
    assert!(reply.text.contains("deg"), "{}", reply.text);
    // A quantity that nobody has entered limits for keeps its unit, too.
    wrong["quantity"] = json!("servo_idle_current");
    wrong["unit"] = json!("A");
    world.av.post("/measurements", &wrong).problem(422, "invalid_fields");
    wrong["unit"] = json!("mA");
    world.av.post("/measurements", &wrong).expect(201);
});

on_both!(the_limits_of_a_model_say_where_they_come_from, |world| {
    world.small_fleet();
    let answer = world.av.get("/models/SG-01/limits?quantity=servo_free_play").expect(200).json();
    let held = answer["limits"].as_array().unwrap();
    assert!(!held.is_empty());
    for one in held {
        assert_eq!((&one["quantity"], &one["origin"]), (&json!("servo_free_play"), &json!("programme")));
    }
    // The joint's sizes make limits of the rock out of those of the clearance.
    let reply = world.av.get("/designs/SEDGE");
    let mut design = reply.json();
    for key in ["recorded_at", "recorded_by", "revision"] {
        design.as_object_mut().unwrap().remove(key);
    }
    design["positions"].as_array_mut().unwrap().push(json!({
        "path": "W.J", "name": "joiner", "kind": "joiner", "accepts": "joiner", "is_required": false,
        "x_mm": 74.0, "y_mm": 0.0, "z_mm": 0.0, "joint": { "engagement_mm": 105, "panel_mm": 990 },
    }));
    let etag = reply.header("etag");
    world.av.put("/designs/SEDGE", etag, &design).expect(200);
    let answer = world.av.get("/models/SG-01/limits?quantity=tip_rock_total").expect(200).json();
    let rock = &answer["limits"][0];
    assert_eq!((&rock["watch"], &rock["restrict"], &rock["ground"]), (&json!(2.3), &json!(3.8), &json!(6.6)));
    assert_eq!((&rock["origin"], &rock["position"]), (&json!("worked_out"), &json!("W.J")));
    world.av.get("/models/SG-99/limits").problem(404, "not_found");
    world.av.get("/models/SG-01/limits?of=x").problem(400, "bad_parameter");
});
