//! How much a component or a model was used, through every level of nesting.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    facts::OpeningUsage,
    fleet::{Fleet, ModelFile, Usage},
    ids::{ComponentId, ModelId},
    time::Instant,
};

/// Usage of one component.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ComponentUsage {
    /// Tag of the component.
    pub component: String,
    /// Flights on record; a hand-launch session is one.
    pub flights: u64,
    /// Launches on record.
    pub launches: u64,
    /// Time in the air on record, h.
    pub airtime_h: f64,
    /// Motor time on record, s.
    pub motor_s: u64,
    /// Rigging cycles on record.
    pub riggings: u64,
    /// Life before the record, stated and not counted in the figures above.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opening: Option<OpeningUsage>,
    /// Each stretch in a model.
    pub spans: Vec<UsageSpan>,
}

/// Usage in one position of one model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct UsageSpan {
    /// Tag of the model.
    pub model: String,
    /// Path from the model down.
    pub path: String,
    /// From this moment on.
    pub from: Instant,
    /// Until before this moment; null while it lasts.
    pub to: Option<Instant>,
    /// Flights in it.
    pub flights: u64,
    /// Launches in it.
    pub launches: u64,
    /// Time in the air in it, h.
    pub airtime_h: f64,
    /// Motor time in it, s.
    pub motor_s: u64,
    /// Rigging cycles in it.
    pub riggings: u64,
}

/// Usage of one model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModelUsage {
    /// Tag of the model.
    pub model: String,
    /// Flights; a hand-launch session is one.
    pub flights: u64,
    /// Launches.
    pub launches: u64,
    /// Time in the air, h.
    pub airtime_h: f64,
    /// Motor time, s.
    pub motor_s: u64,
    /// Rigging cycles.
    pub riggings: u64,
}

/// The moment just after `as_of`, so that what happened at `as_of` counts.
pub(crate) const fn just_after(as_of: Instant) -> Instant {
    Instant::from_micros(as_of.micros().saturating_add(1))
}

/// Usage of one stretch in a model by a moment: flights that began while the part sat there, `[from, to)`.
fn usage_of_span(log: &ModelFile, from: Instant, to: Option<Instant>, as_of: Instant) -> Usage {
    let end = just_after(as_of);
    log.usage(from, to.map_or(end, |to| to.min(end)))
}

/// Usage of a component by a moment: flights that began while it sat in the model, `[from, to)`.
#[must_use]
pub fn component_usage(fleet: &Fleet, component: ComponentId, as_of: Instant) -> ComponentUsage {
    let mut total = Usage::default();
    let mut spans = Vec::new();
    for span in fleet.model_spans(component).into_iter().filter(|span| span.from <= as_of) {
        let log = fleet.model(span.model);
        let usage = log.map_or_else(Usage::default, |log| usage_of_span(log, span.from, span.to, as_of));
        total += usage;
        spans.push(UsageSpan {
            model: fleet.model_tag(span.model),
            path: span.path,
            from: span.from,
            to: span.to.filter(|to| *to <= as_of),
            flights: usage.flights,
            launches: usage.launches,
            airtime_h: usage.airtime_h(),
            motor_s: usage.motor_s,
            riggings: usage.riggings,
        });
    }
    ComponentUsage {
        component: fleet.component_tag(component),
        flights: total.flights,
        launches: total.launches,
        airtime_h: total.airtime_h(),
        motor_s: total.motor_s,
        riggings: total.riggings,
        opening: fleet.component_data(component).and_then(|data| data.opening),
        spans,
    }
}

/// Usage of every component that was in a model by a moment, in order of their ids: the sums of [`component_usage`].
#[must_use]
pub fn usage_of_components(fleet: &Fleet, as_of: Instant) -> Vec<(ComponentId, Usage)> {
    let mut all = Vec::with_capacity(fleet.components().size_hint().0);
    for (_, file) in fleet.models() {
        // Most parts of a model came in together.
        let mut same: Option<((Instant, Option<Instant>), Usage)> = None;
        for part in file.carried.iter().filter(|part| part.from <= as_of) {
            let key = (part.from, part.to);
            let known = same.filter(|(known, _)| *known == key);
            let usage =
                known.map_or_else(|| usage_of_span(file, part.from, part.to, as_of), |(_, usage)| usage);
            same = Some((key, usage));
            all.push((part.component, usage));
        }
    }
    all.sort_by_key(|(component, _)| *component);
    all.dedup_by(|(component, usage), (kept, sum)| {
        let is_same = component == kept;
        if is_same {
            *sum += *usage;
        }
        is_same
    });
    all
}

/// Usage of a model by a moment.
#[must_use]
pub fn model_usage(fleet: &Fleet, model: ModelId, as_of: Instant) -> ModelUsage {
    let usage = fleet.model_usage(model, Instant::from_micros(i64::MIN), just_after(as_of));
    ModelUsage {
        model: fleet.model_tag(model),
        flights: usage.flights,
        launches: usage.launches,
        airtime_h: usage.airtime_h(),
        motor_s: usage.motor_s,
        riggings: usage.riggings,
    }
}
