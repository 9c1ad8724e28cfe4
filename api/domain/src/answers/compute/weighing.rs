//! `POST /compute/weighing`: mass and CG from scale readings, of one weighing or several taken together, with what each
//! part of the uncertainty costs; compared with the whole and with a mass list; the weight that levels the wing.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::balance::{BalanceItem, bad_item};
use super::{BadQuestion, MacPlace};
use crate::formulas::balance::{MassAndCg, balance};
use crate::formulas::combine::{Combined, StandSetUp, together};
use crate::formulas::reconcile::{PLACE_KNOWN_WITHIN_MM, ReconcileError, Reconciliation, reconcile};
use crate::formulas::reweigh::{ReweighError, Reweighed, reweigh};
use crate::formulas::support_check::{
    LoadSharing, WholeCheck, WholeError, WholeMass, check_whole, share_load,
};
use crate::formulas::trim::trim_weight_g;
use crate::formulas::weighing::{Levelling, SupportReading, WeighedArm, WeighingError};

const METHOD: &str = "sum and moments of the readings; standard uncertainties (1u) of scale, support place and \
                      levelling combined per JCGM 100:2008; a compared mass list taken as exact";

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
    /// How level the model stood; left out, the levelling counts as perfect.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub levelling: Option<Levelling>,
    /// Further weighings of the same model in the same configuration, taken together with `supports`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub repeats: Vec<RepeatedWeighing>,
    /// Whether stands and levelling stayed from one weighing to the next.
    #[serde(default)]
    pub set_up: StandSetUp,
    /// The whole model on one scale, to check the readings of `supports` against.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whole: Option<WholeMass>,
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

/// One more weighing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RepeatedWeighing {
    /// Its supports, two or more.
    pub supports: Vec<WeighedSupport>,
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
    /// What each part of the uncertainty costs, for each axis the largest first.
    pub budget: Vec<BudgetLine>,
    /// How repeated weighings went together; absent for one.
    pub together: Option<TogetherAnswer>,
    /// Supports against the whole; absent without one.
    pub whole: Option<WholeCheck>,
    /// How evenly the supports of the first weighing carry; absent where there are no more than a plane needs.
    pub sharing: Option<LoadSharing>,
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

/// Where an uncertainty comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BudgetPart {
    /// The readings of the scales.
    Scale,
    /// Where the supports touch.
    Place,
    /// How level the model stood.
    Level,
    /// What repeated weighings differ by.
    Scatter,
}

/// An axis of the model.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BudgetAxis {
    /// Aft of the datum.
    X,
    /// Right of the centreline.
    Y,
}

/// One part of the uncertainty of a CG coordinate, and what it would be without it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BudgetLine {
    /// Which coordinate.
    pub axis: BudgetAxis,
    /// Which part.
    pub part: BudgetPart,
    /// Standard uncertainty (1u) by it alone, mm.
    pub u_mm: f64,
    /// By how much the variance would fall were it perfect, per cent.
    pub share_percent: f64,
    /// The combined standard uncertainty (1u) that would remain, mm.
    pub u_without_mm: f64,
}

/// How repeated weighings went together: scatter (type A) beside what is known of the instruments (type B).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TogetherAnswer {
    /// How many weighings.
    pub weighings: usize,
    /// Whether the set-up stayed.
    pub set_up: StandSetUp,
    /// Mass, g; its one part is the scales.
    pub mass_g: Combined,
    /// CG aft of the datum, mm; its parts are scales, places, levelling.
    pub x_mm: Option<Combined>,
    /// CG right of the centreline, mm; the same parts.
    pub y_mm: Option<Combined>,
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
    let weighings: Vec<Vec<SupportReading>> = std::iter::once(&question.supports)
        .chain(question.repeats.iter().map(|repeat| &repeat.supports))
        .map(|supports| supports.iter().map(|on| reading(on, question)).collect())
        .collect();
    let levelling = question.levelling.unwrap_or_default();
    let weighed = reweigh(&weighings, levelling, question.set_up).map_err(bad_weighing)?;
    let (x, y) = (weighed.x.as_ref().map(as_arm), weighed.y.as_ref().map(as_arm));
    let mass = MassAnswer { mass_g: weighed.mass.value, u_g: weighed.mass.u };
    let first = weighings.first().map_or(&[][..], Vec::as_slice);
    let whole = match question.whole {
        Some(whole) => Some(check_whole(first, levelling, whole).map_err(bad_whole)?),
        None => None,
    };
    let mut budget = budget_of(BudgetAxis::X, weighed.x.as_ref(), question.set_up);
    budget.extend(budget_of(BudgetAxis::Y, weighed.y.as_ref(), question.set_up));
    Ok(WeighingAnswer {
        mass,
        x,
        y,
        x_percent_mac: percent(question, x)?,
        level: level(question, mass.mass_g, y)?,
        reconciliation: list_against_scale(question, &weighings)?,
        budget,
        together: (weighings.len() > 1).then(|| told_together(weighed, question.set_up)),
        whole,
        sharing: share_load(first).map_err(|why| bad_support("/supports", why))?,
        method: METHOD.to_owned(),
    })
}

