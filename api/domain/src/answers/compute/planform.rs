//! `POST /compute/planform`: wing geometry, loadings by every area definition, tail volume, and an estimate of the
//! neutral point and static margin.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use crate::formulas::planform::{AreaDefinition, Areas, PlanformError, loading_g_dm2, percent_mac};
use crate::formulas::stability::{
    UNCERTAIN_BY_PERCENT_MAC, WingAndTail, neutral_point, pitch_area_dm2, static_margin_percent,
};
use crate::formulas::wing::{Wing, WingError, WingStation, wing};

const METHOD: &str = "straight leading edges and chords between stations; lift slopes and downwash of an elliptical \
                      wing, tail in 0.95 of the free dynamic pressure, no fuselage term";
const LABEL: &str = "estimate, ± 3 % MAC; flight trim decides";

/// The stations of a wing, and what else is known of the model.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanformQuestion {
    /// Stations of the right half, root first, two or more.
    pub stations: Vec<WingStation>,
    /// The tail; asks for tail volume and neutral point.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tail: Option<TailQuestion>,
    /// Mass, grams; asks for the loadings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
    /// CG, mm aft of the root leading edge; asks for its place on the MAC, and with a tail for the static margin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cg_x_mm: Option<f64>,
}

/// A tailplane, or both halves of a V-tail.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TailQuestion {
    /// Area along its panels, dm².
    pub area_dm2: f64,
    /// Span as seen from above, mm.
    pub span_mm: f64,
    /// Its aerodynamic centre (quarter chord), mm aft of the root leading edge.
    pub centre_x_mm: f64,
    /// Dihedral of its panels against the horizontal, degrees; 0 for a tailplane, above for a V-tail.
    #[serde(default)]
    pub dihedral_deg: f64,
}

/// Geometry, loadings and estimates.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PlanformAnswer {
    /// The wing.
    pub wing: Wing,
    /// Areas by every definition, and the loading on each where a mass was given.
    pub areas: Vec<AreaAnswer>,
    /// The CG in per cent of the MAC.
    pub cg_percent_mac: Option<f64>,
    /// How much of the MAC one millimetre is, per cent.
    pub percent_mac_per_mm: f64,
    /// Neutral point and what follows from it.
    pub stability: Option<StabilityAnswer>,
    /// How it was computed.
    pub method: String,
}

/// One definition of area.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AreaAnswer {
    /// Which area counts; the rule of the class says which.
    pub definition: AreaDefinition,
    /// The area, dm².
    pub area_dm2: f64,
    /// Mass on it, g/dm².
    pub loading_g_dm2: Option<f64>,
}

/// Neutral point and static margin: an estimate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StabilityAnswer {
    /// Area of the tail that counts for pitch, dm².
    pub pitch_area_dm2: f64,
    /// Tail volume: that area × arm between the aerodynamic centres / (wing area × MAC).
    pub tail_volume: f64,
    /// Neutral point, mm aft of the root leading edge.
    pub neutral_x_mm: f64,
    /// How far it may be off, mm.
    pub neutral_uncertainty_mm: f64,
    /// Static margin, per cent MAC; positive is stable. Only where a CG was given.
    pub static_margin_percent_mac: Option<f64>,
    /// How far it may be off, per cent MAC.
    pub uncertainty_percent_mac: f64,
    /// Lift slope of the wing, per radian.
    pub wing_lift_slope_per_rad: f64,
    /// Lift slope of the tail, per radian.
    pub tail_lift_slope_per_rad: f64,
    /// Change of downwash with the angle of attack.
    pub downwash_slope: f64,
    /// What these numbers are.
    pub label: String,
}

