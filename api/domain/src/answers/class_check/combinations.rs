//! Every permitted combination of interchangeable parts: what is fitted, and what lies loose, is serviceable, not lent
//! and belongs into the same seat.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{super::balance::balance, judge_mass, values::ClassChecked};
use crate::{
    facts::{ClassProfile, Fact, Inside, Installation, Position, Recorded, Removal},
    fleet::{Fleet, Place},
    formulas::class_limits::LimitVerdict,
    ids::{ComponentId, InstallationId, MemberId, ModelId, RemovalId},
    rules::campaign::loan_around,
    time::{Instant, day_of},
    words::{ComponentState, PartKind, RemovalReason},
};

/// Most combinations that are tried one by one.
const MOST_COMBINATIONS: usize = 512;

/// A combination of interchangeable parts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClassCombination {
    /// What sits where, of the seats that have a choice.
    pub seats: Vec<SeatFilled>,
    /// Whether that is how it is fitted now.
    pub is_as_fitted: bool,
    /// Tags of joiners that would sit with others than their set, or have none: their fit has to be accepted first.
    /// Empty for what sits together now.
    pub sets_apart: Vec<String>,
    /// Mass without ballast, g.
    pub mass_g: f64,
    /// Centre of gravity without ballast, mm aft of the datum.
    pub x_mm: f64,
    /// Loading without ballast, g/dm².
    pub loading_g_dm2: Option<f64>,
    /// Whether the centre of gravity without ballast lies in the range of the design.
    pub is_cg_inside: bool,
    /// How mass and loading without ballast stand against the class.
    pub verdict: LimitVerdict,
    /// Which limits are broken.
    pub broken: Vec<String>,
    /// The heaviest ballast with which limits and range are still kept, g.
    pub heaviest_ballast_g: f64,
}

/// A seat and what sits in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct SeatFilled {
    /// Path of the seat.
    pub path: String,
    /// Tag of the part.
    pub component: String,
}

/// The combinations tried.
pub(super) struct Tried {
    pub list: Vec<ClassCombination>,
    pub is_complete: bool,
}

/// One part in one seat, and what it changes.
#[derive(Clone)]
struct Choice {
    component: ComponentId,
    is_fitted: bool,
    mass_g: f64,
    moment: f64,
}

struct Seat {
    path: String,
    fitted: Option<ComponentId>,
    choices: Vec<Choice>,
}

/// Every combination; of a model without mass none.
pub(super) fn combinations(
    fleet: &Fleet,
    model: ModelId,
    class: &ClassProfile,
    fitted: &ClassChecked,
    as_of: Instant,
) -> Tried {
    let Some(base) = fitted.mass_g.zip(fitted.x_mm) else {
        return Tried { list: Vec::new(), is_complete: true };
    };
    let mut seats = seats(fleet, model, base, as_of);
    let count = |seats: &[Seat]| seats.iter().map(|seat| seat.choices.len().max(1)).product::<usize>();
    let is_complete = count(&seats) <= MOST_COMBINATIONS;
    if !is_complete {
        for seat in &mut seats {
            keep_extremes(&mut seat.choices);
        }
    }
    let mut rows: Vec<Vec<&Choice>> = vec![Vec::new()];
    for seat in &seats {
        if rows.len().saturating_mul(seat.choices.len()) > MOST_COMBINATIONS {
            break;
        }
        rows = rows
            .into_iter()
            .flat_map(|row| {
                seat.choices.iter().map(move |choice| {
                    let mut longer = row.clone();
                    longer.push(choice);
                    longer
                })
            })
            .collect();
    }
    let design = fleet.design_of(model);
    // One part sits in one seat.
    let is_possible = |row: &Vec<&Choice>| {
        let parts: BTreeSet<ComponentId> = row.iter().map(|choice| choice.component).collect();
        parts.len() == row.len()
    };
    let list = rows.into_iter().filter(is_possible).map(|row| {
        let mass_g = base.0 + row.iter().map(|choice| choice.mass_g).sum::<f64>();
        let moment = base.0 * base.1 + row.iter().map(|choice| choice.moment).sum::<f64>();
        let x_mm = moment / mass_g;
        let (loading_g_dm2, verdict, broken) = judge_mass(class, fitted.area_dm2, mass_g);
        ClassCombination {
            seats: seats
                .iter()
                .zip(&row)
                .map(|(seat, choice)| SeatFilled {
                    path: seat.path.clone(),
                    component: fleet.component_tag(choice.component),
                })
                .collect(),
            is_as_fitted: row.iter().all(|choice| choice.is_fitted),
            sets_apart: sets_apart(fleet, model, &seats, &row, as_of),
            mass_g,
            x_mm,
            loading_g_dm2,
            is_cg_inside: design.is_some_and(|design| (design.cg_min_mm..=design.cg_max_mm).contains(&x_mm)),
            verdict,
            broken,
            heaviest_ballast_g: 0.0,
        }
    });
    let mut list: Vec<ClassCombination> = list.collect();
    list.sort_by_key(|one| !one.is_as_fitted);
    Tried { list, is_complete }
}

