//! Linkage and cover over HTTP: what comes out, and which field is named when nothing can.

use preen_tests::on_both;
use serde_json::json;

on_both!(a_linkage_is_solved, |world| {
    let question = json!({
        "geometry": {"arm_mm": 4.5, "arm_deg": 28, "hinge_x_mm": 62, "hinge_z_mm": 3.5, "horn_mm": 4.6, "set_back_mm": 0.5},
        "servo_deg": [20, -50], "surface": {"chord_mm": 62}, "servo_play_deg": 0.6,
        "other_side": {"geometry": {"arm_mm": 4.5, "arm_deg": 33, "hinge_x_mm": 62, "hinge_z_mm": 3.5, "horn_mm": 4.6,
            "set_back_mm": 0.5}, "forward_deg": -50, "aft_deg": 20, "servo_deg": [-30]}
    });
    let answer = world.av.post("/compute/linkage", &question).expect(200).json();
    let number = |pointer: &str| answer.pointer(pointer).and_then(|value| value.as_f64()).unwrap();
    assert_eq!(format!("{:.2}", number("/rod_mm")), "60.46");
    assert_eq!(format!("{:.1}", number("/rows/1/deflection_deg")), "53.5");
    assert_eq!(format!("{:.2}", number("/rows/1/play/total_mm")), "0.91");
    assert_eq!(format!("{:.2}", number("/mismatch/rows/0/with_end_points/difference_mm")), "-0.56");
    assert_eq!(answer["mismatch"]["cure"], "five_point_curve");
    assert_eq!(answer["travel"]["from"]["kind"], "horn");
});

on_both!(a_cover_is_judged, |world| {
    let question = json!({"axis_to_skin_mm": 7.0, "sheet_mm": 1.0, "swept_mm": 6.4});
    let answer = world.av.post("/compute/cover", &question).expect(200).json();
    assert_eq!(format!("{:.2}", answer["gap_mm"].as_f64().unwrap()), "-0.40");
    assert_eq!(format!("{:.2}", answer["relief"]["length_mm"].as_f64().unwrap()), "5.82");
    assert_eq!(answer["is_clear"], false);
});

on_both!(what_cannot_be_solved_names_its_field, |world| {
    let drawn = json!({"arm_mm": 4.5, "arm_deg": 28, "hinge_x_mm": 62, "horn_mm": 4.6});
    let cases = [
        ("linkage", json!({}), "/geometry", "give the linkage"),
        ("linkage", json!({"geometry": drawn, "servo_deg": [0, -85]}), "/servo_deg/1", "dead point"),
        ("linkage", json!({"geometry": drawn, "colour": "red"}), "/colour", "nknown field"),
        (
            "linkage",
            json!({"geometry": drawn, "measured": {"points": [{"servo_deg": -20, "deflection_deg": 18}],
                "unknowns": ["arm_mm", "horn_mm"]}}),
            "/measured/points",
            "cannot tell 2 unknowns",
        ),
        ("cover", json!({"axis_to_skin_mm": 7, "sheet_mm": -1, "swept_mm": 6.4}), "/sheet_mm", "0 or more"),
        ("cover", json!({"axis_to_skin_mm": 7, "sheet_mm": 1}), "/swept_mm", "arm_mm and tip_mm"),
    ];
    for (calculator, question, pointer, text) in cases {
        let reply = world.av.post(&format!("/compute/{calculator}"), &question);
        reply.problem(422, "invalid_fields");
        let wrong = reply.wrong_field();
        assert_eq!(wrong.0, pointer, "{}", reply.text);
        assert!(wrong.2.contains(text), "{}", wrong.2);
    }
});
