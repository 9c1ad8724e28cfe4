//! Which limits hold for a model, and where each comes from: the programme, the club's own, or worked out from another
//! by the sizes of a joint, so that what is seen in the field and what is measured on the bench cannot disagree.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    facts::{Limit, Position, Programme},
    fleet::{Fleet, InForce, LimitSource, limits_in_force},
    formulas::{
        class::ClassLimits,
        joiner::rock::{READ_TO_MM, RockGeometry, field_limits},
    },
    ids::ModelId,
    words::{Direction, LimitOrigin},
};

/// The limits of a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModelLimits {
    /// Tag of the model.
    pub model: String,
    /// Tag of its programme; null where there is none.
    pub programme: Option<String>,
    /// One row a quantity and kind of position, in order of both.
    pub limits: Vec<HeldLimit>,
}

/// A limit that holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HeldLimit {
    /// The quantity.
    pub quantity: String,
    /// Kind of position it holds for; null: wherever no other row says more.
    pub position_kind: Option<String>,
    /// The single position it holds for, if one.
    pub position: Option<String>,
    /// Unit of the limits.
    pub unit: String,
    /// On which side the trouble lies.
    pub direction: Direction,
    /// Watch it from here.
    pub watch: Option<f64>,
    /// Fly with a restriction from here.
    pub restrict: Option<f64>,
    /// Do not fly from here.
    pub ground: Option<f64>,
    /// Where it comes from.
    pub origin: LimitOrigin,
    /// Code of the programme's item, tag of the club's limit, or what it was worked out from.
    pub source: String,
}

/// The quantity that a rock of the tip stands for.
const CLEARANCE: &str = "joiner_clearance_vertical";

/// The quantity that is worked out from it.
const ROCK: &str = "tip_rock_total";

/// The limits in force for a model. `None` if the Fleet does not know it.
#[must_use]
pub fn model_limits(fleet: &Fleet, model: ModelId) -> Option<ModelLimits> {
    let data = fleet.model_data(model)?;
    let Some(programme) = fleet.programme_of(Some(model)).map(|programme| &programme.fact) else {
        return Some(ModelLimits { model: data.tag.to_string(), programme: None, limits: Vec::new() });
    };
    let positions: &[Position] = fleet.design_of(model).map_or(&[], |design| design.positions.as_slice());
    let kinds: BTreeSet<&str> = positions.iter().map(|position| position.kind.as_str()).collect();
    let joints: Vec<(&Position, RockGeometry)> =
        positions.iter().filter_map(|position| Some((position, position.joint?))).collect();
    let mut limits = Vec::new();
    for (quantity, unit) in quantities(fleet, programme) {
        for kind in kinds.iter().copied().map(Some).chain(std::iter::once(None)) {
            let general = limits_in_force(fleet, programme, None, quantity, unit);
            let held = limits_in_force(fleet, programme, kind, quantity, unit);
            // A kind of position has a row of its own only where something else holds there than everywhere.
            if kind.is_some() && held == general {
                continue;
            }
            let is_worked_out = quantity == ROCK && !joints.is_empty();
            let shown = held.iter().filter(|one| !is_worked_out || is_of_club(one));
            limits.extend(shown.map(|one| row(one, kind)));
        }
    }
    limits.extend(joints.into_iter().flat_map(|(position, joint)| rock(fleet, programme, position, &joint)));
    limits.sort_by(|a, b| order(a).cmp(&order(b)));
    limits.dedup();
    Some(ModelLimits { model: data.tag.to_string(), programme: Some(programme.tag.to_string()), limits })
}

fn order(held: &HeldLimit) -> impl Ord + '_ {
    (&held.quantity, &held.position_kind, &held.position, held.direction, &held.source)
}

/// Every quantity that has a limit, with its unit.
fn quantities<'a>(fleet: &'a Fleet, programme: &'a Programme) -> BTreeSet<(&'a str, &'a str)> {
    let own = fleet.limits().map(|(_, limit)| &limit.fact.limit);
    let all = own.chain(programme.items.iter().flat_map(|item| item.limits.iter()));
    all.map(|limit| (limit.quantity.as_str(), limit.unit.as_str())).collect()
}

const fn is_of_club(in_force: &InForce<'_>) -> bool {
    matches!(in_force.source, LimitSource::Club { .. })
}

fn row(in_force: &InForce<'_>, kind: Option<&str>) -> HeldLimit {
    let limit = in_force.limit;
    let (origin, source) = match in_force.source {
        LimitSource::Programme { item, .. } => (LimitOrigin::Programme, item),
        LimitSource::Club { tag } => (LimitOrigin::Club, tag),
    };
    HeldLimit {
        quantity: limit.quantity.to_string(),
        position_kind: kind.map(ToOwned::to_owned),
        position: None,
        unit: limit.unit.to_string(),
        direction: limit.direction,
        watch: limit.watch,
        restrict: limit.restrict,
        ground: limit.ground,
        origin,
        source: source.to_owned(),
    }
}

/// Field limits of the rock of the tip at a joint, worked out from the clearance limits that hold there.
fn rock(fleet: &Fleet, programme: &Programme, position: &Position, joint: &RockGeometry) -> Vec<HeldLimit> {
    let clearance = limits_in_force(fleet, programme, Some(position.kind.as_str()), CLEARANCE, "mm");
    let worked_out = |in_force: &InForce<'_>| {
        let Limit { watch, restrict, ground, direction, .. } = in_force.limit;
        let bench = ClassLimits { watch: *watch, restrict: *restrict, ground: *ground };
        let field = field_limits(joint, &bench, READ_TO_MM).ok()?;
        let plain = row(in_force, Some(position.kind.as_str()));
        Some(HeldLimit {
            quantity: ROCK.to_owned(),
            position: Some(position.path.to_string()),
            direction: *direction,
            watch: field.watch,
            restrict: field.restrict,
            ground: field.ground,
            origin: LimitOrigin::WorkedOut,
            source: format!(
                "{CLEARANCE} ({}), {} mm inside the socket, {} mm to the tip",
                plain.source, joint.engagement_mm, joint.panel_mm
            ),
            ..plain
        })
    };
    clearance.iter().filter_map(worked_out).collect()
}
