//! The bench calculators of wires, joiners and packs over HTTP: computed, fit to the description, faults named.

use preen_tests::http::Caller;
use preen_tests::on_both;
use serde_json::{Value, json};

#[track_caller]
fn near(answer: &Value, pointer: &str, expected: f64, within: f64) {
    let value = answer.pointer(pointer).and_then(Value::as_f64);
    let value = value.unwrap_or_else(|| panic!("no number at {pointer} in {answer}"));
    assert!((value - expected).abs() <= within, "{pointer}: {value} is not {expected} ± {within}");
}

#[track_caller]
fn refused(caller: &Caller, path: &str, question: &Value, pointer: &str, text: &str) {
    let reply = caller.post(path, question);
    reply.problem(422, "invalid_fields");
    let wrong = reply.wrong_field();
    assert_eq!(wrong.0, pointer, "{}", reply.text);
    assert!(wrong.2.contains(text), "{}", reply.text);
}

on_both!(a_lead_a_supply_and_contacts, |world| {
    let question = json!({
        "lead": {"length_m": 1.35, "current_a": 1.8, "awg": 26, "contact_pairs": 3, "contact_mohm": 20, "supply_v": 6.0,
            "u_current_a": 0.1},
        "choose": {"length_m": 15.24, "current_a": 20, "nominal_v": 28, "wire": "stranded", "is_return_by_structure": true},
        "supply": {"servos": [{"count": 4, "stall_a": 1.8}, {"count": 2, "stall_a": 0.9}], "steady_a": 0.15, "peak_a": 5},
        "contacts": {"contacts_mohm": [6, 22, 7]},
        "crimp": {"awg": 24, "pulled_n": 20},
        "slack": {"slack_mm": 27}
    });
    let answer = world.av.post("/compute/wire", &question).expect(200).json();
    near(&answer, "/lead/lost/drop_v", 0.867, 0.0005);
    near(&answer, "/lead/at_load_v", 5.13, 0.005);
    near(&answer, "/lead/lost/u_drop_v", 0.0482, 0.0005);
    assert_eq!(
        (&answer["choose"]["awg"], &answer["choose"]["source"]),
        (&json!(8), &json!("table_greatest"))
    );
    near(&answer, "/supply/load/all_stalled_a", 9.15, 1e-9);
    assert_eq!(
        (&answer["supply"]["class"], &answer["supply"]["duty_from"]),
        (&Value::Null, &json!("assumed"))
    );
    assert_eq!(
        (&answer["contacts"]["contact"], &answer["contacts"]["class"]),
        (&json!(2), &json!("restrict"))
    );
    assert_eq!(answer["crimp"]["class"], "ground", "20 N is below the 22.3 N of that gauge");
    assert_eq!(answer["slack"]["left"]["re_terminations"], 2);
    assert_eq!(answer["class"], "ground");
    assert_eq!(answer["cautions"].as_array().unwrap().len(), 2);

    let lead = |awg: Value| json!({"lead": {"length_m": 1, "current_a": 1, "awg": awg}});
    refused(&world.av, "/compute/wire", &lead(json!(77)), "/lead/awg", "from -3 to 40");
    refused(&world.av, "/compute/wire", &lead(json!(26.5)), "/lead/awg", "nvalid type");
    refused(&world.av, "/compute/wire", &json!({}), "", "nothing is asked");
    refused(
        &world.av,
        "/compute/wire",
        &json!({"slack": {"slack_mm": 1e300}}),
        "/slack/slack_mm",
        "too large",
    );
    refused(&world.av, "/compute/wire", &json!({"leads": {}}), "/leads", "nknown field");
});

