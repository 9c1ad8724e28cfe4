//! `POST /compute/balance`: mass, CG, what changes do to them, the weight that restores the CG, the permitted range.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{BadQuestion, WeighingTrim};
use crate::formulas::balance::{BalanceError, MassAndCg, PointItem, balance};
use crate::formulas::inertia::{
    Inertia, InertiaChange, InertiaError, inertia, inertia_after, inertia_change,
};
use crate::formulas::planform::percent_mac;
use crate::formulas::principal::{PrincipalAxes, principal_axes};
use crate::formulas::swap::{MassChange, SwapError, UnweighedMoves, change_mass, unweighed_moves};
use crate::formulas::trim::trim_weight_g;

const METHOD: &str = "sum of masses and moments; the given numbers taken as exact";

/// A mass list or a known balance, the changes to it, and what else is asked.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct BalanceQuestion {
    /// The mass list. Give this or `base`, not both.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub items: Vec<BalanceItem>,
    /// A balance known already, for example weighed. Give this or `items`, not both.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub base: Option<MassAndCg>,
    /// Parts on (positive), off (negative) or replaced (new minus old).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub changes: Vec<BalanceChange>,
    /// Where trim weight could sit, mm aft of the datum; asks for the weight that brings the CG to `target_x_mm`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trim_place_x_mm: Option<f64>,
    /// Where the CG should be, mm aft of the datum; without it, where it was before the changes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub target_x_mm: Option<f64>,
    /// Where a tip weight could sit, mm right of the centreline (left: negative); asks for the weight that brings the
    /// CG to the centreline.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tip_place_y_mm: Option<f64>,
    /// The permitted range of the CG.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<CgRange>,
    /// The mean aerodynamic chord; asks for the CG in per cent of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mac: Option<MacPlace>,
}

/// One named row of a mass list.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BalanceItem {
    /// What it is, for people.
    #[serde(default)]
    pub item: String,
    /// Mass in grams, not negative.
    pub mass_g: f64,
    /// Place aft of the datum, mm.
    pub x_mm: f64,
    /// Place right of the centreline, mm.
    #[serde(default)]
    pub y_mm: f64,
    /// Place above the datum, mm.
    #[serde(default)]
    pub z_mm: f64,
    /// Spread of the item's own mass along y, mm; 0 for a point.
    #[serde(default)]
    pub own_span_mm: f64,
    /// Spread of the item's own mass along x, mm; 0 for a point.
    #[serde(default)]
    pub own_length_mm: f64,
}

/// One named change of mass.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BalanceChange {
    /// What changed, for people.
    #[serde(default)]
    pub item: String,
    /// Grams added (positive) or taken away (negative).
    pub mass_change_g: f64,
    /// Place aft of the datum, mm.
    pub x_mm: f64,
    /// Place right of the centreline, mm.
    #[serde(default)]
    pub y_mm: f64,
    /// Place above the datum, mm.
    #[serde(default)]
    pub z_mm: f64,
}

/// The permitted range of the CG, mm aft of the datum, its ends included.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CgRange {
    /// Front limit.
    pub front_x_mm: f64,
    /// Rear limit.
    pub rear_x_mm: f64,
}

/// The mean aerodynamic chord and where it lies.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MacPlace {
    /// Its leading edge, mm aft of the datum.
    pub le_x_mm: f64,
    /// Its length, mm.
    pub mac_mm: f64,
}

/// Mass and CG before and after, and what follows from them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BalanceAnswer {
    /// Before the changes.
    pub before: MassAndCg,
    /// After the changes; the same as `before` without any.
    pub after: MassAndCg,
    /// Mass after minus mass before, grams.
    pub mass_change_g: f64,
    /// CG move, mm, aft positive.
    pub x_change_mm: f64,
    /// CG move, mm, to the right positive.
    pub y_change_mm: f64,
    /// CG move, mm, up positive.
    pub z_change_mm: f64,
    /// The trim weight asked for.
    pub trim: Option<TrimAnswer>,
    /// The tip weight asked for. Where a repair made a wing heavy, lighten the repair before adding a weight opposite.
    pub level: Option<WeighingTrim>,
    /// What the changes add up to as long as nobody weighs; only where there are changes.
    pub unweighed: Option<UnweighedMoves>,
    /// How the CG after the changes lies in the range given.
    pub range: Option<CgRangeStanding>,
    /// The CG after the changes in per cent of the mean aerodynamic chord given.
    pub x_percent_mac: Option<f64>,
    /// Moments of inertia; only where a mass list was given.
    pub inertia: Option<InertiaAnswer>,
    /// How it was computed.
    pub method: String,
}

