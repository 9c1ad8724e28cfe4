//! `POST /compute/weighing`: mass and CG from scale readings with uncertainties, compared with a mass list, and the
//! weight that levels the wing.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::balance::{BalanceItem, bad_item};
use super::{BadQuestion, MacPlace};
use crate::formulas::balance::{MassAndCg, balance};
use crate::formulas::reconcile::{PLACE_KNOWN_WITHIN_MM, ReconcileError, Reconciliation, reconcile};
use crate::formulas::trim::trim_weight_g;
use crate::formulas::weighing::{SupportReading, Weighed, WeighedArm, WeighingError, weigh};

const METHOD: &str = "sum and moments of the readings; standard uncertainties (1u) of scale and support place \
                      combined per JCGM 100:2008; a compared mass list taken as exact";

/// Readings on two or more supports, what is known about their certainty, and what to compare them with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WeighingQuestion {
    /// The supports, two or more.
    pub supports: Vec<WeighedSupport>,
    /// Standard uncertainty (1u) of every reading, grams.
    pub u_scale_g: f64,
    /// Standard uncertainty (1u) of every support's place, mm.
    pub u_place_mm: f64,
    /// The balance of a mass list to compare with. Give this or `list_items`, not both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub list: Option<MassAndCg>,
    /// A mass list to compare with. Give this or `list`, not both.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub list_items: Vec<BalanceItem>,
    /// The place of missing mass counts as known when its 2u is at most this, mm; 50 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place_known_within_mm: Option<f64>,
    /// Where a tip weight could sit, mm right of the centreline (left: negative); asks for the weight that levels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tip_place_y_mm: Option<f64>,
    /// The mean aerodynamic chord; asks for the CG in per cent of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mac: Option<MacPlace>,
}

/// One support and its reading.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WeighedSupport {
    /// What the scale shows, grams.
    pub reading_g: f64,
    /// What the stand alone weighs, grams, taken off the reading.
    #[serde(default)]
    pub tare_g: f64,
    /// Where the support touches, mm aft of the datum.
    pub x_mm: f64,
    /// Where the support touches, mm right of the centreline.
    #[serde(default)]
    pub y_mm: f64,
}

/// Mass and CG from the readings, and what follows from them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeighingAnswer {
    /// Mass.
    pub mass: MassAnswer,
    /// CG aft of the datum; absent when the supports say nothing about it.
    pub x: Option<WeighedArm>,
    /// CG right of the centreline; absent when the supports say nothing about it.
    pub y: Option<WeighedArm>,
    /// The CG in per cent of the mean aerodynamic chord given.
    pub x_percent_mac: Option<f64>,
    /// The tip weight asked for.
    pub level: Option<WeighingTrim>,
    /// List against scale.
    pub reconciliation: Option<Reconciliation>,
    /// How it was computed.
    pub method: String,
}

/// A mass with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct MassAnswer {
    /// Mass, grams.
    pub mass_g: f64,
    /// Standard uncertainty (1u), grams.
    pub u_g: f64,
}

/// The weight that brings the CG to the centreline.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeighingTrim {
    /// Where it sits, mm right of the centreline.
    pub place_y_mm: f64,
    /// Grams to add (positive) or to take off there (negative).
    pub weight_g: f64,
}

/// Answers a weighing question.
///
/// # Errors
/// Both `list` and `list_items`; a percentage or a tip weight asked of supports that say nothing about that axis; and
/// whatever the formulas refuse. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{WeighingQuestion, compute_weighing};
/// let question: WeighingQuestion = serde_json::from_value(serde_json::json!({
///     "supports": [{"x_mm": -60, "reading_g": 878.0}, {"x_mm": 520, "reading_g": 324.5}],
///     "u_scale_g": 0.5, "u_place_mm": 0.5, "list": {"mass_g": 1195.7, "x_mm": 96.0738}
/// }))?;
/// let answer = compute_weighing(&question)?;
/// assert_eq!(answer.x.map(|x| format!("{:.4}", x.at_mm)).as_deref(), Some("96.5156"));
/// let gap = answer.reconciliation.ok_or("a list was given")?;
/// assert_eq!(serde_json::to_value(gap.verdict)?, "place_not_known");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_weighing(question: &WeighingQuestion) -> Result<WeighingAnswer, BadQuestion> {
    check_uncertainties(question)?;
    let supports: Vec<SupportReading> = question
        .supports
        .iter()
        .map(|on| SupportReading {
            reading_g: on.reading_g - on.tare_g,
            x_mm: on.x_mm,
            y_mm: on.y_mm,
            u_reading_g: question.u_scale_g,
            u_place_mm: question.u_place_mm,
        })
        .collect();
    let weighed = weigh(&supports).map_err(bad_support)?;
    Ok(WeighingAnswer {
        mass: MassAnswer { mass_g: weighed.mass_g, u_g: weighed.u_mass_g },
        x: weighed.x,
        y: weighed.y,
        x_percent_mac: percent(question, &weighed)?,
        level: level(question, &weighed)?,
        reconciliation: list_against_scale(question, &supports)?,
        method: METHOD.to_owned(),
    })
}

fn check_uncertainties(question: &WeighingQuestion) -> Result<(), BadQuestion> {
    let fields = [("/u_scale_g", question.u_scale_g), ("/u_place_mm", question.u_place_mm)];
    match fields.into_iter().find(|(_, u)| !u.is_finite() || *u < 0.0) {
        Some((field, _)) => Err(BadQuestion::at(field, "an uncertainty must be 0 or more")),
        None => Ok(()),
    }
}

