//! What is known of the values that a class limits, for a model as it is fitted.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::{balance::balance, ballast::areas_of};
use crate::{
    facts::{ClassLimit, ClassProfile},
    fleet::Fleet,
    formulas::class_limits::{ClassResult, LimitVerdict, judge_limit, result_of},
    ids::ModelId,
    time::Instant,
    words::{ClassQuantity, EntryState, PartKind},
};

/// Voltage of a full lithium cell, V (common practice, no source).
const FULL_CELL_V: f64 = 4.2;

/// A model as it is fitted against the limits of a class.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClassChecked {
    /// What it comes to.
    pub result: ClassResult,
    /// Mass, g.
    pub mass_g: Option<f64>,
    /// Centre of gravity, mm aft of the datum.
    pub x_mm: Option<f64>,
    /// The area that counts, dm².
    pub area_dm2: Option<f64>,
    /// Loading on it, g/dm².
    pub loading_g_dm2: Option<f64>,
    /// Whether the centre of gravity lies in the range of the design.
    pub is_cg_inside: Option<bool>,
    /// One row a limit.
    pub rows: Vec<ClassRow>,
    /// In one sentence.
    pub text: String,
}

/// One limit and the value that it limits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClassRow {
    /// What is limited; the word carries the unit.
    pub quantity: ClassQuantity,
    /// The value; null where it is not known.
    pub value: Option<f64>,
    /// Where the value is from.
    pub value_from: String,
    /// Not less than this.
    pub min: Option<f64>,
    /// Not more than this.
    pub max: Option<f64>,
    /// How it stands.
    pub verdict: LimitVerdict,
    /// In one sentence.
    pub text: String,
}

/// A model as it is fitted against the limits of a class.
#[must_use]
pub fn as_fitted(fleet: &Fleet, model: ModelId, class: &ClassProfile, as_of: Instant) -> ClassChecked {
    let balanced = balance(fleet, model, as_of);
    let design = fleet.design_of(model);
    let known = Known {
        fleet,
        model,
        as_of,
        span_mm: design.map(|design| design.span_m * 1000.0),
        area_dm2: reading(fleet, model, ClassQuantity::Area, as_of)
            .or_else(|| design.and_then(|design| areas_of(design).counted_by(class.area))),
        mass_g: balanced.as_ref().map(|balanced| balanced.mass_g),
    };
    // How many models a pilot enters is asked of the entry.
    let asked = class.limits.iter().filter(|limit| limit.quantity != ClassQuantity::Models);
    let rows: Vec<ClassRow> = asked.map(|limit| row(class, &known, limit)).collect();
    let result = result_of(rows.iter().map(|row| row.verdict), class.is_confirmed());
    let loading = known.loading();
    let text = match (loading, rows.iter().find(|row| row.verdict == LimitVerdict::Outside)) {
        (_, Some(row)) => row.text.clone(),
        (Some(loading), None) => format!("loading {loading:.2} g/dm², nothing known is outside"),
        (None, None) => "nothing known is outside".to_owned(),
    };
    ClassChecked {
        result,
        mass_g: known.mass_g,
        x_mm: balanced.as_ref().map(|balanced| balanced.x_mm),
        area_dm2: known.area_dm2,
        loading_g_dm2: loading,
        is_cg_inside: balanced.map(|balanced| balanced.range.inside),
        rows,
        text,
    }
}

struct Known<'a> {
    fleet: &'a Fleet,
    model: ModelId,
    as_of: Instant,
    span_mm: Option<f64>,
    area_dm2: Option<f64>,
    mass_g: Option<f64>,
}