/// Weight at a place that brings the CG to its target.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TrimAnswer {
    /// Where it sits, mm aft of the datum.
    pub place_x_mm: f64,
    /// The CG it brings about, mm aft of the datum.
    pub target_x_mm: f64,
    /// Grams to add (positive) or to take off there (negative).
    pub weight_g: f64,
    /// Mass with the trim weight, grams.
    pub mass_with_trim_g: f64,
}

/// How a CG lies in its permitted range.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CgRangeStanding {
    /// Front limit, mm aft of the datum.
    pub front_x_mm: f64,
    /// Rear limit, mm aft of the datum.
    pub rear_x_mm: f64,
    /// Whether the CG lies inside, ends included. Inside, no trim weight is required to fly.
    pub is_inside: bool,
    /// CG behind the front limit, mm; negative when in front of it.
    pub front_margin_mm: f64,
    /// CG in front of the rear limit, mm; negative when behind it.
    pub rear_margin_mm: f64,
}

/// Moments of inertia before and after the changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct InertiaAnswer {
    /// Before the changes.
    pub before: Inertia,
    /// After the changes, about the CG then.
    pub after: Inertia,
    /// Change in per cent.
    pub change: InertiaChange,
    /// Principal axes after the changes; absent where nothing has any inertia.
    pub axes: Option<PrincipalAxes>,
}

/// Answers a balance question.
///
/// Trim weight is computed for the mass and CG *after* the changes and, without a target, restores the CG from before
/// them. The range is compared with the CG after the changes and without trim weight.
///
/// # Errors
/// Neither or both of `items` and `base`; a target without a place; a range in the wrong order; and whatever the
/// formulas refuse. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{BalanceQuestion, compute_balance};
/// let question: BalanceQuestion = serde_json::from_value(serde_json::json!({
///     "base": {"mass_g": 1202.5, "x_mm": 96.52},
///     "changes": [{"mass_change_g": 0.45, "x_mm": 62}, {"mass_change_g": 0.42, "x_mm": 62},
///                 {"mass_change_g": 1.91, "x_mm": 985}],
///     "trim_place_x_mm": -335, "range": {"front_x_mm": 92, "rear_x_mm": 99}
/// }))?;
/// let answer = compute_balance(&question)?;
/// assert_eq!(format!("{:.2} @ {:.2}", answer.after.mass_g, answer.after.x_mm), "1205.28 @ 97.90");
/// assert_eq!(answer.trim.map(|trim| format!("{:.2}", trim.weight_g)).as_deref(), Some("3.86"));
/// assert!(answer.range.is_some_and(|range| range.is_inside));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_balance(question: &BalanceQuestion) -> Result<BalanceAnswer, BadQuestion> {
    let items: Vec<PointItem> = question.items.iter().map(BalanceItem::point).collect();
    let changes: Vec<MassChange> = question.changes.iter().map(BalanceChange::point).collect();
    let before = before_changes(question, &items)?;
    let changed = change_mass(&before, &changes).map_err(bad_change)?;
    let inertia = if items.is_empty() { None } else { Some(inertia_answer(&items, &changes)?) };
    let after = changed.after;
    Ok(BalanceAnswer {
        before,
        after,
        mass_change_g: changed.mass_change_g,
        x_change_mm: changed.x_change_mm,
        y_change_mm: changed.y_change_mm,
        z_change_mm: changed.z_change_mm,
        trim: trim_answer(question, &before, &after)?,
        level: level(question, &after)?,
        unweighed: if changes.is_empty() {
            None
        } else {
            Some(unweighed_moves(&before, &changes).map_err(bad_change)?)
        },
        range: question.range.map(|range| range.standing(after.x_mm)).transpose()?,
        x_percent_mac: question.mac.map(|mac| mac.percent(after.x_mm)).transpose()?,
        inertia,
        method: METHOD.to_owned(),
    })
}

