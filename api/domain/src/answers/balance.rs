//! Mass and centre of gravity of a model: from its last weighing and what changed since, and from the list.

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::finding::Finding;
use crate::{
    facts::{Component, Design, Position, Weighing},
    fleet::{Fitted, Fleet},
    formulas::{
        balance::{MassAndCg, PointItem, balance as balance_of},
        inertia::{Inertia, inertia},
        planform::percent_mac,
        swap::{MassChange, RE_WEIGH_AT_MM, UnweighedMoves, change_mass, unweighed_moves},
        trim::trim_weight_g,
    },
    ids::{ComponentId, ModelId, RepairId, RepairStepId},
    text::Text,
    time::Instant,
    words::{PartKind, Severity},
};

/// How a balance was arrived at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// The last weighing, and the masses of what came off and on since.
    LastWeighing,
    /// The sum of all fitted parts: loom, glue and tape are not in it.
    List,
}

/// Mass and centre of gravity of a model as it is fitted at a moment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Balanced {
    /// Tag of the model.
    pub model: String,
    /// How it was arrived at.
    pub method: Method,
    /// Mass, g.
    pub mass_g: f64,
    /// Centre of gravity, mm aft of the datum.
    pub x_mm: f64,
    /// mm right of the centreline.
    pub y_mm: f64,
    /// mm above the datum; by the list, since scales do not see it.
    pub z_mm: f64,
    /// Standard uncertainty of `x_mm` by the weighing; null from the list.
    pub u_x_mm: Option<f64>,
    /// Centre of gravity in per cent of the mean aerodynamic chord.
    pub mac_pct: Option<f64>,
    /// When it was weighed last.
    pub weighed_at: Option<Instant>,
    /// Configuration of that weighing.
    pub configuration: Option<Text>,
    /// By how much the centre of gravity moved since that weighing, mm, aft positive.
    pub moved_since_weighing_mm: Option<f64>,
    /// The moves since that weighing added up by size, mm, place by place: what cancels is still not weighed.
    pub moves_since_weighing_mm: Option<f64>,
    /// Weight at the design's nose place that restores the weighed centre of gravity, g.
    pub nose_weight_g: Option<f64>,
    /// Where that nose place is, mm aft of the datum.
    pub nose_weight_x_mm: Option<f64>,
    /// The allowed range.
    pub range: CgInRange,
    /// What came off and on since the weighing.
    pub changes: Vec<UnweighedMove>,
    /// The sum of all fitted parts, for comparison.
    pub list: Option<MassAndCg>,
    /// Moments of inertia of the listed parts about their centre of gravity, kg·m²; loom, glue and tape are not in them.
    pub inertia: Option<Inertia>,
    /// Positions of long parts whose design says neither span nor length, taken as points: pitch and yaw come out low.
    pub taken_as_points: Vec<String>,
    /// What the reader should know.
    pub findings: Vec<Finding>,
}

/// The allowed range of the centre of gravity and whether it is kept.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CgInRange {
    /// Foremost, mm aft of the datum.
    pub min_mm: f64,
    /// Rearmost, mm aft of the datum.
    pub max_mm: f64,
    /// Whether the centre of gravity lies inside.
    pub inside: bool,
}

impl CgInRange {
    /// The range of a design, and whether this place lies in it, mm aft of the datum.
    pub(super) fn of(design: &Design, x_mm: f64) -> Self {
        let (min_mm, max_mm) = (design.cg_min_mm, design.cg_max_mm);
        Self { min_mm, max_mm, inside: (min_mm..=max_mm).contains(&x_mm) }
    }
}

/// One thing that came off or on since a weighing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct UnweighedMove {
    /// Tag of the part, or of the repair that added material.
    pub what: String,
    /// Mass that came on (negative: came off), g.
    pub mass_change_g: f64,
    /// Place, mm aft of the datum.
    pub x_mm: f64,
    /// mm right of the centreline.
    pub y_mm: f64,
    /// mm above the datum.
    pub z_mm: f64,
}

/// What a mass of the list belongs to.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum MassOf {
    /// A part in a position.
    Part(ComponentId, String),
    /// Material that a repair added, by what it says itself.
    Material(RepairId),
    /// Material weighed at a step of a repair.
    Worked(RepairId, RepairStepId),
}

/// Every mass that a model carries at a moment, each at its place: parts at their positions, material of repairs
/// where it was put. Parts in positions that the design does not know have no place and are left out.
#[must_use]
pub fn mass_items(fleet: &Fleet, model: ModelId, at: Instant) -> BTreeMap<MassOf, PointItem> {
    masses(fleet, model, at, &fleet.fitted(model, at))
}