impl Known<'_> {
    fn loading(&self) -> Option<f64> {
        self.mass_g.zip(self.area_dm2).filter(|(_, area)| *area > 0.0).map(|(mass, area)| mass / area)
    }

    /// Masses of the fitted packs, and their cells where their types say so.
    fn packs(&self) -> Vec<(f64, Option<u32>)> {
        let fitted = self.fleet.fitted(self.model, self.as_of);
        let packs = fitted.iter().filter_map(|fitted| {
            let part = self.fleet.part_of(fitted.id).filter(|part| part.kind == PartKind::Pack)?;
            Some((self.fleet.component_data(fitted.id)?.mass_g, part.cells))
        });
        packs.collect()
    }

    fn value(&self, quantity: ClassQuantity) -> (Option<f64>, &'static str) {
        if let Some(read) = reading(self.fleet, self.model, quantity, self.as_of) {
            return (Some(read), "a reading");
        }
        let packs = self.packs();
        let battery_g = (!packs.is_empty()).then(|| packs.iter().map(|(mass, _)| mass).sum::<f64>());
        let cells = packs.iter().map(|(_, cells)| *cells).max().flatten().map(f64::from);
        match quantity {
            ClassQuantity::Span => (self.span_mm, "the design"),
            ClassQuantity::Area => (self.area_dm2, "the design"),
            ClassQuantity::Mass => (self.mass_g, "the balance"),
            ClassQuantity::Loading => (self.loading(), "the balance and the design"),
            ClassQuantity::MassWithoutBattery => (
                self.mass_g.zip(battery_g).map(|(mass, battery)| mass - battery),
                "the balance and its packs",
            ),
            ClassQuantity::BatteryMass => (battery_g, "its packs"),
            ClassQuantity::BatteryCells => (cells, "the type of its packs"),
            ClassQuantity::BatteryVoltage => {
                (cells.map(|cells| cells * FULL_CELL_V), "the type of its packs")
            }
            ClassQuantity::MarkHeight => (self.marks(), "its entry"),
            ClassQuantity::NoseRadius
            | ClassQuantity::TowHookWidth
            | ClassQuantity::TowHookHeight
            | ClassQuantity::Energy
            | ClassQuantity::MotorRun
            | ClassQuantity::MotorRuns
            | ClassQuantity::Models => (None, "nothing"),
        }
    }

    /// The height of the marks by the entry of this model that was recorded last.
    fn marks(&self) -> Option<f64> {
        let entries = self.fleet.contest_entries().map(|(_, entry)| entry);
        entries
            .filter(|entry| entry.fact.state == EntryState::Entered)
            .filter(|entry| entry.fact.models().any(|model| model == self.model))
            .max_by_key(|entry| entry.revision)
            .and_then(|entry| entry.fact.mark_height_mm)
    }
}

/// The newest reading on the model under the name of what is limited.
fn reading(fleet: &Fleet, model: ModelId, quantity: ClassQuantity, as_of: Instant) -> Option<f64> {
    let readings = fleet.model(model)?.measurements.until(as_of);
    let newest = readings.iter().rev().find(|reading| reading.fact.quantity.as_str() == quantity.as_str())?;
    newest.fact.values.iter().copied().reduce(f64::max)
}

fn row(class: &ClassProfile, known: &Known<'_>, limit: &ClassLimit) -> ClassRow {
    let (value, from) = known.value(limit.quantity);
    let verdict = value.map_or(LimitVerdict::NotKnown, |value| {
        judge_limit(value, limit.min, limit.max, class.measuring_tolerance_pct)
    });
    let text = match value {
        Some(value) => sentence(limit.quantity, value, limit, verdict),
        None => format!("{} is not on record", limit.quantity),
    };
    ClassRow {
        quantity: limit.quantity,
        value,
        value_from: from.to_owned(),
        min: limit.min,
        max: limit.max,
        verdict,
        text,
    }
}

/// A value and its limit in words.
pub(super) fn sentence(
    quantity: ClassQuantity,
    value: f64,
    limit: &ClassLimit,
    verdict: LimitVerdict,
) -> String {
    let bounds = match (limit.min, limit.max) {
        (Some(min), Some(max)) => format!("{min} to {max}"),
        (Some(min), None) => format!("{min} or more"),
        (None, Some(max)) => format!("{max} or less"),
        (None, None) => "no limit".to_owned(),
    };
    format!("{quantity} {value:.2} is {}, limit {bounds}", verdict.as_str().replace('_', " "))
}
