//! The bench calculators for weighings and for repairs of systems over HTTP, and the own length of a position.

use preen_tests::on_both;
use preen_tests::world::design;
use serde_json::json;

on_both!(a_weighing_tells_its_budget, |world| {
    let two = |tail_g: f64| json!([{"x_mm": -60, "reading_g": 1202.5 - tail_g}, {"x_mm": 520, "reading_g": tail_g}]);
    let question = json!({"supports": two(324.5), "u_scale_g": 0.5, "u_place_mm": 0.5,
        "levelling": {"u_angle_deg": 1, "cg_height_mm": 40}, "repeats": [{"supports": two(324.7)}], "set_up": "anew",
        "whole": {"mass_g": 1202.0, "u_g": 0.1}});
    let answer = world.av.post("/compute/weighing", &question).expect(200).json();
    assert_eq!(answer["budget"][0]["part"], "level");
    assert_eq!(answer["together"]["weighings"], 2);
    assert_eq!(answer["together"]["x_mm"]["outliers"], json!([]));
    assert_eq!(answer["whole"]["agrees"], true);
    let mut wrong = question.clone();
    wrong["repeats"][0]["supports"][1]["reading_g"] = json!(-1);
    let refused = world.av.post("/compute/weighing", &wrong).expect(422);
    assert_eq!(refused.wrong_field().0, "/repeats/0/supports/1");
    let mut unknown = question;
    unknown["set_up"] = json!("moved");
    assert_eq!(world.av.post("/compute/weighing", &unknown).expect(422).wrong_field().0, "/set_up");
});

on_both!(repairs_of_systems_tell_their_trend, |world| {
    let ages = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478];
    let question = json!({"systems": [{"repaired_at": ages, "watched_until": 1500}]});
    let answer = world.av.post("/compute/survival", &question).expect(200).json();
    assert_eq!(answer["groups"], json!([]));
    let system = &answer["repairs"]["systems"][0];
    assert_eq!((&system["system"], &system["failures"]), (&json!("1"), &json!(10)));
    assert_eq!(system["arrangement"]["reversals"], 33);
    assert_eq!(answer["repairs"]["mean"].as_array().map(Vec::len), Some(10));
    let wrong = json!({"systems": [{"repaired_at": [5, 4], "watched_until": 9}]});
    let refused = world.av.post("/compute/survival", &wrong).expect(422);
    assert_eq!(refused.wrong_field().0, "/systems/0/repaired_at/1");
    assert_eq!(world.av.post("/compute/survival", &json!({})).expect(422).wrong_field().0, "/lives");
});

on_both!(a_position_keeps_its_own_length, |world| {
    world.small_fleet();
    let seen = world.av.get("/designs/SEDGE").expect(200);
    let etag = seen.header("etag").unwrap().to_owned();
    assert_eq!(seen.json()["positions"][1].get("own_length_mm"), None, "a point says nothing");
    let mut body = design("SEDGE");
    body["positions"][1]["own_length_mm"] = json!(-1.0);
    let refused = world.av.put("/designs/SEDGE", Some(&etag), &body).expect(422);
    assert_eq!(refused.wrong_field().0, "/positions/1/own_length_mm");
    body["positions"][1]["own_length_mm"] = json!(1500.0);
    world.av.put("/designs/SEDGE", Some(&etag), &body).expect(200);
    assert_eq!(world.av.get("/designs/SEDGE").json()["positions"][1]["own_length_mm"], 1500.0);
    let fuselage = world.component("FU-1", "FUSE");
    world.fit(&fuselage, json!({"model": "SG-01"}), "F", "2026-05-01T08:00:00Z");
    let balanced = world.av.get("/models/SG-01/balance").expect(200).json();
    assert_eq!(balanced["taken_as_points"], json!([]));
    let pitch = balanced["inertia"]["pitch_kg_m2"].as_f64().unwrap();
    assert!((pitch - 10.4 * 1500.0 * 1500.0 / 12.0 / 1e9).abs() < 1e-12, "{pitch}");
});
