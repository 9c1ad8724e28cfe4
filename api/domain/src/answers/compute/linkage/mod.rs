//! `POST /compute/linkage`: deflection table, play, loads and speed limit of a linkage, left against right, sizes for
//! wanted throws, and the geometry behind measured ones.

mod answer;
mod fault;
mod forces;
mod question;
mod table;
mod throws;

pub use answer::{CoefficientSource, DeflectionRow, Differential, LinkageAnswer, LoadAnswer};
pub use question::{
    LinkageQuestion, LoadQuestion, MeasuredQuestion, MeasuredThrow, OtherSideQuestion, SurfaceQuestion,
    WantedQuestion,
};

use super::BadQuestion;
use crate::formulas::linkage::geometry::{Linkage, LinkageGeometry};
use fault::bad_linkage;

const METHOD: &str = "plane four-bar in closed form on the branch drawn; uncertainty of deflections (1u) from that of \
                      the geometry per JCGM 100:2008; play taken up in full at servo and holes; loads from a \
                      hinge-moment coefficient, given or of thin-aerofoil theory (Glauert 1927), their uncertainty \
                      from those of coefficient and gain";

const CAUTIONS: [&str; 3] = [
    "Computed deflection, play, torque and speed are estimates: measure the throws at five points on both sides, and \
     test before relying on them.",
    "Above the speed limit of a landing flap it blows back or the servo strips: record the limit with the model.",
    "Propeller off or shielded before any power-up at the bench.",
];

/// Answers a linkage question, part by part.
///
/// # Errors
/// Nothing asked; a part without what it needs; and whatever the formulas refuse. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{LinkageQuestion, compute_linkage};
/// let question: LinkageQuestion = serde_json::from_value(serde_json::json!({
///     "geometry": {"arm_mm": 4.5, "arm_deg": 28, "hinge_x_mm": 62, "hinge_z_mm": 3.5, "horn_mm": 4.6,
///         "set_back_mm": 0.5},
///     "servo_deg": [-50], "surface": {"chord_mm": 62}, "servo_play_deg": 0.6
/// }))?;
/// let answer = compute_linkage(&question)?;
/// let row = answer.rows.first().ok_or("a row was asked for")?;
/// assert_eq!(format!("{:.1}", row.deflection_deg), "53.5");
/// assert_eq!(row.play.map(|play| format!("{:.2}", play.total_mm)).as_deref(), Some("0.91"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_linkage(question: &LinkageQuestion) -> Result<LinkageAnswer, BadQuestion> {
    let mut answer = LinkageAnswer {
        rod_mm: None,
        travel: None,
        rows: Vec::new(),
        differentials: Vec::new(),
        loads: Vec::new(),
        mismatch: None,
        proposals: Vec::new(),
        fit: None,
        method: METHOD.to_owned(),
        cautions: CAUTIONS.map(ToOwned::to_owned).to_vec(),
    };
    match &question.geometry {
        Some(drawn) => of_geometry(question, drawn, &mut answer)?,
        None => without_geometry(question)?,
    }
    if let Some(wanted) = &question.wanted {
        answer.proposals = throws::sizes(question, wanted)?;
    }
    Ok(answer)
}

fn of_geometry(
    question: &LinkageQuestion,
    drawn: &LinkageGeometry,
    answer: &mut LinkageAnswer,
) -> Result<(), BadQuestion> {
    let linkage = Linkage::new(drawn).map_err(|why| bad_linkage("/geometry", why))?;
    answer.rod_mm = Some(linkage.rod_mm());
    answer.travel = Some(linkage.travel());
    answer.rows = table::rows(question, drawn, &linkage)?;
    answer.differentials = table::differentials(&answer.rows);
    answer.loads = forces::loads(question, drawn, &linkage)?;
    if let Some(other) = &question.other_side {
        answer.mismatch = Some(throws::compare(question, &linkage, other)?);
    }
    if let Some(measured) = &question.measured {
        answer.fit = Some(throws::geometry_behind(question, drawn, measured)?);
    }
    Ok(())
}