fn before_changes(question: &BalanceQuestion, items: &[PointItem]) -> Result<MassAndCg, BadQuestion> {
    match question.base {
        Some(_) if !items.is_empty() => Err(BadQuestion::at(
            "/base",
            "give either a mass list in `items` or a known balance in `base`, not both",
        )),
        Some(base) => Ok(base),
        None if items.is_empty() => {
            Err(BadQuestion::at("/items", "give a mass list in `items` or a known balance in `base`"))
        }
        None => balance(items).map_err(|why| bad_item("/items", why)),
    }
}

fn inertia_answer(items: &[PointItem], changes: &[MassChange]) -> Result<InertiaAnswer, BadQuestion> {
    let before = inertia(items).map_err(|why| bad_item("/items", why))?;
    let after = inertia_after(items, changes).map_err(|why| match why {
        InertiaError::Balance(why) => bad_item("/items", why),
        InertiaError::Swap(why) => bad_change(why),
    })?;
    Ok(InertiaAnswer {
        before,
        after,
        change: inertia_change(&before, &after),
        axes: principal_axes(&after).ok(),
    })
}

fn trim_answer(
    question: &BalanceQuestion,
    before: &MassAndCg,
    after: &MassAndCg,
) -> Result<Option<TrimAnswer>, BadQuestion> {
    let Some(place_x_mm) = question.trim_place_x_mm else {
        return match question.target_x_mm {
            None => Ok(None),
            Some(_) => Err(BadQuestion::at("/trim_place_x_mm", "a target needs a place for the trim weight")),
        };
    };
    let target_x_mm = question.target_x_mm.unwrap_or(before.x_mm);
    let weight_g = trim_weight_g(after.mass_g, after.x_mm, target_x_mm, place_x_mm)
        .map_err(|why| BadQuestion::at("/trim_place_x_mm", &why))?;
    Ok(Some(TrimAnswer { place_x_mm, target_x_mm, weight_g, mass_with_trim_g: after.mass_g + weight_g }))
}

fn level(question: &BalanceQuestion, after: &MassAndCg) -> Result<Option<WeighingTrim>, BadQuestion> {
    let Some(place_y_mm) = question.tip_place_y_mm else { return Ok(None) };
    let weight_g = trim_weight_g(after.mass_g, after.y_mm, 0.0, place_y_mm)
        .map_err(|why| BadQuestion::at("/tip_place_y_mm", &why))?;
    Ok(Some(WeighingTrim { place_y_mm, weight_g }))
}

impl CgRange {
    fn standing(self, x_mm: f64) -> Result<CgRangeStanding, BadQuestion> {
        let Self { front_x_mm, rear_x_mm } = self;
        if !front_x_mm.is_finite() || !rear_x_mm.is_finite() || front_x_mm > rear_x_mm {
            return Err(BadQuestion::at("/range", "the front limit must not lie behind the rear limit"));
        }
        Ok(CgRangeStanding {
            front_x_mm,
            rear_x_mm,
            is_inside: (front_x_mm..=rear_x_mm).contains(&x_mm),
            front_margin_mm: x_mm - front_x_mm,
            rear_margin_mm: rear_x_mm - x_mm,
        })
    }
}

impl MacPlace {
    pub(super) fn percent(self, x_mm: f64) -> Result<f64, BadQuestion> {
        percent_mac(x_mm, self.le_x_mm, self.mac_mm).map_err(|why| BadQuestion::at("/mac", &why))
    }
}

impl BalanceItem {
    /// The row without its name.
    pub(super) fn point(&self) -> PointItem {
        PointItem {
            mass_g: self.mass_g,
            x_mm: self.x_mm,
            y_mm: self.y_mm,
            z_mm: self.z_mm,
            own_span_mm: self.own_span_mm,
            own_length_mm: self.own_length_mm,
        }
    }
}

impl BalanceChange {
    fn point(&self) -> MassChange {
        MassChange { mass_change_g: self.mass_change_g, x_mm: self.x_mm, y_mm: self.y_mm, z_mm: self.z_mm }
    }
}

/// A refused mass list, pointing at its row where there is one.
pub(super) fn bad_item(list: &str, why: BalanceError) -> BadQuestion {
    match why {
        BalanceError::NotFinite { row }
        | BalanceError::NegativeMass { row }
        | BalanceError::NegativeSpan { row } => BadQuestion::at_row(list, row, &why),
        BalanceError::NoItems | BalanceError::NoMass | BalanceError::TooLarge => BadQuestion::at(list, &why),
    }
}

