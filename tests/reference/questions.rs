//! Whole bench questions with their answers: worked examples, computed independently.

use preen_domain::answers::compute::{BalanceQuestion, WeighingQuestion, compute_balance, compute_weighing};
use serde_json::json;

use crate::close::close;
use crate::mass_list;

#[test]
fn nose_weight_after_three_servos() {
    let question: BalanceQuestion = serde_json::from_value(json!({
        "base": {"mass_g": 1202.5, "x_mm": 96.52},
        "changes": [
            {"item": "left flap servo", "mass_change_g": 0.45, "x_mm": 62},
            {"item": "right flap servo", "mass_change_g": 0.42, "x_mm": 62},
            {"item": "tail servo", "mass_change_g": 1.91, "x_mm": 985}
        ],
        "trim_place_x_mm": -335,
        "range": {"front_x_mm": 92, "rear_x_mm": 99}
    }))
    .expect("a question");
    let answer = compute_balance(&question).expect("an answer");
    close("mass", answer.after.mass_g, 1205.28, 1e-9);
    close("x", answer.after.x_mm, 97.90, 0.005);
    close("move", answer.x_change_mm, 1.383, 0.0005);
    let trim = answer.trim.expect("asked for");
    close("nose weight", trim.weight_g, 3.86, 0.005);
    close("mass with it", trim.mass_with_trim_g, 1209.14, 0.005);
    assert_eq!(trim.target_x_mm, 96.52);
    assert!(answer.range.expect("asked for").is_inside);
}

#[test]
fn balance_of_the_mass_list() {
    let items: Vec<_> = mass_list::named_rows()
        .into_iter()
        .map(|(item, row)| {
            json!({"item": item, "mass_g": row.mass_g, "x_mm": row.x_mm, "y_mm": row.y_mm, "z_mm": row.z_mm,
                "own_span_mm": row.own_span_mm})
        })
        .collect();
    let question = json!({"items": items, "changes": [{"mass_change_g": 1.9, "x_mm": 985, "z_mm": 25}]});
    let question: BalanceQuestion = serde_json::from_value(question).expect("a question");
    let answer = compute_balance(&question).expect("an answer");
    close("x", answer.before.x_mm, 96.0738, 5e-5);
    let inertia = answer.inertia.expect("from a list");
    close("roll", inertia.before.roll_kg_m2, 0.6716, 5e-5);
    close("pitch", inertia.change.pitch_percent.expect("some pitch"), 1.73, 0.005);
}

#[test]
fn unaccounted_mass_of_two_supports() {
    let question: WeighingQuestion = serde_json::from_value(json!({
        "supports": [{"x_mm": -60, "reading_g": 878.0}, {"x_mm": 520, "reading_g": 324.5}],
        "u_scale_g": 0.5, "u_place_mm": 0.5,
        "list": {"mass_g": 1195.7, "x_mm": 96.0738},
        "mac": {"le_x_mm": 16.7, "mac_mm": 193.7}
    }))
    .expect("a question");
    let answer = compute_weighing(&question).expect("an answer");
    assert_eq!(answer.mass.mass_g, 1202.5);
    close("x", answer.x.expect("along x").at_mm, 96.5156, 5e-5);
    close("per cent MAC", answer.x_percent_mac.expect("asked for"), 41.2, 0.05);
    let gap = answer.reconciliation.expect("asked for");
    close("gap", gap.mass_gap_g, 6.8, 1e-9);
    close("arm", gap.arm_mm.expect("a gap"), 174.0, 0.5);
    close("2u", gap.arm_2u_mm.expect("a gap"), 151.0, 0.5);
    assert_eq!(serde_json::to_value(gap.verdict).expect("a word"), "place_not_known");
}

#[test]
fn three_supports_level_with_a_tip_weight() {
    let question: WeighingQuestion = serde_json::from_value(json!({
        "supports": [{"x_mm": -60, "y_mm": -150, "reading_g": 426.0}, {"x_mm": -60, "y_mm": 150, "reading_g": 453.0},
            {"x_mm": 520, "reading_g": 323.5}],
        "u_scale_g": 0.5, "u_place_mm": 0.5, "tip_place_y_mm": -1900
    }))
    .expect("a question");
    let answer = compute_weighing(&question).expect("an answer");
    close("x", answer.x.expect("along x").at_mm, 96.03, 0.005);
    close("y", answer.y.expect("along y").at_mm, 3.37, 0.005);
    close("left tip", answer.level.expect("asked for").weight_g, 2.1, 0.05);
}
