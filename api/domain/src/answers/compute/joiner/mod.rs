//! `POST /compute/joiner`: what a joiner's section carries, what sanding takes of it, what bends it, how its clearance
//! shows at the tip, and which paper may go on carbon. Each part is asked by itself.

mod answer;
mod question;

pub use answer::{BendingAnswer, JoinerAnswer, RockAnswer, SandingAnswer};
pub use question::{AbrasiveQuestion, JoinerQuestion, RockQuestion, SandingQuestion};

use super::BadQuestion;
use crate::formulas::joiner::abrasive::{Abrasive, CARBON_GUARD_GRADE, grain_um, judge_on_carbon};
use crate::formulas::joiner::bending::{bend_joint, stress_mpa};
use crate::formulas::joiner::rock::{
    CLEARANCE_LIMITS_MM, READ_TO_MM, clearance_mm, field_limits, judge_rock, rock_mm,
};
use crate::formulas::joiner::sanding::{SandingError, SandingLife, judge_sanding, sand};
use crate::formulas::joiner::section::{Section, SectionError, SectionProperties, properties};
use crate::formulas::range::{OutOfRange, within};
use crate::words::Severity;

const METHOD: &str = "closed forms of the section, material taken from the outer fibres with the cavity unchanged; \
                      lift spread as an ellipse over the span less the outboard panel's own weight; rock by small \
                      angles, judged as the clearance it stands for. Stress is an estimate: it says nothing about \
                      crush, split corners or the socket. Limits are starting values, common practice";

const DUST: &str = "Carbon dust: sand wet, wear gloves and a dust mask (FFP2 or better), never blow it off.";

const INSPECTOR: &str = "This is structure: an inspector decides whether the joiner is repaired or replaced.";

/// A joiner may lose so much of its height since new, mm; more restricts. Common practice, no source.
const HEIGHT_LOSS_MM: f64 = 0.20;

/// Answers a question about a joiner.
///
/// # Errors
/// No part asked; sanding without a section; a load and a moment together; clearance and rock together; and whatever
/// the formulas refuse. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{JoinerQuestion, compute_joiner};
/// let question: JoinerQuestion = serde_json::from_value(serde_json::json!({
///     "section": {"shape": "box", "width_mm": 26, "height_mm": 12, "cap_mm": 2, "web_mm": 1.5},
///     "sanding": {"now": {"top_mm": 0.1, "bottom_mm": 0.1, "front_mm": 0.1, "rear_mm": 0.1}}
/// }))?;
/// let sanding = compute_joiner(&question)?.sanding.ok_or("asked for")?;
/// assert_eq!(format!("{:.1} %", sanding.z_vertical_change_pct), "-6.1 %");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_joiner(question: &JoinerQuestion) -> Result<JoinerAnswer, BadQuestion> {
    if *question == JoinerQuestion::default() {
        let parts = "nothing is asked: give section, sanding, load, moment_nm, rock or abrasive";
        return Err(BadQuestion::at("", parts));
    }
    let section = question.section.as_ref().map(properties).transpose().map_err(|why| bad_section(&why))?;
    let sanding = question
        .sanding
        .as_ref()
        .map(|sanding| answer_sanding(question.section.as_ref(), sanding))
        .transpose()?;
    let bending = answer_bending(question, section.as_ref(), sanding.as_ref())?;
    let rock = question.rock.as_ref().map(answer_rock).transpose()?;
    let abrasive = question.abrasive.as_ref().map(answer_abrasive).transpose()?;
    let class =
        [sanding.as_ref().and_then(|sanding| sanding.class), rock.as_ref().and_then(|rock| rock.class)];
    let mut cautions: Vec<String> =
        abrasive.as_ref().and_then(|paper| paper.caution.clone()).into_iter().collect();
    if sanding.is_some() || abrasive.is_some() {
        cautions.push(DUST.to_owned());
    }
    let is_structural = sanding.as_ref().is_some_and(|sanding| sanding.life != SandingLife::Within)
        || rock.as_ref().is_some_and(|rock| rock.class == Some(Severity::Ground));
    if is_structural {
        cautions.push(INSPECTOR.to_owned());
    }
    Ok(JoinerAnswer {
        section,
        sanding,
        bending,
        rock,
        abrasive,
        class: class.into_iter().max().flatten(),
        cautions,
        method: METHOD.to_owned(),
    })
}

fn bad_section(why: &SectionError) -> BadQuestion {
    match why {
        SectionError::OutOfRange(why) => BadQuestion::at_input("/section", why),
        SectionError::NoRoom(field) => BadQuestion::at(format!("/section/{field}"), why),
        SectionError::BoreTooWide => BadQuestion::at("/section/bore_mm", why),
    }
}