/// Answers a planform question.
///
/// # Errors
/// What the formulas refuse; each names the field.
///
/// ```
/// use preen_domain::answers::compute::{PlanformQuestion, compute_planform};
/// let question: PlanformQuestion = serde_json::from_value(serde_json::json!({
///     "stations": [{"y_mm": 0, "x_le_mm": 0, "chord_mm": 232, "dihedral_deg": 1.5},
///         {"y_mm": 960, "x_le_mm": 9, "chord_mm": 206, "dihedral_deg": 5.5},
///         {"y_mm": 1450, "x_le_mm": 34, "chord_mm": 152, "dihedral_deg": 9},
///         {"y_mm": 1800, "x_le_mm": 66, "chord_mm": 104, "dihedral_deg": 9},
///         {"y_mm": 1950, "x_le_mm": 104, "chord_mm": 52}],
///     "tail": {"area_dm2": 5.9, "span_mm": 560, "centre_x_mm": 1072}, "mass_g": 1202.5, "cg_x_mm": 96.5156
/// }))?;
/// let answer = compute_planform(&question)?;
/// let loadings: Vec<String> =
///     answer.areas.iter().filter_map(|area| Some(format!("{:.2}", area.loading_g_dm2?))).collect();
/// assert_eq!(loadings, ["16.96", "15.66", "15.71"]);
/// let stability = answer.stability.ok_or("a tail was given")?;
/// assert_eq!(format!("{:.1}", stability.neutral_x_mm), "115.0");
/// assert_eq!(stability.static_margin_percent_mac.map(|margin| format!("{margin:.1}")).as_deref(), Some("9.5"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_planform(question: &PlanformQuestion) -> Result<PlanformAnswer, BadQuestion> {
    let wing = wing(&question.stations).map_err(bad_station)?;
    let mac_mm = wing.along.mac_mm;
    let percent = |cg_x_mm: f64| {
        percent_mac(cg_x_mm, wing.along.mac_le_x_mm, mac_mm).map_err(|why| BadQuestion::at("/cg_x_mm", &why))
    };
    Ok(PlanformAnswer {
        areas: areas(question, &wing)?,
        cg_percent_mac: question.cg_x_mm.map(percent).transpose()?,
        percent_mac_per_mm: 100.0 / mac_mm,
        stability: question.tail.map(|tail| stability(&wing, tail, question.cg_x_mm)).transpose()?,
        wing,
        method: METHOD.to_owned(),
    })
}

fn areas(question: &PlanformQuestion, wing: &Wing) -> Result<Vec<AreaAnswer>, BadQuestion> {
    let projected_tail = |tail: &TailQuestion| tail.area_dm2 * tail.dihedral_deg.to_radians().cos();
    let known = Areas {
        wing_dm2: wing.along.area_dm2,
        projected_wing_dm2: Some(wing.projected.area_dm2),
        tail_dm2: question.tail.map_or(0.0, |tail| tail.area_dm2),
        projected_tail_dm2: question.tail.as_ref().map_or(0.0, projected_tail),
    };
    let all = [AreaDefinition::Wing, AreaDefinition::WingAndTail, AreaDefinition::ProjectedWingAndTail];
    let counted = all.into_iter().filter(|by| question.tail.is_some() || *by != AreaDefinition::WingAndTail);
    let mut answers = Vec::new();
    for definition in counted {
        let Some(area_dm2) = known.counted_by(definition) else { continue };
        let loading = question.mass_g.map(|mass_g| loading_g_dm2(mass_g, area_dm2)).transpose();
        let loading_g_dm2 = loading.map_err(|_not_positive| {
            BadQuestion::at("/mass_g", "mass and areas must be finite and above zero")
        })?;
        answers.push(AreaAnswer { definition, area_dm2, loading_g_dm2 });
    }
    Ok(answers)
}