/// Only sizes can be asked for without a linkage.
fn without_geometry(question: &LinkageQuestion) -> Result<(), BadQuestion> {
    let needs_it = question.wanted.is_none()
        || !question.servo_deg.is_empty()
        || !question.loads.is_empty()
        || question.other_side.is_some()
        || question.measured.is_some();
    if needs_it {
        Err(BadQuestion::at("/geometry", "give the linkage: arm, hinge place and horn"))
    } else {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(more: &Value) -> Result<LinkageAnswer, BadQuestion> {
        let mut question = json!({"geometry": {"arm_mm": 4.5, "arm_deg": 28, "hinge_x_mm": 62, "hinge_z_mm": 3.5,
            "horn_mm": 4.6, "set_back_mm": 0.5}});
        let fields = question.as_object_mut().expect("an object");
        fields.extend(more.as_object().expect("an object").clone());
        compute_linkage(&serde_json::from_value(question).expect("the shape of a question"))
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |more: Value, pointer: &str| {
            assert_eq!(ask(&more).map_err(|bad| bad.pointer).map(drop), Err(pointer.to_owned()), "{more}");
        };
        let flap = json!({"chord_mm": 62, "span_mm": 930});
        let drawn = |arm: f64, rod: Value| json!({"arm_mm": arm, "arm_deg": 28, "hinge_x_mm": 62, "horn_mm": 4.6, "rod_mm": rod});
        check(json!({"geometry": null}), "/geometry");
        check(json!({"geometry": drawn(-1.0, Value::Null)}), "/geometry/arm_mm");
        check(json!({"geometry": drawn(62.0, Value::Null)}), "/geometry/arm_mm");
        check(json!({"geometry": drawn(4.5, json!(20))}), "/geometry/rod_mm");
        check(json!({"servo_deg": [0, -80]}), "/servo_deg/1");
        check(json!({"servo_deg": [0, 400]}), "/servo_deg/1");
        check(json!({"servo_deg": vec![0; 2001]}), "/servo_deg");
        check(json!({"servo_deg_per_us": 0}), "/servo_deg_per_us");
        check(json!({"uncertainty": {"length_mm": -0.1, "angle_deg": 1}}), "/uncertainty/length_mm");
        check(json!({"servo_play_deg": 0.6}), "/surface");
        check(json!({"servo_play_deg": -0.6, "surface": flap}), "/servo_play_deg");
        check(json!({"surface": {"chord_mm": 0}}), "/surface/chord_mm");
        let load = json!({"servo_deg": -50, "speed_ms": 12, "hinge_coefficient": 0.7});
        check(json!({"loads": [load]}), "/surface");
        check(json!({"loads": [load], "surface": {"chord_mm": 62}}), "/surface/span_mm");
        check(json!({"loads": [load], "surface": flap, "efficiency": 1.2}), "/efficiency");
        check(json!({"loads": [load], "surface": flap, "servo_torque_nm": 0}), "/servo_torque_nm");
        check(
            json!({"loads": [load, {"servo_deg": -50, "speed_ms": 0, "hinge_coefficient": 0.7}], "surface": flap}),
            "/loads/1/speed_ms",
        );
        check(json!({"loads": [{"servo_deg": -80, "speed_ms": 12}], "surface": flap}), "/loads/0/servo_deg");
        check(
            json!({"loads": [{"servo_deg": -50, "speed_ms": 12}], "surface": flap}),
            "/loads/0/hinge_coefficient",
        );
        let other = |forward: f64| json!({"geometry": drawn(4.5, Value::Null), "forward_deg": forward, "aft_deg": 20});
        check(json!({"other_side": other(-50.0)}), "/surface");
        check(json!({"other_side": other(50.0), "surface": flap}), "/other_side/forward_deg");
        check(json!({"other_side": other(-70.0), "surface": flap}), "/other_side/servo_deg/10");
        let wanted = |down: Value, horn: f64| {
            json!({"wanted": {"down_deg": down, "servo_forward_deg": 50, "servo_aft_deg": 20,
                "arm_mm": {"from": 4.5, "to": 4.5, "step": 1}, "horn_mm": {"from": horn, "to": 12, "step": 0.1}}})
        };
        check(wanted(Value::Null, 3.0), "/wanted/down_deg");
        check(wanted(json!(-5), 3.0), "/wanted/down_deg");
        check(wanted(json!(53), 9.0), "/wanted");
        check(wanted(json!(53), 13.0), "/wanted/horn_mm");
        let measured =
            |points: Value, unknowns: Value| json!({"measured": {"points": points, "unknowns": unknowns}});
        let point = json!({"servo_deg": -50, "deflection_deg": 53.5});
        check(measured(json!([point]), json!([])), "/measured/unknowns");
        check(measured(json!([point]), json!(["arm_mm", "horn_mm"])), "/measured/points");
        check(measured(json!([{"servo_deg": -50}]), json!(["horn_mm"])), "/measured/points/0");
        check(
            measured(json!([point, {"servo_deg": -80, "deflection_deg": 50}]), json!(["horn_mm"])),
            "/measured/points/1",
        );
    }

    #[test]
    fn sizes_need_no_linkage_but_a_hinge() {
        let wanted = json!({"down_mm": 55.8, "up_deg": 16.1, "servo_forward_deg": 50, "servo_aft_deg": 20,
            "hinge_x_mm": 62, "hinge_z_mm": 3.5, "set_back_mm": 0.5,
            "arm_mm": {"from": 4.5, "to": 4.5, "step": 1}, "horn_mm": {"from": 3, "to": 12, "step": 0.1}});
        let question = json!({"wanted": wanted, "surface": {"chord_mm": 62}});
        let answer =
            compute_linkage(&serde_json::from_value(question).expect("the shape")).expect("answered");
        let best = answer.proposals.first().expect("a proposal");
        assert!((53.4..53.6).contains(&best.down_deg), "{best:?}");
        assert_eq!((answer.rows.len(), answer.rod_mm), (0, None));
    }

    #[test]
    fn the_table_has_the_tens_inside_the_dead_points() {
        let answer = ask(&json!({})).expect("answered");
        let degrees: Vec<f64> = answer.rows.iter().map(|row| row.servo_deg).collect();
        assert!(degrees.contains(&-60.0) && degrees.contains(&60.0), "{degrees:?}");
        let twenty = answer.differentials.iter().find(|one| one.servo_deg == 20.0).expect("both ways");
        assert_eq!(format!("{:.2}", twenty.ratio), "1.17");
        let row = answer.rows.iter().find(|row| row.servo_deg == -50.0).expect("a ten");
        assert_eq!(row.plain_ratio_deg.map(|plain| format!("{plain:.1}")).as_deref(), Some("48.9"));
        assert!(row.u_deflection_deg.expect("away from dead points") > 0.5);
    }

    #[test]
    fn theory_says_when_it_is_asked_too_much() {
        let answer = ask(&json!({"surface": {"chord_mm": 62, "span_mm": 930, "chord_ratio": 0.267},
            "servo_torque_nm": 0.5, "loads": [{"servo_deg": -10, "speed_ms": 28}, {"servo_deg": -50, "speed_ms": 20}]}))
        .expect("answered");
        let sources: Vec<_> = answer.loads.iter().map(|load| load.coefficient_source).collect();
        assert_eq!(sources, [CoefficientSource::ThinAerofoil, CoefficientSource::ThinAerofoilBeyondItsRange]);
        assert_eq!(format!("{:.2}", answer.loads[0].hinge_coefficient), "0.15");
        assert_eq!(answer.loads[1].is_beyond_servo, Some(true));
        assert!(answer.loads[1].speed_limit_ms.expect("a torque was given") < 20.0);
    }
}