fn bad_change(why: SwapError) -> BadQuestion {
    match why {
        SwapError::BadBase => BadQuestion::at("/base", &why),
        SwapError::NotFinite { change } => BadQuestion::at_row("/changes", change, &why),
        SwapError::NothingLeft | SwapError::TooLarge => BadQuestion::at("/changes", &why),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(question: Value) -> Result<BalanceAnswer, BadQuestion> {
        compute_balance(&serde_json::from_value(question).expect("the shape of a question"))
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let base = json!({"mass_g": 1202.5, "x_mm": 96.52});
        let items = json!([{"mass_g": 5.0, "x_mm": 1.0}, {"mass_g": -5.0, "x_mm": 1.0}]);
        let check = |question, pointer: &str| {
            assert_eq!(ask(question).map_err(|bad| bad.pointer), Err(pointer.to_owned()));
        };
        check(json!({}), "/items");
        check(json!({"items": items, "base": base}), "/base");
        check(json!({ "items": items }), "/items/1");
        check(json!({"base": {"mass_g": 0, "x_mm": 0}}), "/base");
        check(json!({"base": base, "changes": [{"mass_change_g": -2000, "x_mm": 0}]}), "/changes");
        check(json!({"base": base, "target_x_mm": 95}), "/trim_place_x_mm");
        check(json!({"base": base, "target_x_mm": 95, "trim_place_x_mm": 95}), "/trim_place_x_mm");
        let aside = json!({"mass_g": 1202.5, "x_mm": 96.52, "y_mm": 5});
        check(json!({"base": aside, "tip_place_y_mm": 0}), "/tip_place_y_mm");
        check(json!({"base": base, "range": {"front_x_mm": 99, "rear_x_mm": 92}}), "/range");
        check(json!({"base": base, "mac": {"le_x_mm": 16.7, "mac_mm": 0}}), "/mac");
    }

    #[test]
    fn unknown_fields_are_refused_by_name() {
        let wrong = json!({"base": {"mass_g": 1202.5, "x_mm": 96.52, "x": 3}});
        let refused = serde_json::from_value::<BalanceQuestion>(wrong).expect_err("x is unknown");
        assert!(refused.to_string().contains("unknown field `x`"), "{refused}");
    }

    #[test]
    fn a_list_answers_with_inertia_and_a_known_balance_without() {
        let list = json!({"items": [{"mass_g": 100, "x_mm": 0, "y_mm": -1000}, {"mass_g": 100, "x_mm": 0, "y_mm": 1000}],
            "changes": [{"mass_change_g": 100, "x_mm": 0}], "mac": {"le_x_mm": -50, "mac_mm": 200}});
        let answer = ask(list).expect("answered");
        let inertia = answer.inertia.expect("from the list");
        assert_eq!((inertia.before.roll_kg_m2, inertia.change.roll_percent), (0.2, Some(0.0)));
        assert_eq!(answer.x_percent_mac, Some(25.0));
        assert_eq!(ask(json!({"base": {"mass_g": 1, "x_mm": 0}})).expect("answered").inertia, None);
    }

    #[test]
    fn a_repair_at_a_tip_is_levelled_at_the_other() {
        let question = json!({"base": {"mass_g": 1202.5, "x_mm": 96.52}, "tip_place_y_mm": -1900,
            "changes": [{"mass_change_g": 6, "x_mm": 96.52, "y_mm": 1700}]});
        let answer = ask(question).expect("answered");
        assert_eq!(format!("{:.2}", answer.after.y_mm), "8.44");
        assert_eq!(answer.level.map(|level| format!("{:.2}", level.weight_g)).as_deref(), Some("5.37"));
        assert_eq!(answer.unweighed.map(|moves| moves.should_weigh), Some(false));
    }

    #[test]
    fn outside_the_range_the_margin_is_negative() {
        let question =
            json!({"base": {"mass_g": 1, "x_mm": 100}, "range": {"front_x_mm": 92, "rear_x_mm": 99}});
        let range = ask(question).expect("answered").range.expect("asked for");
        assert_eq!((range.is_inside, range.rear_margin_mm, range.front_margin_mm), (false, -1.0, 8.0));
    }
}