/// The same where it is known what the model carries at the moment.
fn masses(fleet: &Fleet, model: ModelId, at: Instant, fitted: &[Fitted<'_>]) -> BTreeMap<MassOf, PointItem> {
    let mut items = BTreeMap::new();
    let mut repairs: Vec<RepairId> = fleet.model(model).map_or_else(Vec::new, |file| file.repairs.clone());
    for fitted in fitted {
        let (Some(position), Some(data)) = (fitted.position, fleet.component_data(fitted.id)) else {
            continue;
        };
        items.insert(MassOf::Part(fitted.id, fitted.path.clone()), in_position(data, position));
        repairs.extend(fleet.component(fitted.id).into_iter().flat_map(|file| file.repairs.iter().copied()));
    }
    for_materials(fleet, repairs, at, |of, item| {
        items.insert(of, item);
    });
    items
}

/// The same masses without saying what each belongs to: parts with their own data, without a mass where they have no
/// place; material of repairs alone.
pub(super) fn each_mass(
    fleet: &Fleet,
    model: ModelId,
    at: Instant,
    mut put: impl FnMut(Option<&Component>, Option<PointItem>),
) {
    let mut repairs: Vec<RepairId> = fleet.model(model).map_or_else(Vec::new, |file| file.repairs.clone());
    fleet.walk_fitted(model, at, |file, position| {
        let data = file.component.as_ref().map(|recorded| &recorded.fact);
        if let Some(data) = data {
            put(Some(data), position.map(|position| in_position(data, position)));
            repairs.extend(file.repairs.iter().filter(|_| position.is_some()));
        }
    });
    for_materials(fleet, repairs, at, |_, item| put(None, Some(item)));
}

fn in_position(part: &Component, position: &Position) -> PointItem {
    PointItem {
        mass_g: part.mass_g,
        x_mm: position.x_mm,
        y_mm: position.y_mm,
        z_mm: position.z_mm,
        own_span_mm: position.own_span_mm,
        own_length_mm: position.own_length_mm,
    }
}

/// Material that repairs had added by a moment.
fn for_materials(
    fleet: &Fleet,
    mut repairs: Vec<RepairId>,
    at: Instant,
    mut put: impl FnMut(MassOf, PointItem),
) {
    // One repair may be of several parts.
    repairs.sort_unstable();
    repairs.dedup();
    for id in repairs {
        let Some(file) = fleet.repair(id) else { continue };
        let Some(repair) = &file.repair else { continue };
        for step in
            file.steps.until(at).iter().map(|entry| &entry.fact).filter(|step| step.mass_added_g != 0.0)
        {
            let (mass_g, x_mm, y_mm, z_mm) = (step.mass_added_g, step.x_mm, step.y_mm, step.z_mm);
            put(MassOf::Worked(id, step.id), PointItem { mass_g, x_mm, y_mm, z_mm, ..PointItem::default() });
        }
        let fact = &repair.fact;
        if fact.occurred_at <= at && fact.material_mass_g != 0.0 {
            let (mass_g, x_mm, y_mm, z_mm) = (fact.material_mass_g, fact.x_mm, fact.y_mm, fact.z_mm);
            put(MassOf::Material(id), PointItem { mass_g, x_mm, y_mm, z_mm, ..PointItem::default() });
        }
    }
}

/// Masses without saying what each belongs to.
pub(super) fn list_of(items: &BTreeMap<MassOf, PointItem>) -> Vec<PointItem> {
    items.values().copied().collect()
}

/// Rows of a list that take no mass away: nearly always all of them.
fn masses_alone(items: &[PointItem]) -> Cow<'_, [PointItem]> {
    let is_mass = |item: &PointItem| item.mass_g >= 0.0;
    if items.iter().all(is_mass) {
        return Cow::Borrowed(items);
    }
    Cow::Owned(items.iter().copied().filter(is_mass).collect())
}

/// Mass and centre of gravity of a list whose rows may take mass away.
pub(super) fn sum_of(items: &[PointItem]) -> Option<MassAndCg> {
    let masses = masses_alone(items);
    let sum = balance_of(&masses).ok()?;
    if masses.len() == items.len() {
        return Some(sum);
    }
    let taken: Vec<MassChange> = items.iter().filter(|item| item.mass_g < 0.0).map(as_change).collect();
    change_mass(&sum, &taken).ok().map(|changed| changed.after)
}

fn as_change(item: &PointItem) -> MassChange {
    MassChange { mass_change_g: item.mass_g, x_mm: item.x_mm, y_mm: item.y_mm, z_mm: item.z_mm }
}

