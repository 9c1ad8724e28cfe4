//! `POST /compute/cover`: the servo arm under its cover, and what a relief, a blister or another sheet would do.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use crate::formulas::cover::{ArmSwing, ArmUnderCover, CoverError, CoverFit, WANTED_GAP_MM, fit_cover};

const METHOD: &str = "circle of the arm's tip against the inner face of the sheet, smallest over the whole swing; \
                      uncertainty (1u) from that of depth, sheet and swept radius per JCGM 100:2008";

const CAUTION: &str = "Computed gaps are estimates: turn the arm by hand through its whole swing under the cover \
                       before power is on, and look at the top of the swing, not at the ends.";

/// Uncertainty of each length where none is given, mm: a calliper. Common practice, no source.
const USUAL_U_MM: f64 = 0.1;

const MOST_SHEETS: usize = 50;

/// An arm, a cover, and sheets that could be taken instead.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CoverQuestion {
    /// From the servo's axis to the outer face of the skin, at right angles, mm.
    pub axis_to_skin_mm: f64,
    /// Thickness of the cover sheet, mm.
    pub sheet_mm: f64,
    /// From the axis to the far end of the arm's tip, mm. Give this, or `arm_mm` and `tip_mm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub swept_mm: Option<f64>,
    /// Arm radius, axis to hole, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arm_mm: Option<f64>,
    /// From the hole to the far end of the tip, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tip_mm: Option<f64>,
    /// The gap that should remain, mm; 0.3 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wanted_gap_mm: Option<f64>,
    /// The arm's swing, deg from the shortest way to the skin; over the top and out on both sides if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub swing: Option<ArmSwing>,
    /// Thicknesses of sheet to try instead, mm, at most 50.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sheets_mm: Vec<f64>,
    /// Standard uncertainty (1u) of each length, mm; 0.1 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub u_length_mm: Option<f64>,
}

/// What lies between arm and cover.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CoverAnswer {
    /// The cover as asked.
    #[serde(flatten)]
    pub fit: CoverFit,
    /// What the arm's tip sweeps, mm from the axis.
    pub swept_mm: f64,
    /// The gap that should remain, mm.
    pub wanted_gap_mm: f64,
    /// Standard uncertainty (1u) of the gap, mm.
    pub u_gap_mm: f64,
    /// The other sheets, in the order asked.
    pub sheets: Vec<SheetAnswer>,
    /// The thickest of the other sheets that leaves the wanted gap, mm; absent when none does.
    pub sheet_that_clears_mm: Option<f64>,
    /// How it was computed.
    pub method: String,
    /// What to mind before relying on it.
    pub caution: String,
}

/// Another sheet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SheetAnswer {
    /// Its thickness, mm.
    pub sheet_mm: f64,
    /// The smallest gap under it, mm.
    pub gap_mm: f64,
    /// Whether the wanted gap remains.
    pub is_clear: bool,
}

