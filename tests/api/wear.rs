//! Wear over HTTP: the trend of a part of the demo club's kind, and readings fitted on the bench.

use preen_tests::on_both;
use serde_json::{Value, json};

fn number(answer: &Value, pointer: &str) -> f64 {
    answer.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {answer}"))
}

fn cycles() -> Value {
    let readings = [(0, 0.050), (6, 0.058), (10, 0.071), (14, 0.080), (16, 0.094), (19, 0.101)];
    readings.iter().map(|(x, y)| json!({"x": x, "y": y})).collect()
}

on_both!(readings_are_fitted_and_carried_on_to_a_limit, |world| {
    let question = json!({"points": cycles(), "limit": 0.12, "now_x": 21, "at_x": [21]});
    let answer = world.av.post("/compute/regression", &question).expect(200).json();
    assert_eq!(format!("{:.6}", number(&answer, "/coefficients/1/value")), "0.002788");
    assert_eq!(format!("{:.1}", number(&answer, "/reached/count_left")), "5.7");
    assert_eq!(format!("{:.1}", number(&answer, "/reached/earliest_left")), "1.1");
    assert_eq!(answer["refusal"], Value::Null);
    // The restart leaves three readings: a line, but no forecast.
    let mut points = cycles();
    points[3]["is_restart"] = json!(true);
    let question = json!({"points": points, "limit": 0.12});
    let answer = world.av.post("/compute/regression", &question).expect(200).json();
    assert_eq!((&answer["points"], &answer["left_out"]), (&json!(3), &json!(3)));
    assert!(answer["refusal"].as_str().unwrap().contains("needed 4"), "{answer}");
    assert_eq!(answer["reached"], Value::Null);
});

on_both!(readings_without_a_fit_name_their_field, |world| {
    let alike = json!([{"x": 5, "y": 1}, {"x": 5, "y": 2}, {"x": 5, "y": 3}]);
    let cases = [
        (json!({"points": []}), "/points", "at least 3 points"),
        (json!({"points": alike}), "/points", "same x"),
        (json!({"points": cycles(), "curve": "polynomial"}), "/degree", "1 to 8"),
        (json!({"points": cycles(), "curve": "polynomial", "degree": 6}), "/points", "at least"),
        (json!({"points": cycles(), "degree": 2}), "/degree", "leave it out"),
        (json!({"points": cycles(), "curve": "through_origin", "limit": 1}), "/limit", "leave the limit out"),
        (json!({"points": cycles(), "now_x": 1}), "/now_x", "goes with a limit"),
        (
            json!({"points": cycles(), "at_x": [1], "confidence": {"level": 1.0}}),
            "/confidence/level",
            "below 1",
        ),
        (json!({"points": [{"x": 1, "y": 1e300}]}), "/points/0/y", "too large"),
    ];
    for (question, pointer, text) in cases {
        let reply = world.av.post("/compute/regression", &question);
        reply.problem(422, "invalid_fields");
        let wrong = reply.wrong_field();
        assert_eq!(wrong.0, pointer, "{}", reply.text);
        assert!(wrong.2.contains(text), "{}", wrong.2);
    }
});

on_both!(the_trend_of_a_part_is_told_as_of_then, |world| {
    world.small_fleet();
    world.component("B001", "SV08");
    let days = [("2026-04-01", 0.30), ("2026-04-11", 0.41), ("2026-04-21", 0.49), ("2026-05-01", 0.60)];
    for (day, value) in days {
        let reading = json!({
            "subject": { "component": "B001" }, "quantity": "servo_free_play", "values": [value], "unit": "deg",
            "occurred_at": format!("{day}T10:00:00Z"),
        });
        world.add("measurements", reading);
    }
    let path = "/components/B001/trend?quantity=servo_free_play&by=days";
    let answer = world.av.get(path).expect(200).json();
    let slope = number(&answer, "/series/0/line/slope");
    assert!((slope - 0.0098).abs() < 1e-9, "0.98 hundredths of a degree a day, not {slope}");
    assert_eq!(answer["series"][0]["readings"].as_array().unwrap().len(), 4);
    // Three readings were known by the end of April.
    let then = world.av.get(&format!("{path}&as_of=2026-04-30")).expect(200).json();
    assert_eq!(then["series"][0]["refusal"]["code"], "too_few_readings");
    let wrong = [
        ("/components/B001/trend?quantity=crimp", "quantity"),
        ("/components/B001/trend?by=moons", "by"),
        ("/components/B001/trend?whole_history=perhaps", "whole_history"),
    ];
    for (path, parameter) in wrong {
        let reply = world.av.get(path);
        reply.problem(400, "bad_parameter");
        assert!(reply.text.contains(parameter), "{}", reply.text);
    }
    world.av.get("/components/B002/trend").problem(404, "not_found");
});