fn answer_sanding(
    section: Option<&Section>,
    sanding: &SandingQuestion,
) -> Result<SandingAnswer, BadQuestion> {
    let section = section
        .ok_or_else(|| BadQuestion::at("/section", "sanding takes from a section: give it as it was new"))?;
    let bad = |block: &str, why: &SandingError| match why {
        SandingError::Section(why) => bad_section(why),
        SandingError::OutOfRange(why) => BadQuestion::at_input(block, why),
        SandingError::Through(_) | SandingError::Uneven => BadQuestion::at(block, why),
    };
    let before = sand(section, &sanding.earlier).map_err(|why| bad("/sanding/earlier", &why))?;
    let whole_life = sanding.earlier.plus(&sanding.now);
    // What goes now is looked at by itself first, so that a depth out of range is named where it stands.
    sand(section, &sanding.now).map_err(|why| bad("/sanding/now", &why))?;
    let all = sand(section, &whole_life).map_err(|why| bad("/sanding/now", &why))?;
    let now = 100.0 * (all.after.z_vertical_mm3 / before.after.z_vertical_mm3 - 1.0);
    let height_lost_mm = all.before.height_mm - all.after.height_mm;
    Ok(SandingAnswer {
        after: all.after,
        whole_life,
        z_vertical_change_pct: all.z_vertical_change_pct,
        z_fore_aft_change_pct: all.z_fore_aft_change_pct,
        z_vertical_change_now_pct: now,
        height_lost_mm,
        class: (height_lost_mm > HEIGHT_LOSS_MM + 1e-9).then_some(Severity::Restrict),
        life: judge_sanding(&whole_life),
    })
}

fn answer_bending(
    question: &JoinerQuestion,
    section: Option<&SectionProperties>,
    sanding: Option<&SandingAnswer>,
) -> Result<Option<BendingAnswer>, BadQuestion> {
    let (joint, moment_nm) = match (question.load.as_ref(), question.moment_nm) {
        (None, None) => return Ok(None),
        (Some(_), Some(_)) => {
            return Err(BadQuestion::at("/moment_nm", "give either load or moment_nm, not both"));
        }
        (None, Some(moment_nm)) => {
            within("moment_nm", moment_nm, -1e6, 1e6).map_err(|why| BadQuestion::at_input("", &why))?;
            (None, moment_nm)
        }
        (Some(load), None) => {
            let joint = bend_joint(load).map_err(|why| BadQuestion::at_input("/load", &why))?;
            (Some(joint), joint.moment_nm)
        }
    };
    let stress = |properties: &SectionProperties| {
        stress_mpa(moment_nm, properties.z_vertical_mm3).map_err(|why| BadQuestion::at("/section", &why))
    };
    Ok(Some(BendingAnswer {
        joint,
        moment_nm,
        stress_mpa: section.map(stress).transpose()?,
        stress_sanded_mpa: sanding.map(|sanding| stress(&sanding.after)).transpose()?,
    }))
}

fn answer_rock(rock: &RockQuestion) -> Result<RockAnswer, BadQuestion> {
    let at_input = |why: OutOfRange| match why.input {
        field @ ("engagement_mm" | "panel_mm") => BadQuestion::at(format!("/rock/joint/{field}"), &why),
        "step_mm" => BadQuestion::at("/rock/read_to_mm", &why),
        _ => BadQuestion::at_input("/rock", &why),
    };
    within("u_mm", rock.u_mm, 0.0, 1000.0).map_err(at_input)?;
    let bench_limits_mm = rock.limits_mm.unwrap_or(CLEARANCE_LIMITS_MM);
    bench_limits_mm.check("/rock/limits_mm", true)?;
    let read_to_mm = rock.read_to_mm.unwrap_or(READ_TO_MM);
    let field_limits_mm =
        field_limits(&rock.joint, &bench_limits_mm, read_to_mm).map_err(|why| match why.input {
            "clearance_mm" => BadQuestion::at("/rock/limits_mm", "limits of a clearance lie from 0 to 10 mm"),
            _ => at_input(why),
        })?;
    let mut answer = RockAnswer {
        clearance_mm: None,
        u_clearance_mm: None,
        rock_mm: None,
        u_rock_mm: None,
        class: None,
        bench_limits_mm,
        field_limits_mm,
    };
    // Millimetres of rock for each of clearance.
    let gain = rock_mm(1.0, &rock.joint).map_err(at_input)?;
    match (rock.clearance_mm, rock.rock_mm) {
        (None, None) => {}
        (Some(_), Some(_)) => {
            return Err(BadQuestion::at("/rock/rock_mm", "give either clearance_mm or rock_mm, not both"));
        }
        (Some(clearance), None) => {
            answer.rock_mm = Some(rock_mm(clearance, &rock.joint).map_err(at_input)?);
            answer.clearance_mm = Some(clearance);
            (answer.u_clearance_mm, answer.u_rock_mm) = (Some(rock.u_mm), Some(rock.u_mm * gain));
            answer.class = bench_limits_mm.rising(clearance);
        }
        (None, Some(read)) => {
            answer.clearance_mm = Some(clearance_mm(read, &rock.joint).map_err(at_input)?);
            answer.rock_mm = Some(read);
            (answer.u_clearance_mm, answer.u_rock_mm) = (Some(rock.u_mm / gain), Some(rock.u_mm));
            answer.class = judge_rock(read, &rock.joint, &bench_limits_mm).map_err(at_input)?;
        }
    }
    Ok(answer)
}