on_both!(a_joiner_sanded_loaded_and_loose, |world| {
    let question = json!({
        "section": {"shape": "box", "width_mm": 26, "height_mm": 12, "cap_mm": 2.0, "web_mm": 1.5},
        "sanding": {"now": {"top_mm": 0.1, "bottom_mm": 0.1, "front_mm": 0.1, "rear_mm": 0.1}},
        "load": {"model_mass_g": 1202.5, "half_span_mm": 1950, "joint_y_mm": 960, "outboard_mass_g": 130.5,
            "outboard_cg_y_mm": 1392, "load_factor": 10},
        "rock": {"joint": {"engagement_mm": 105, "panel_mm": 990}, "rock_mm": 3.0, "u_mm": 0.2},
        "abrasive": {"grade": 320}
    });
    let answer = world.av.post("/compute/joiner", &question).expect(200).json();
    near(&answer, "/section/z_vertical_mm3", 460.4, 0.05);
    near(&answer, "/sanding/z_vertical_change_pct", -6.1, 0.05);
    near(&answer, "/sanding/after/height_mm", 11.80, 1e-9);
    assert_eq!((&answer["sanding"]["life"], &answer["sanding"]["class"]), (&json!("within"), &Value::Null));
    near(&answer, "/bending/moment_nm", 4.04, 0.005);
    near(&answer, "/bending/stress_mpa", 8.8, 0.05);
    near(&answer, "/bending/stress_sanded_mpa", 9.3, 0.05);
    near(&answer, "/rock/clearance_mm", 0.159, 0.0005);
    assert_eq!(answer["rock"]["field_limits_mm"], json!({"watch": 2.3, "restrict": 3.8, "ground": 6.6}));
    assert_eq!(answer["rock"]["class"], "watch");
    let cautions = answer["cautions"].as_array().unwrap();
    assert!(cautions[0].as_str().unwrap().contains("46.2 µm"), "{cautions:?}");
    assert!(cautions[1].as_str().unwrap().contains("dust mask"), "{cautions:?}");

    let post = |question: Value, pointer: &str, text: &str| {
        refused(&world.av, "/compute/joiner", &question, pointer, text);
    };
    post(
        json!({"section": {"shape": "tube", "diameter_mm": 8, "bore_mm": 9}}),
        "/section/bore_mm",
        "smaller",
    );
    post(json!({"section": {"shape": "cone"}}), "/section/shape", "box");
    post(json!({"sanding": {"now": {}}}), "/section", "give it");
    post(json!({"abrasive": {"grade": 601}}), "/abrasive/grade", "P601");
    post(json!({"moment_nm": -1e-300}), "/moment_nm", "too small");
});

on_both!(a_pack_measured_cold, |world| {
    let question = json!({
        "resistance": {"cells_mohm": [6.1, 6.3, 8.9], "temperature_c": 14, "new_mohm": [4.9, 5.0, 5.0]},
        "sag": {"current_a": 32, "open_v": 3.75},
        "capacity": {"measured_mah": 742, "rated_mah": 900},
        "launch": {"draw": {"motor_s": 30, "motor_a": 32, "avionics_mah": 70}},
        "rest": {"drops_mv": [6, 6, 31]},
        "carriage": {"cells": 3, "rated_mah": 900, "charge_pct": 50}
    });
    let answer = world.av.post("/compute/pack", &question).expect(200).json();
    for (cell, (at_25, ratio)) in [(4.91, 1.00), (5.07, 1.01), (7.17, 1.43)].into_iter().enumerate() {
        near(&answer, &format!("/resistance/cells/{cell}/at_25_mohm"), at_25, 0.005);
        near(&answer, &format!("/resistance/cells/{cell}/ratio_to_new"), ratio, 0.005);
    }
    assert_eq!(answer["resistance"]["odd_cell"], 3);
    near(&answer, "/sag/as_measured/lowest_cell_v", 3.47, 0.005);
    near(&answer, "/sag/at_25/lowest_cell_v", 3.52, 0.005);
    near(&answer, "/capacity/left/of_rated_pct", 82.4, 0.05);
    assert_eq!(answer["capacity"]["left"]["class"], "watch");
    assert_eq!(answer["launch"]["charge"]["launches"], 1);
    assert_eq!((&answer["rest"]["odd_mv"], &answer["rest"]["class"]), (&json!(25.0), &json!("restrict")));
    near(&answer, "/carriage/pack_wh", 9.99, 1e-9);
    let limits = answer["carriage"]["limits"].as_array().unwrap();
    assert!(limits.iter().all(|limit| limit["is_confirmed"] == false));
    assert_eq!(limits[2]["is_within"], false, "half full is too full to be sent alone");
    assert!(answer["cautions"][0].as_str().unwrap().contains("never below 5 °C"));

    let post = |question: Value, pointer: &str, text: &str| {
        refused(&world.av, "/compute/pack", &question, pointer, text);
    };
    let cold = json!({"resistance": {"cells_mohm": [6, 6], "temperature_c": -40}});
    post(cold, "/resistance/temperature_c", "from -10 to 50");
    post(json!({"resistance": {"cells_mohm": [6]}}), "/resistance/temperature_c", "issing field");
    post(json!({"launch": {"draw": {"motor_s": 30, "motor_a": 32}}}), "/capacity", "give it");
    post(json!({"rest": {"drops_mv": vec![1; 25]}}), "/rest/drops_mv", "from 1 to 24");
    post(json!({"carriage": {"cells": -1, "rated_mah": 900}}), "/carriage/cells", "nvalid value");
});