/// What came off (negative) and on between two lists.
fn changes_between(
    fleet: &Fleet,
    before: &BTreeMap<MassOf, PointItem>,
    after: &BTreeMap<MassOf, PointItem>,
) -> Vec<UnweighedMove> {
    let name = |of: &MassOf| match of {
        MassOf::Part(component, _) => fleet.component_tag(*component),
        MassOf::Material(repair) | MassOf::Worked(repair, _) => fleet
            .repair(*repair)
            .and_then(|file| file.repair.as_ref()?.fact.tag.as_ref().map(ToString::to_string))
            .unwrap_or_else(|| repair.to_string()),
    };
    let row = |of: &MassOf, item: &PointItem, sign: f64| UnweighedMove {
        what: name(of),
        mass_change_g: item.mass_g * sign,
        x_mm: item.x_mm,
        y_mm: item.y_mm,
        z_mm: item.z_mm,
    };
    let off = before.iter().filter(|(of, _)| !after.contains_key(*of)).map(|(of, item)| row(of, item, -1.0));
    let on = after.iter().filter(|(of, _)| !before.contains_key(*of)).map(|(of, item)| row(of, item, 1.0));
    off.chain(on).collect()
}

/// Mass and centre of gravity of a model at a moment. `None` if its design or every mass is missing.
///
/// With a weighing: its mass and place, plus the masses of all parts and repair material that came on since, minus
/// those that came off, each at its position. Without: the sum of the list, which misses loom, glue and tape.
#[must_use]
pub fn balance(fleet: &Fleet, model: ModelId, as_of: Instant) -> Option<Balanced> {
    balance_of_fitted(fleet, model, as_of, &fleet.fitted(model, as_of))
}