fn percent(question: &WeighingQuestion, weighed: &Weighed) -> Result<Option<f64>, BadQuestion> {
    let Some(mac) = question.mac else { return Ok(None) };
    let x = weighed.x.ok_or_else(|| {
        BadQuestion::at(
            "/supports",
            "all supports share one x, so there is no CG to give in per cent of the MAC",
        )
    })?;
    mac.percent(x.at_mm).map(Some)
}

fn level(question: &WeighingQuestion, weighed: &Weighed) -> Result<Option<WeighingTrim>, BadQuestion> {
    let Some(place_y_mm) = question.tip_place_y_mm else { return Ok(None) };
    let y = weighed.y.ok_or_else(|| {
        BadQuestion::at(
            "/supports",
            "all supports share one y, so there is nothing to level; use three supports",
        )
    })?;
    let weight_g = trim_weight_g(weighed.mass_g, y.at_mm, 0.0, place_y_mm)
        .map_err(|why| BadQuestion::at("/tip_place_y_mm", &why))?;
    Ok(Some(WeighingTrim { place_y_mm, weight_g }))
}

fn list_against_scale(
    question: &WeighingQuestion,
    supports: &[SupportReading],
) -> Result<Option<Reconciliation>, BadQuestion> {
    let list = match question.list {
        Some(_) if !question.list_items.is_empty() => {
            return Err(BadQuestion::at("/list", "give either `list` or `list_items`, not both"));
        }
        None if question.list_items.is_empty() => return Ok(None),
        Some(list) => list,
        None => {
            let points: Vec<_> = question.list_items.iter().map(BalanceItem::point).collect();
            balance(&points).map_err(|why| bad_item("/list_items", why))?
        }
    };
    let within_mm = question.place_known_within_mm.unwrap_or(PLACE_KNOWN_WITHIN_MM);
    reconcile(&list, supports, within_mm).map(Some).map_err(|why| match why {
        ReconcileError::Weighing(why) => bad_support(why),
        ReconcileError::NoArm => BadQuestion::at("/supports", &why),
        ReconcileError::BadList | ReconcileError::TooLarge => BadQuestion::at("/list", &why),
        ReconcileError::BadLimit => BadQuestion::at("/place_known_within_mm", &why),
    })
}

fn bad_support(why: WeighingError) -> BadQuestion {
    match why {
        WeighingError::NotFinite { support }
        | WeighingError::NegativeReading { support }
        | WeighingError::NegativeUncertainty { support } => BadQuestion::at_row("/supports", support, &why),
        WeighingError::TooFewSupports
        | WeighingError::CoincidentSupports
        | WeighingError::NoMass
        | WeighingError::TooLarge => BadQuestion::at("/supports", &why),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(question: Value) -> Result<WeighingAnswer, BadQuestion> {
        compute_weighing(&serde_json::from_value(question).expect("the shape of a question"))
    }

    fn two_supports(more: &Value) -> Value {
        let mut question = json!({"supports": [{"x_mm": -60, "reading_g": 878.0}, {"x_mm": 520, "reading_g": 324.5}],
            "u_scale_g": 0.5, "u_place_mm": 0.5});
        let fields = question.as_object_mut().expect("an object");
        fields.extend(more.as_object().expect("an object").clone());
        question
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |more: Value, pointer: &str| {
            assert_eq!(
                ask(two_supports(&more)).map_err(|bad| bad.pointer),
                Err(pointer.to_owned()),
                "{more}"
            );
        };
        let list = json!({"mass_g": 1195.7, "x_mm": 96.0});
        check(json!({"supports": [{"x_mm": 0, "reading_g": 5}]}), "/supports");
        check(
            json!({"supports": [{"x_mm": 0, "reading_g": 5}, {"x_mm": 9, "reading_g": 5, "tare_g": 6}]}),
            "/supports/1",
        );
        check(json!({"u_scale_g": -0.5}), "/u_scale_g");
        check(json!({"u_place_mm": -0.5}), "/u_place_mm");
        check(json!({"list": list, "list_items": [{"mass_g": 1, "x_mm": 0}]}), "/list");
        check(json!({"list": {"mass_g": 0, "x_mm": 0}}), "/list");
        check(json!({"list_items": [{"mass_g": -1, "x_mm": 0}]}), "/list_items/0");
        check(json!({"list": list, "place_known_within_mm": 0}), "/place_known_within_mm");
        check(json!({"tip_place_y_mm": 1900}), "/supports");
        check(json!({"mac": {"le_x_mm": 16.7, "mac_mm": -1}}), "/mac");
    }

    #[test]
    fn tare_comes_off_and_a_tip_weight_levels() {
        let question = json!({"supports": [{"x_mm": -60, "y_mm": -150, "reading_g": 436.0, "tare_g": 10},
            {"x_mm": -60, "y_mm": 150, "reading_g": 453.0}, {"x_mm": 520, "reading_g": 323.5}],
            "u_scale_g": 0.5, "u_place_mm": 0.5, "tip_place_y_mm": -1900});
        let answer = ask(question).expect("answered");
        assert_eq!(answer.mass.mass_g, 1202.5);
        let weight_g = answer.level.expect("asked for").weight_g;
        assert_eq!(format!("{weight_g:.1}"), "2.1");
    }
}