/// The one fitted, the lightest and the heaviest.
fn keep_extremes(choices: &mut Vec<Choice>) {
    choices.sort_by(|one, other| one.mass_g.total_cmp(&other.mass_g));
    let last = choices.len().saturating_sub(1);
    let mut place = 0;
    choices.retain(|choice| {
        let keeps = choice.is_fitted || place == 0 || place == last;
        place += 1;
        keeps
    });
}

/// The seats of the model itself that have a choice.
fn seats(fleet: &Fleet, model: ModelId, base: (f64, f64), as_of: Instant) -> Vec<Seat> {
    let Some(data) = fleet.model_data(model) else { return Vec::new() };
    let own =
        fleet.positions(data.design, None).map(|position| (Inside::Model(model), position, String::new()));
    // A pack sits in the fuselage, and is exchanged by itself.
    let panels = fleet.fitted(model, as_of);
    let inner = panels.iter().filter_map(|fitted| {
        let panel = fleet.component_data(fitted.id)?;
        let positions = fleet.positions(panel.design?, Some(panel.seat.as_ref()?));
        Some(
            positions
                .map(move |position| (Inside::Component(fitted.id), position, format!("{}/", fitted.path))),
        )
    });
    let packs = inner.flatten().filter(|(_, position, _)| position.accepts == PartKind::Pack);
    own.filter(|(_, position, _)| {
        matches!(position.accepts, PartKind::Panel | PartKind::Fuselage | PartKind::Joiner | PartKind::Pack)
    })
    .chain(packs)
    .filter_map(|(inside, position, prefix)| seat(fleet, model, base, inside, position, &prefix, as_of))
    .collect()
}

fn seat(
    fleet: &Fleet,
    model: ModelId,
    base: (f64, f64),
    inside: Inside,
    position: &Position,
    prefix: &str,
    as_of: Instant,
) -> Option<Seat> {
    let fitted = fleet.occupant_at(inside, &position.path, as_of);
    let like = fitted.and_then(|id| fleet.component_data(id));
    let design = fleet.model_data(model)?.design;
    let on = day_of(as_of, fleet.club().zone);
    let fits = |id: ComponentId| {
        let (Some(data), Some(part)) = (fleet.component_data(id), fleet.part_of(id)) else { return false };
        let seats_here = match position.accepts {
            PartKind::Panel | PartKind::Fuselage => data.seat == position.seat && data.design == Some(design),
            _ => like.is_some_and(|like| like.part == data.part) && data.seat == position.seat,
        };
        part.kind == position.accepts
            && seats_here
            && fleet.component(id).is_some_and(|file| file.state_at(as_of) == ComponentState::Serviceable)
            && fleet.place_at(id, as_of) == Place::Loose
            && loan_around(fleet, id, as_of, on).is_none()
    };
    let mut choices: Vec<Choice> = fitted
        .map(|component| Choice { component, is_fitted: true, mass_g: 0.0, moment: 0.0 })
        .into_iter()
        .collect();
    let loose = fleet.components().map(|(id, _)| id).filter(|id| fits(*id));
    for component in loose {
        let exchange = Exchange { inside, position, off: fitted, on: component };
        if let Some((mass_g, moment)) = exchanged(fleet, model, base, &exchange, as_of) {
            choices.push(Choice { component, is_fitted: false, mass_g, moment });
        }
    }
    let has_choice = choices.len() > 1 || (fitted.is_none() && !choices.is_empty());
    has_choice.then(|| Seat { path: format!("{prefix}{}", position.path), fitted, choices })
}