fn answer_abrasive(paper: &AbrasiveQuestion) -> Result<Abrasive, BadQuestion> {
    let guard = paper.guard_grade.unwrap_or(CARBON_GUARD_GRADE);
    grain_um(guard).map_err(|why| BadQuestion::at("/abrasive/guard_grade", &why))?;
    judge_on_carbon(paper.grade, guard).map_err(|why| BadQuestion::at("/abrasive/grade", &why))
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(question: Value) -> Result<JoinerAnswer, BadQuestion> {
        compute_joiner(&serde_json::from_value(question).expect("the shape of a question"))
    }

    fn boxed(more: &Value) -> Value {
        let mut question = json!({"section":
            {"shape": "box", "width_mm": 26, "height_mm": 12, "cap_mm": 2, "web_mm": 1.5}});
        let fields = question.as_object_mut().expect("an object");
        fields.extend(more.as_object().expect("an object").clone());
        question
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |question: Value, pointer: &str| {
            let refused = ask(question.clone()).map_err(|bad| bad.pointer);
            assert_eq!(refused.err().as_deref(), Some(pointer), "{question}");
        };
        check(json!({}), "");
        check(json!({"section": {"shape": "tube", "diameter_mm": 8, "bore_mm": 8}}), "/section/bore_mm");
        check(json!({"section": {"shape": "round", "diameter_mm": 0}}), "/section/diameter_mm");
        check(
            json!({"section": {"shape": "caps", "width_mm": 9, "height_mm": 9, "cap_mm": 5}}),
            "/section/cap_mm",
        );
        check(json!({"sanding": {"now": {"top_mm": 0.1}}}), "/section");
        check(boxed(&json!({"sanding": {"now": {"top_mm": -0.1}}})), "/sanding/now/top_mm");
        check(boxed(&json!({"sanding": {"now": {"top_mm": 2.1}}})), "/sanding/now");
        check(
            boxed(&json!({"sanding": {"now": {}, "earlier": {"front_mm": -1}}})),
            "/sanding/earlier/front_mm",
        );
        let load = json!({"model_mass_g": 1200, "half_span_mm": 1950, "joint_y_mm": 2000, "outboard_mass_g": 130,
            "outboard_cg_y_mm": 1400, "load_factor": 10});
        check(json!({ "load": load }), "/load/joint_y_mm");
        check(json!({"load": load, "moment_nm": 4}), "/moment_nm");
        check(json!({"moment_nm": 1e7}), "/moment_nm");
        let rock = |more: Value| {
            let mut rock = json!({"joint": {"engagement_mm": 105, "panel_mm": 990}});
            let fields = rock.as_object_mut().expect("an object");
            fields.extend(more.as_object().expect("an object").clone());
            json!({ "rock": rock })
        };
        check(rock(json!({"joint": {"engagement_mm": 0, "panel_mm": 990}})), "/rock/joint/engagement_mm");
        check(rock(json!({"rock_mm": 3, "clearance_mm": 0.1})), "/rock/rock_mm");
        check(rock(json!({"rock_mm": -3})), "/rock/rock_mm");
        check(rock(json!({"u_mm": -1})), "/rock/u_mm");
        check(rock(json!({"read_to_mm": 0})), "/rock/read_to_mm");
        check(rock(json!({"limits_mm": {"watch": 0.3, "ground": 0.2}})), "/rock/limits_mm");
        check(rock(json!({"limits_mm": {"ground": 20}})), "/rock/limits_mm");
        check(json!({"abrasive": {"grade": 555}}), "/abrasive/grade");
        check(json!({"abrasive": {"grade": 600, "guard_grade": 1}}), "/abrasive/guard_grade");
    }

    #[test]
    fn earlier_sanding_counts_for_life_and_the_inspector_is_named() {
        let faces = json!({"top_mm": 0.06, "bottom_mm": 0.06, "front_mm": 0.06, "rear_mm": 0.06});
        let answer = ask(boxed(&json!({"sanding": {"now": faces, "earlier": faces}, "moment_nm": 4.04})))
            .expect("answered");
        let sanding = answer.sanding.expect("asked for");
        assert_eq!((sanding.life, sanding.class), (SandingLife::InspectorNeeded, Some(Severity::Restrict)));
        assert!(sanding.z_vertical_change_pct < sanding.z_vertical_change_now_pct);
        let bending = answer.bending.expect("asked for");
        assert!(bending.stress_sanded_mpa > bending.stress_mpa);
        assert_eq!(answer.cautions, [DUST, INSPECTOR]);
    }

    #[test]
    fn coarse_paper_and_a_grounding_rock_are_said() {
        let answer = ask(json!({"abrasive": {"grade": 180},
            "rock": {"joint": {"engagement_mm": 105, "panel_mm": 990}, "rock_mm": 6.6, "u_mm": 0.2}}))
        .expect("answered");
        assert_eq!(answer.class, Some(Severity::Ground));
        assert!(answer.cautions[0].contains("82 µm"), "{:?}", answer.cautions);
        let rock = answer.rock.expect("asked for");
        assert_eq!(rock.u_clearance_mm.map(|u| format!("{u:.4}")).as_deref(), Some("0.0106"));
    }
}
