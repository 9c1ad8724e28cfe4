//! What it would do to each model if every part of one type were exchanged for one of another: mass, centre of gravity and
//! inertia, worked out again model by model. Which checks that would open and which rules stand against it is asked model
//! by model (`swap`).

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    Moment,
    balance::{CgInRange, Method, each_mass, inertia_of_list, mass_and_cg_now, sum_of, weighed_base},
    service::in_service,
};
use crate::{
    facts::{Component, Part},
    fleet::{Fleet, ModelFile},
    formulas::{
        balance::{MassAndCg, PointItem},
        inertia::{Inertia, inertia_change},
        swap::{MassChange, change_mass},
    },
    ids::ModelId,
    text::Tag,
    time::Instant,
};

/// Every part of one type exchanged for one of another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TypeExchange {
    /// Tag of the part type that comes off.
    pub part: String,
    /// Tag of the part type that goes on.
    pub with: String,
    /// Mass of each that goes on, by its data sheet, g.
    pub mass_each_g: f64,
    /// The models that carry such parts, in order of tags.
    pub models: Vec<ModelExchange>,
}

/// What it would do to one model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModelExchange {
    /// Tag of the model.
    pub model: String,
    /// How many parts would be exchanged.
    pub count: usize,
    /// How many of them sit where the design knows no position: they have no place, and are in no figure below.
    pub unplaced_count: usize,
    /// Mass that comes on (negative: comes off), g.
    pub mass_change_g: f64,
    /// What it does to the balance; null where the model has none.
    pub balance: Option<BalanceExchange>,
}

/// Balance and inertia of a model before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BalanceExchange {
    /// How the balance before was arrived at.
    pub method: Method,
    /// Mass and centre of gravity before.
    pub before: MassAndCg,
    /// Mass and centre of gravity after.
    pub after: MassAndCg,
    /// By how much the centre of gravity moves, mm, aft positive.
    pub x_change_mm: f64,
    /// mm, to the right positive.
    pub y_change_mm: f64,
    /// mm, up positive.
    pub z_change_mm: f64,
    /// Moments of inertia of the listed parts before, kg·m²; null without a list.
    pub inertia_before: Option<Inertia>,
    /// The same after.
    pub inertia_after: Option<Inertia>,
    /// The allowed range, and whether the centre of gravity lies inside after.
    pub range: CgInRange,
    /// Whether it lay inside before.
    pub was_inside: bool,
}

impl BalanceExchange {
    /// Change of roll, pitch and yaw inertia, per cent of before; `None` where that was zero or is not known.
    #[must_use]
    pub fn inertia_percent(&self) -> [Option<f64>; 3] {
        let both = self.inertia_before.as_ref().zip(self.inertia_after.as_ref());
        let change = both.map(|(before, after)| inertia_change(before, after));
        change.map_or([None; 3], |change| [change.roll_percent, change.pitch_percent, change.yaw_percent])
    }
}

/// What it would do to each model that is still of the fleet if every part of the type `off` were exchanged for one of the
/// type `on`, each of the mass that its data sheet states.
#[must_use]
pub fn exchange_of_type(fleet: &Fleet, off: &Part, on: &Part, moment: Moment) -> TypeExchange {
    let models = in_service(fleet, moment).into_iter();
    let models = models.filter_map(|(tag, model)| in_model(fleet, model, tag, (off, on), moment.as_of));
    TypeExchange {
        part: off.tag.to_string(),
        with: on.tag.to_string(),
        mass_each_g: on.nominal_mass_g,
        models: models.collect(),
    }
}

/// `None` for a model that carries no such part.
fn in_model(
    fleet: &Fleet,
    model: ModelId,
    tag: &Tag,
    (off, on): (&Part, &Part),
    as_of: Instant,
) -> Option<ModelExchange> {
    let file = fleet.model(model)?;
    let (mut changes, mut unplaced_count) = (Vec::new(), 0);
    // The list after the exchange differs from the list now in masses alone.
    let room = file.carried.len();
    let (mut items, mut after) = (Vec::<PointItem>::with_capacity(room), Vec::with_capacity(room));
    let is_off = |part: &Component| part.part == off.id;
    each_mass(fleet, model, as_of, |part, item| {
        let Some(item) = item else {
            unplaced_count += usize::from(part.is_some_and(is_off));
            return;
        };
        items.push(item);
        let exchanged = part.filter(|part| is_off(part));
        after.push(exchanged.map_or(item, |_| PointItem { mass_g: on.nominal_mass_g, ..item }));
        if exchanged.is_some() {
            let PointItem { mass_g, x_mm, y_mm, z_mm, .. } = item;
            changes.push(MassChange { mass_change_g: on.nominal_mass_g - mass_g, x_mm, y_mm, z_mm });
        }
    });
    let count = changes.len() + unplaced_count;
    if count == 0 {
        return None;
    }
    let mass_change_g = changes.iter().map(|change| change.mass_change_g).sum();
    let balance = balance_exchange(fleet, model, file, (&items, &after), &changes, as_of);
    Some(ModelExchange { model: tag.to_string(), count, unplaced_count, mass_change_g, balance })
}

fn balance_exchange(
    fleet: &Fleet,
    model: ModelId,
    file: &ModelFile,
    (now, then): (&[PointItem], &[PointItem]),
    changes: &[MassChange],
    as_of: Instant,
) -> Option<BalanceExchange> {
    let design = fleet.design_of(model)?;
    let (method, before) = match file.weighings.last_until(as_of).map(|recorded| &recorded.fact) {
        None => (Method::List, sum_of(now)?),
        Some(weighing) => {
            let mut weighed = Vec::new();
            each_mass(fleet, model, weighing.occurred_at, |_, item| weighed.extend(item));
            let base = weighed_base(weighing, sum_of(&weighed));
            (Method::LastWeighing, mass_and_cg_now(base, &weighed, now)?)
        }
    };
    let changed = if changes.is_empty() { None } else { Some(change_mass(&before, changes).ok()?) };
    let after = changed.map_or(before, |changed| changed.after);
    Some(BalanceExchange {
        method,
        before,
        after,
        x_change_mm: after.x_mm - before.x_mm,
        y_change_mm: after.y_mm - before.y_mm,
        z_change_mm: after.z_mm - before.z_mm,
        inertia_before: inertia_of_list(now),
        inertia_after: inertia_of_list(then),
        range: CgInRange::of(design, after.x_mm),
        was_inside: CgInRange::of(design, before.x_mm).inside,
    })
}