struct Exchange<'a> {
    inside: Inside,
    position: &'a Position,
    off: Option<ComponentId>,
    on: ComponentId,
}

/// What an exchange does to mass and moment: it is carried out on a copy of the Fleet.
fn exchanged(
    fleet: &Fleet,
    model: ModelId,
    (mass_g, x_mm): (f64, f64),
    exchange: &Exchange<'_>,
    as_of: Instant,
) -> Option<(f64, f64)> {
    let mut with = fleet.clone();
    let by = MemberId(Uuid::nil());
    let mut apply = |fact: Fact| {
        with.apply(&Recorded { fact, recorded_at: as_of, recorded_by: by, revision: fleet.revision() });
    };
    if let Some(off) = exchange.off {
        apply(Fact::Removal(Removal {
            id: RemovalId(Uuid::from_u128(1)),
            installation: fleet.component(off)?.span_at(as_of)?.installation,
            component: off,
            occurred_at: as_of,
            reason: RemovalReason::Preventive,
            removed_by: None,
            note: None,
        }));
    }
    apply(Fact::Installation(Installation {
        id: InstallationId(Uuid::from_u128(2)),
        component: exchange.on,
        inside: exchange.inside,
        position: exchange.position.path.clone(),
        occurred_at: as_of,
        is_start_of_record: false,
        fitted_by: None,
        note: None,
    }));
    let after = balance(&with, model, as_of)?;
    Some((after.mass_g - mass_g, after.mass_g * after.x_mm - mass_g * x_mm))
}

/// Joiners that would come to sit with others than their set, or have none.
fn sets_apart(fleet: &Fleet, model: ModelId, seats: &[Seat], row: &[&Choice], as_of: Instant) -> Vec<String> {
    let kind_of = |id: ComponentId| fleet.part_of(id).map(|part| part.kind);
    let changed =
        row.iter().filter(|choice| !choice.is_fitted && kind_of(choice.component) != Some(PartKind::Pack));
    let changed: Vec<ComponentId> = changed.map(|choice| choice.component).collect();
    if changed.is_empty() {
        // What sits together now was looked at when it was put together.
        return Vec::new();
    }
    let mut here: BTreeSet<ComponentId> = fleet.fitted(model, as_of).iter().map(|fitted| fitted.id).collect();
    for (seat, choice) in seats.iter().zip(row) {
        if let Some(off) = seat.fitted {
            here.remove(&off);
        }
        here.insert(choice.component);
    }
    let apart = fleet
        .matched_sets()
        .map(|(_, set)| &set.fact)
        .filter(|set| here.contains(&set.component) && set.mates.iter().any(|mate| !here.contains(mate)));
    let in_set: BTreeSet<ComponentId> = fleet.matched_sets().map(|(_, set)| set.fact.component).collect();
    let without_set =
        changed.into_iter().filter(|id| kind_of(*id) == Some(PartKind::Joiner) && !in_set.contains(id));
    let mut tags: Vec<String> =
        apart.map(|set| set.component).chain(without_set).map(|id| fleet.component_tag(id)).collect();
    tags.sort();
    tags.dedup();
    tags
}