/// Answers a cover question.
///
/// # Errors
/// No swept radius or two; and whatever the formula refuses. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{CoverQuestion, compute_cover};
/// let question: CoverQuestion = serde_json::from_value(serde_json::json!({
///     "axis_to_skin_mm": 7.0, "sheet_mm": 1.0, "swept_mm": 6.4, "sheets_mm": [0.5, 0.3]
/// }))?;
/// let answer = compute_cover(&question)?;
/// assert_eq!(format!("{:.2} {:.2}", answer.fit.gap_mm, answer.fit.blister_mm), "-0.40 0.70");
/// assert_eq!(answer.fit.relief.map(|relief| format!("{:.2}", relief.length_mm)).as_deref(), Some("5.82"));
/// assert_eq!(answer.sheet_that_clears_mm, Some(0.3));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_cover(question: &CoverQuestion) -> Result<CoverAnswer, BadQuestion> {
    let (swept_mm, lengths) = match (question.swept_mm, question.arm_mm, question.tip_mm) {
        (Some(swept), None, None) => (swept, 3.0),
        (None, Some(arm), Some(tip)) => (sum(arm, tip)?, 4.0),
        (None, None, _) => return Err(BadQuestion::at("/swept_mm", "give swept_mm, or arm_mm and tip_mm")),
        (None, Some(_), None) => {
            return Err(BadQuestion::at("/tip_mm", "say how far the arm goes on beyond its hole"));
        }
        (Some(_), _, _) => {
            return Err(BadQuestion::at("/swept_mm", "give swept_mm, or arm_mm and tip_mm, not both"));
        }
    };
    let u_mm = question.u_length_mm.unwrap_or(USUAL_U_MM);
    if !(0.0..=1e4).contains(&u_mm) {
        return Err(BadQuestion::at("/u_length_mm", "an uncertainty must be 0 or more"));
    }
    if question.sheets_mm.len() > MOST_SHEETS {
        return Err(BadQuestion::at("/sheets_mm", "at most 50 sheets are tried at once"));
    }
    let wanted_gap_mm = question.wanted_gap_mm.unwrap_or(WANTED_GAP_MM);
    let cover = ArmUnderCover {
        axis_to_skin_mm: question.axis_to_skin_mm,
        sheet_mm: question.sheet_mm,
        swept_mm,
        wanted_gap_mm,
        swing: question.swing,
    };
    let fit = fit_cover(&cover).map_err(bad_cover)?;
    let sheets = question.sheets_mm.iter().enumerate().map(|(index, sheet_mm)| {
        let other = fit_cover(&ArmUnderCover { sheet_mm: *sheet_mm, ..cover })
            .map_err(|why| BadQuestion::at(format!("/sheets_mm/{index}"), &why))?;
        Ok(SheetAnswer { sheet_mm: *sheet_mm, gap_mm: other.gap_mm, is_clear: other.is_clear })
    });
    let sheets = sheets.collect::<Result<Vec<_>, BadQuestion>>()?;
    let clear = sheets.iter().filter(|sheet| sheet.is_clear).map(|sheet| sheet.sheet_mm);
    let sheet_that_clears_mm =
        clear.fold(None, |most: Option<f64>, mm| Some(most.map_or(mm, |most| most.max(mm))));
    // Depth, sheet, and what the radius is made of count in full.
    let u_gap_mm = u_mm * f64::sqrt(lengths);
    Ok(CoverAnswer {
        fit,
        swept_mm,
        wanted_gap_mm,
        u_gap_mm,
        sheets,
        sheet_that_clears_mm,
        method: METHOD.to_owned(),
        caution: CAUTION.to_owned(),
    })
}

fn sum(arm_mm: f64, tip_mm: f64) -> Result<f64, BadQuestion> {
    for (field, mm) in [("/arm_mm", arm_mm), ("/tip_mm", tip_mm)] {
        if !(0.0..=1e4).contains(&mm) {
            return Err(BadQuestion::at(
                field,
                "it must be a finite number of 0 or more and at most 10000 mm",
            ));
        }
    }
    Ok(arm_mm + tip_mm)
}

fn bad_cover(why: CoverError) -> BadQuestion {
    match why {
        CoverError::BadLength { field, .. } => BadQuestion::at(format!("/{field}"), &why),
        CoverError::BadSwing => BadQuestion::at("/swing", &why),
        CoverError::AxisTooNear { .. } => BadQuestion::at("/axis_to_skin_mm", &why),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(more: &Value) -> Result<CoverAnswer, BadQuestion> {
        let mut question = json!({"axis_to_skin_mm": 7.0, "sheet_mm": 1.0});
        let fields = question.as_object_mut().expect("an object");
        fields.extend(more.as_object().expect("an object").clone());
        compute_cover(&serde_json::from_value(question).expect("the shape of a question"))
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |more: Value, pointer: &str| {
            assert_eq!(ask(&more).map_err(|bad| bad.pointer).map(drop), Err(pointer.to_owned()), "{more}");
        };
        check(json!({}), "/swept_mm");
        check(json!({"arm_mm": 4.5}), "/tip_mm");
        check(json!({"arm_mm": 4.5, "tip_mm": 1.9, "swept_mm": 6.4}), "/swept_mm");
        check(json!({"arm_mm": -4.5, "tip_mm": 1.9}), "/arm_mm");
        check(json!({"swept_mm": 0}), "/swept_mm");
        check(json!({"swept_mm": 6.4, "sheet_mm": 6.9}), "/axis_to_skin_mm");
        check(json!({"swept_mm": 6.4, "u_length_mm": -0.1}), "/u_length_mm");
        check(json!({"swept_mm": 6.4, "swing": {"from_deg": 5, "to_deg": -5}}), "/swing");
        check(json!({"swept_mm": 6.4, "sheets_mm": [0.5, -0.5]}), "/sheets_mm/1");
        check(json!({"swept_mm": 6.4, "sheets_mm": vec![0.5; 51]}), "/sheets_mm");
    }

    #[test]
    fn arm_and_tip_make_the_swept_radius_and_its_uncertainty() {
        let answer = ask(&json!({"arm_mm": 4.5, "tip_mm": 1.9})).expect("answered");
        assert_eq!(answer.swept_mm, 6.4);
        assert_eq!(answer.u_gap_mm, 0.2);
        assert_eq!(answer.sheet_that_clears_mm, None);
    }
}