fn stability(wing: &Wing, tail: TailQuestion, cg_x_mm: Option<f64>) -> Result<StabilityAnswer, BadQuestion> {
    let refuse = |why| BadQuestion::at("/tail", &why);
    let pitch_area_dm2 = pitch_area_dm2(tail.area_dm2, tail.dihedral_deg).map_err(refuse)?;
    let mac_mm = wing.along.mac_mm;
    let point = neutral_point(&WingAndTail {
        wing_area_dm2: wing.along.area_dm2,
        wing_aspect_ratio: wing.along.aspect_ratio,
        mac_mm,
        wing_centre_x_mm: wing.along.quarter_chord_x_mm,
        tail_area_dm2: pitch_area_dm2,
        tail_span_mm: tail.span_mm,
        tail_centre_x_mm: tail.centre_x_mm,
    })
    .map_err(refuse)?;
    let margin = |cg_x_mm: f64| {
        static_margin_percent(point.neutral_x_mm, cg_x_mm, mac_mm)
            .map_err(|why| BadQuestion::at("/cg_x_mm", &why))
    };
    Ok(StabilityAnswer {
        pitch_area_dm2,
        tail_volume: point.tail_volume,
        neutral_x_mm: point.neutral_x_mm,
        neutral_uncertainty_mm: UNCERTAIN_BY_PERCENT_MAC / 100.0 * mac_mm,
        static_margin_percent_mac: cg_x_mm.map(margin).transpose()?,
        uncertainty_percent_mac: UNCERTAIN_BY_PERCENT_MAC,
        wing_lift_slope_per_rad: point.wing_lift_slope_per_rad,
        tail_lift_slope_per_rad: point.tail_lift_slope_per_rad,
        downwash_slope: point.downwash_slope,
        label: LABEL.to_owned(),
    })
}

fn bad_station(why: WingError) -> BadQuestion {
    let row = match why {
        WingError::BadWashout { station }
        | WingError::Planform(
            PlanformError::NotFinite { station }
            | PlanformError::NotOutward { station }
            | PlanformError::NegativeChord { station }
            | PlanformError::BadDihedral { panel: station },
        ) => Some(station),
        WingError::Planform(_) => None,
    };
    match row {
        Some(station) => BadQuestion::at_row("/stations", station, &why),
        None => BadQuestion::at("/stations", &why),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(question: Value) -> Result<PlanformAnswer, BadQuestion> {
        compute_planform(&serde_json::from_value(question).expect("the shape of a question"))
    }

    fn stations() -> Value {
        json!([{"y_mm": 0, "x_le_mm": 0, "chord_mm": 200}, {"y_mm": 1000, "x_le_mm": 0, "chord_mm": 200}])
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |question, pointer: &str| {
            assert_eq!(ask(question).map_err(|bad| bad.pointer), Err(pointer.to_owned()));
        };
        let turned =
            json!([{"y_mm": 9, "x_le_mm": 0, "chord_mm": 200}, {"y_mm": 0, "x_le_mm": 0, "chord_mm": 200}]);
        let tail = |dihedral_deg: f64| json!({"area_dm2": 5, "span_mm": 500, "centre_x_mm": 900, "dihedral_deg": dihedral_deg});
        check(json!({"stations": []}), "/stations");
        check(json!({"stations": turned}), "/stations/1");
        check(json!({"stations": stations(), "mass_g": 0}), "/mass_g");
        check(json!({"stations": stations(), "tail": tail(90.0)}), "/tail");
    }

    #[test]
    fn a_v_tail_counts_less_for_pitch_than_for_the_class() {
        let tail = json!({"area_dm2": 8, "span_mm": 500, "centre_x_mm": 900, "dihedral_deg": 45});
        let answer = ask(json!({"stations": stations(), "tail": tail, "mass_g": 2000})).expect("answered");
        let areas: Vec<String> = answer.areas.iter().map(|area| format!("{:.3}", area.area_dm2)).collect();
        assert_eq!(areas, ["40.000", "48.000", "45.657"]);
        let stability = answer.stability.expect("a tail was given");
        assert!((stability.pitch_area_dm2 - 4.0).abs() < 1e-9);
        assert_eq!((stability.static_margin_percent_mac, stability.neutral_uncertainty_mm), (None, 6.0));
    }
}