fn reading(on: &WeighedSupport, question: &WeighingQuestion) -> SupportReading {
    SupportReading {
        reading_g: on.reading_g - on.tare_g,
        x_mm: on.x_mm,
        y_mm: on.y_mm,
        u_reading_g: question.u_scale_g,
        u_place_mm: question.u_place_mm,
    }
}

fn parts_of(combined: &Combined) -> [f64; 3] {
    let part = |index: usize| combined.u_parts.get(index).copied().unwrap_or(0.0);
    [part(0), part(1), part(2)]
}

fn as_arm(combined: &Combined) -> WeighedArm {
    let [u_scale_mm, u_place_mm, u_level_mm] = parts_of(combined);
    WeighedArm {
        at_mm: combined.value,
        u_mm: combined.u,
        u_scale_mm,
        u_place_mm,
        u_level_mm,
        u_scatter_mm: combined.u_scatter,
    }
}

/// What each part costs: the combined uncertainty again without it.
fn budget_of(axis: BudgetAxis, combined: Option<&Combined>, set_up: StandSetUp) -> Vec<BudgetLine> {
    let Some(combined) = combined else { return Vec::new() };
    let [scale, place, level] = parts_of(combined);
    let scatter = combined.u_scatter;
    let known = |a: f64, b: f64| a.hypot(b);
    let rest = [
        (BudgetPart::Scale, scale, together(scatter, known(place, level), set_up)),
        (BudgetPart::Place, place, together(scatter, known(scale, level), set_up)),
        (BudgetPart::Level, level, together(scatter, known(scale, place), set_up)),
        (BudgetPart::Scatter, scatter, combined.u_instrument),
    ];
    let mut lines: Vec<BudgetLine> = rest
        .into_iter()
        .filter(|(_, u_mm, _)| *u_mm > 0.0)
        .map(|(part, u_mm, u_without_mm)| {
            let left = (u_without_mm / combined.u).powi(2);
            BudgetLine { axis, part, u_mm, share_percent: 100.0 * (1.0 - left).max(0.0), u_without_mm }
        })
        .collect();
    lines.sort_by(|one, other| other.u_mm.total_cmp(&one.u_mm));
    lines
}

fn told_together(weighed: Reweighed, set_up: StandSetUp) -> TogetherAnswer {
    TogetherAnswer {
        weighings: weighed.each.len(),
        set_up,
        mass_g: weighed.mass,
        x_mm: weighed.x,
        y_mm: weighed.y,
    }
}

fn check_uncertainties(question: &WeighingQuestion) -> Result<(), BadQuestion> {
    let fields = [("/u_scale_g", question.u_scale_g), ("/u_place_mm", question.u_place_mm)];
    match fields.into_iter().find(|(_, u)| !u.is_finite() || *u < 0.0) {
        Some((field, _)) => Err(BadQuestion::at(field, "an uncertainty must be 0 or more")),
        None => Ok(()),
    }
}

fn percent(question: &WeighingQuestion, x: Option<WeighedArm>) -> Result<Option<f64>, BadQuestion> {
    let Some(mac) = question.mac else { return Ok(None) };
    let x = x.ok_or_else(|| {
        BadQuestion::at(
            "/supports",
            "all supports share one x, so there is no CG to give in per cent of the MAC",
        )
    })?;
    mac.percent(x.at_mm).map(Some)
}

fn level(
    question: &WeighingQuestion,
    mass_g: f64,
    y: Option<WeighedArm>,
) -> Result<Option<WeighingTrim>, BadQuestion> {
    let Some(place_y_mm) = question.tip_place_y_mm else { return Ok(None) };
    let y = y.ok_or_else(|| {
        BadQuestion::at(
            "/supports",
            "all supports share one y, so there is nothing to level; use three supports",
        )
    })?;
    let weight_g = trim_weight_g(mass_g, y.at_mm, 0.0, place_y_mm)
        .map_err(|why| BadQuestion::at("/tip_place_y_mm", &why))?;
    Ok(Some(WeighingTrim { place_y_mm, weight_g }))
}

fn list_against_scale(
    question: &WeighingQuestion,
    weighings: &[Vec<SupportReading>],
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
    let levelling = question.levelling.unwrap_or_default();
    reconcile(&list, weighings, levelling, question.set_up, within_mm).map(Some).map_err(|why| match why {
        ReconcileError::Weighing(why) => bad_weighing(why),
        ReconcileError::NoArm => BadQuestion::at("/supports", &why),
        ReconcileError::BadList | ReconcileError::TooLarge => BadQuestion::at("/list", &why),
        ReconcileError::BadLimit => BadQuestion::at("/place_known_within_mm", &why),
    })
}

/// Weighings are counted from 1; the first is `supports`, the others are `repeats`.
fn bad_weighing(why: ReweighError) -> BadQuestion {
    match why {
        ReweighError::Weighing { weighing: 1, why } => bad_support("/supports", why),
        ReweighError::Weighing { weighing, why } => {
            bad_support(&format!("/repeats/{}/supports", weighing.saturating_sub(2)), why)
        }
        ReweighError::Combine(why) => BadQuestion::at("/repeats", &why),
    }
}