/// The same where it is known what the model carries at the moment.
pub(crate) fn balance_of_fitted(
    fleet: &Fleet,
    model: ModelId,
    as_of: Instant,
    fitted: &[Fitted<'_>],
) -> Option<Balanced> {
    let design = fleet.design_of(model)?;
    let now = masses(fleet, model, as_of, fitted);
    let masses = list_of(&now);
    let list = sum_of(&masses);
    let weighing = fleet.model(model)?.weighings.last_until(as_of).map(|recorded| &recorded.fact);
    let (mut balanced, unweighed) = match weighing {
        Some(weighing) => from_weighing(fleet, model, weighing, &now, list)?,
        None => (from_list(fleet, model, list?), None),
    };
    balanced.mac_pct = percent_mac(balanced.x_mm, design.mac_leading_edge_x_mm, design.mac_mm).ok();
    balanced.range = CgInRange::of(design, balanced.x_mm);
    balanced.nose_weight_x_mm = design.nose_weight_x_mm;
    if let (Some(weighing), Some(place_mm)) = (weighing, design.nose_weight_x_mm) {
        balanced.nose_weight_g = trim_weight_g(balanced.mass_g, balanced.x_mm, weighing.x_mm, place_mm).ok();
    }
    let (inertia, taken_as_points) = inertia_of(fitted, &masses);
    balanced.inertia = inertia;
    balanced.taken_as_points = taken_as_points;
    balanced.findings = findings(&balanced, unweighed);
    Some(balanced)
}

/// What was weighed; sideways and upwards by the list of that moment where scales did not see it.
pub(super) fn weighed_base(weighing: &Weighing, list: Option<MassAndCg>) -> MassAndCg {
    MassAndCg {
        mass_g: weighing.mass_g,
        x_mm: weighing.x_mm,
        y_mm: weighing.y_mm.or_else(|| list.map(|sum| sum.y_mm)).unwrap_or(0.0),
        z_mm: list.map_or(0.0, |sum| sum.z_mm),
    }
}

/// The weighed mass and place with everything of then taken off and everything of now put on: what did not move cancels,
/// so that it is the same as with the moves alone, but for the last figures.
pub(super) fn mass_and_cg_now(base: MassAndCg, then: &[PointItem], now: &[PointItem]) -> Option<MassAndCg> {
    if then == now {
        return Some(base);
    }
    let off = then.iter().map(|item| as_change(&PointItem { mass_g: -item.mass_g, ..*item }));
    let moves: Vec<MassChange> = now.iter().map(as_change).chain(off).collect();
    change_mass(&base, &moves).ok().map(|changed| changed.after)
}

fn from_weighing(
    fleet: &Fleet,
    model: ModelId,
    weighing: &Weighing,
    now: &BTreeMap<MassOf, PointItem>,
    list: Option<MassAndCg>,
) -> Option<(Balanced, Option<UnweighedMoves>)> {
    let then = mass_items(fleet, model, weighing.occurred_at);
    let base = weighed_base(weighing, sum_of(&list_of(&then)));
    let changes = changes_between(fleet, &then, now);
    let moved: Vec<MassChange> = changes
        .iter()
        .map(|change| MassChange {
            mass_change_g: change.mass_change_g,
            x_mm: change.x_mm,
            y_mm: change.y_mm,
            z_mm: change.z_mm,
        })
        .collect();
    let after = if moved.is_empty() { base } else { change_mass(&base, &moved).ok()?.after };
    let unweighed = unweighed_moves(&base, &moved).ok()?;
    let balanced = Balanced {
        method: Method::LastWeighing,
        u_x_mm: Some(weighing.u_x_mm),
        weighed_at: Some(weighing.occurred_at),
        configuration: weighing.configuration.clone(),
        moved_since_weighing_mm: Some(after.x_mm - base.x_mm),
        moves_since_weighing_mm: Some(unweighed.total_x_mm),
        changes,
        list,
        ..from_list(fleet, model, after)
    };
    Some((balanced, Some(unweighed)))
}

/// Moments of inertia of the fitted parts, and the seats of parts that are long by their kind but are taken as points.
fn inertia_of(fitted: &[Fitted<'_>], list: &[PointItem]) -> (Option<Inertia>, Vec<String>) {
    let points = fitted.iter().filter(|fitted| {
        fitted.position.is_some_and(|position| {
            let is_long = matches!(position.accepts, PartKind::Fuselage | PartKind::Panel);
            is_long && position.own_span_mm == 0.0 && position.own_length_mm == 0.0
        })
    });
    (inertia_of_list(list), points.map(|fitted| fitted.path.clone()).collect())
}

/// Moments of inertia of a list; what takes mass away has none of its own.
pub(super) fn inertia_of_list(items: &[PointItem]) -> Option<Inertia> {
    inertia(&masses_alone(items)).ok()
}

fn from_list(fleet: &Fleet, model: ModelId, sum: MassAndCg) -> Balanced {
    Balanced {
        model: fleet.model_tag(model),
        method: Method::List,
        mass_g: sum.mass_g,
        x_mm: sum.x_mm,
        y_mm: sum.y_mm,
        z_mm: sum.z_mm,
        u_x_mm: None,
        mac_pct: None,
        weighed_at: None,
        configuration: None,
        moved_since_weighing_mm: None,
        moves_since_weighing_mm: None,
        nose_weight_g: None,
        nose_weight_x_mm: None,
        range: CgInRange { min_mm: 0.0, max_mm: 0.0, inside: false },
        changes: Vec::new(),
        list: Some(sum),
        inertia: None,
        taken_as_points: Vec::new(),
        findings: Vec::new(),
    }
}

/// More than this beyond the range grounds, mm (common practice, no source).
const FAR_OUTSIDE_MM: f64 = 5.0;

fn findings(balanced: &Balanced, unweighed: Option<UnweighedMoves>) -> Vec<Finding> {
    let mut list = Vec::new();
    let range = balanced.range;
    if !range.inside && balanced.method == Method::LastWeighing {
        let outside_mm = (range.min_mm - balanced.x_mm).max(balanced.x_mm - range.max_mm);
        let severity = if outside_mm > FAR_OUTSIDE_MM { Severity::Ground } else { Severity::Restrict };
        list.push(Finding::new(
            "cg_outside_range",
            severity,
            &balanced.model,
            format!(
                "CG computed at {:.1} mm, allowed {} to {} mm",
                balanced.x_mm, range.min_mm, range.max_mm
            ),
            "move weight, then weigh the model",
        ));
    }
    if balanced.method == Method::List {
        list.push(Finding::new(
            "never_weighed",
            Severity::Watch,
            &balanced.model,
            "never weighed: the balance is the sum of the listed parts, without loom, glue and tape",
            "weigh the model",
        ));
    }
    if let Some(moves) = unweighed.filter(|moves| moves.should_weigh) {
        let weight = match (balanced.nose_weight_g, balanced.nose_weight_x_mm) {
            (Some(weight_g), Some(x_mm)) if weight_g > 0.0 && moves.net_x_mm.abs() >= RE_WEIGH_AT_MM => {
                format!("; {weight_g:.1} g at x {x_mm} mm would restore it")
            }
            _ => String::new(),
        };
        list.push(Finding::new(
            "unweighed_moves",
            Severity::Watch,
            &balanced.model,
            format!(
                "moves of the CG since the last weighing add up to {:.2} mm by calculation, {:+.2} mm net, to {:.2} \
                 mm{weight}",
                moves.total_x_mm, moves.net_x_mm, balanced.x_mm
            ),
            "weigh the model",
        ));
    }
    list
}