fn bad_whole(why: WholeError) -> BadQuestion {
    match why {
        WholeError::Weighing(why) => bad_support("/supports", why),
        WholeError::BadWhole | WholeError::NoUncertainty => BadQuestion::at("/whole", &why),
    }
}

fn bad_support(supports: &str, why: WeighingError) -> BadQuestion {
    match why {
        WeighingError::NotFinite { support }
        | WeighingError::NegativeReading { support }
        | WeighingError::NegativeUncertainty { support } => BadQuestion::at_row(supports, support, &why),
        WeighingError::BadLevelling => BadQuestion::at("/levelling", &why),
        WeighingError::TooFewSupports
        | WeighingError::CoincidentSupports
        | WeighingError::NoMass
        | WeighingError::TooLarge => BadQuestion::at(supports, &why),
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
        check(json!({"levelling": {"u_angle_deg": 90, "cg_height_mm": 40}}), "/levelling");
        let good =
            json!({"supports": [{"x_mm": -60, "reading_g": 878.0}, {"x_mm": 520, "reading_g": 324.5}]});
        let off = json!({"supports": [{"x_mm": -60, "reading_g": 878.0}, {"x_mm": 520, "reading_g": -1}]});
        check(json!({"repeats": [good, off]}), "/repeats/1/supports/1");
        check(json!({"repeats": [good, {"supports": []}]}), "/repeats/1/supports");
        check(json!({"whole": {"mass_g": 0, "u_g": 0.1}}), "/whole");
        let exact = json!({"u_scale_g": 0, "whole": {"mass_g": 1202, "u_g": 0}});
        check(exact, "/whole");
    }

    #[test]
    fn the_budget_says_what_would_help() {
        // A better scale does not help: 0.43 would become 0.39. Levelling would: 0.82 becomes 0.43.
        let question = two_supports(&json!({"levelling": {"u_angle_deg": 1, "cg_height_mm": 40}}));
        let lines = ask(question).expect("answered").budget;
        let told: Vec<String> = lines
            .iter()
            .map(|line| {
                let part = serde_json::to_value(line.part).expect("a word");
                format!("{part} {:.2} {:.0} % {:.2}", line.u_mm, line.share_percent, line.u_without_mm)
            })
            .collect();
        assert_eq!(told, ["\"level\" 0.70 72 % 0.43", "\"place\" 0.39 22 % 0.72", "\"scale\" 0.19 5 % 0.80"]);
    }

    #[test]
    fn repeated_weighings_tell_scatter_beside_instrument() {
        let again = |tail_g: f64| json!({"supports": [{"x_mm": -60, "reading_g": 1202.5 - tail_g}, {"x_mm": 520, "reading_g": tail_g}]});
        let repeats = [again(324.9), again(324.7), again(330.5), again(324.6)];
        let kept = ask(two_supports(&json!({ "repeats": repeats }))).expect("answered");
        let together = kept.together.expect("several");
        let x = together.x_mm.expect("along x");
        assert_eq!((together.weighings, x.outliers.len()), (5, 1));
        assert_eq!(x.outliers.first().map(|out| out.number), Some(4));
        assert_eq!(kept.x.map(|arm| arm.at_mm), Some(x.value), "the outlier is in the mean");
        assert!((x.u.powi(2) - x.u_scatter.powi(2) - x.u_instrument.powi(2)).abs() < 1e-12);
        assert!((x.u_instrument - 0.432).abs() < 0.001, "kept, it does not average out: {}", x.u_instrument);
        assert!(
            kept.budget.first().is_some_and(|line| line.part == BudgetPart::Scatter),
            "{:?}",
            kept.budget
        );
        let anew = ask(two_supports(&json!({"repeats": repeats, "set_up": "anew"}))).expect("answered");
        let anew_x = anew.together.and_then(|together| together.x_mm).expect("along x");
        assert!((anew_x.u_instrument - x.u_instrument / 5f64.sqrt()).abs() < 1e-6);
        assert_eq!((anew_x.u, anew_x.freedom), (anew_x.u_scatter, Some(4.0)));
    }

    #[test]
    fn the_whole_on_one_scale_checks_the_supports() {
        let whole = json!({"whole": {"mass_g": 1199.0, "u_g": 0.1}});
        let check = ask(two_supports(&whole)).expect("answered").whole.expect("asked for");
        assert!(!check.agrees && (check.misfit_g - 3.5).abs() < 1e-9);
        let four = json!({"supports": [{"x_mm": 0, "y_mm": -100, "reading_g": 290}, {"x_mm": 0, "y_mm": 100, "reading_g": 370},
            {"x_mm": 400, "y_mm": -100, "reading_g": 330}, {"x_mm": 400, "y_mm": 100, "reading_g": 250}]});
        let sharing = ask(two_supports(&four)).expect("answered").sharing.expect("four supports");
        assert!((sharing.largest_g - 40.0).abs() < 1e-9);
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
