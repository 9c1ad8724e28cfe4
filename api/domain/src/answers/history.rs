//! What happened to a component, in order of time: where it sat, what was read, done and found on it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::usage::{component_usage, just_after};
use crate::{
    facts::{Inside, Recorded},
    fleet::{ComponentFile, Fleet},
    ids::{ComponentId, MemberId},
    time::Instant,
};

/// The history of a component.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ComponentHistory {
    /// Tag of the component.
    pub component: String,
    /// What happened, oldest first.
    pub events: Vec<HistoryEvent>,
    /// Rigging cycles on record.
    pub riggings: u64,
    /// Rigging cycles since the last repair on it; null without one.
    pub riggings_since_repair: Option<u64>,
    /// Flights on record.
    pub flights: u64,
}

/// One thing that happened to a component.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HistoryEvent {
    /// When.
    pub at: Instant,
    /// Noun it is recorded under, singular.
    pub kind: String,
    /// Tag of the record, where it has one.
    pub tag: Option<String>,
    /// Tag of the member who did it.
    pub by: String,
    /// Rigging cycles on the component by then.
    pub riggings: u64,
    /// What happened, in a sentence with the numbers.
    pub text: String,
}

/// The history of a component by a moment.
#[must_use]
pub fn component_history(fleet: &Fleet, component: ComponentId, as_of: Instant) -> ComponentHistory {
    let mut events = fleet.component(component).map_or_else(Vec::new, |file| gather(fleet, component, file));
    events.retain(|event| event.at <= as_of);
    events.sort_by(|a, b| (a.at, &a.kind, &a.tag).cmp(&(b.at, &b.kind, &b.tag)));
    let total = component_usage(fleet, component, as_of);
    let last_repair_at = events.iter().rev().find(|event| event.kind == "repair").map(|event| event.at);
    let riggings_since_repair =
        last_repair_at.map(|at| total.riggings.saturating_sub(riggings_before(fleet, component, at)));
    ComponentHistory {
        component: fleet.component_tag(component),
        events,
        riggings: total.riggings,
        riggings_since_repair,
        flights: total.flights,
    }
}

fn riggings_before(fleet: &Fleet, component: ComponentId, at: Instant) -> u64 {
    let end = just_after(at);
    let spans = fleet.model_spans(component).into_iter().filter(|span| span.from <= at);
    spans
        .map(|span| fleet.model_usage(span.model, span.from, span.to.map_or(end, |to| to.min(end))).riggings)
        .sum()
}

fn gather(fleet: &Fleet, id: ComponentId, file: &ComponentFile) -> Vec<HistoryEvent> {
    let mut list = Vec::new();
    let mut say = |at: Instant, kind: &str, tag: Option<String>, by: MemberId, text: String| {
        list.push(HistoryEvent {
            at,
            kind: kind.to_owned(),
            tag,
            by: fleet.member_tag(by),
            riggings: riggings_before(fleet, id, at),
            text,
        });
    };
    let holder = |inside: Inside| match inside {
        Inside::Model(model) => fleet.model_tag(model),
        Inside::Component(parent) => fleet.component_tag(parent),
    };
    for recorded in file.installations.iter() {
        let fact = &recorded.fact;
        let start = if fact.is_start_of_record { " (start of the record)" } else { "" };
        let note = fact.note.as_ref().map(|note| format!(": {note}")).unwrap_or_default();
        let text = format!("fitted in {} {}{start}{note}", holder(fact.inside), fact.position);
        say(fact.occurred_at, "installation", None, by(recorded, fact.fitted_by), text);
    }
    for recorded in file.removals.iter() {
        let fact = &recorded.fact;
        let from = file.installations.get(fact.installation.0);
        let place = from.map(|from| format!(" from {} {}", holder(from.fact.inside), from.fact.position));
        let note = fact.note.as_ref().map(|note| format!(": {note}")).unwrap_or_default();
        let text = format!(
            "taken out{}, {}{note}",
            place.unwrap_or_default(),
            fact.reason.as_str().replace('_', " ")
        );
        say(fact.occurred_at, "removal", None, by(recorded, fact.removed_by), text);
    }
    for recorded in file.conditions.iter() {
        let fact = &recorded.fact;
        let place = fact.location.as_ref().map(|place| format!(", {place}")).unwrap_or_default();
        let text = format!("{}{place}: {}", fact.state.as_str().replace('_', " "), fact.reason);
        say(fact.occurred_at, "condition", None, recorded.recorded_by, text);
    }
    for recorded in file.measurements.iter() {
        let fact = &recorded.fact;
        let values: Vec<String> = fact.values.iter().map(ToString::to_string).collect();
        let at_temperature = fact.temperature_c.map(|t| format!(" at {t} °C")).unwrap_or_default();
        let note = fact.note.as_ref().map(|note| format!("; {note}")).unwrap_or_default();
        let text = format!(
            "{} {} {}{at_temperature}{note}",
            fact.quantity.as_str().replace('_', " "),
            values.join(" / "),
            fact.unit
        );
        let tag = fact.tag.as_ref().map(ToString::to_string);
        say(fact.occurred_at, "measurement", tag, by(recorded, fact.measured_by), text);
    }
    for recorded in file.inspections.iter() {
        let fact = &recorded.fact;
        let tag = fact.tag.as_ref().map(ToString::to_string);
        say(
            fact.occurred_at,
            "inspection",
            tag,
            by(recorded, fact.inspected_by),
            format!("{}: {}", fact.group, fact.result),
        );
    }
    for recorded in file.defects.iter().filter_map(|id| fleet.defect(*id)?.defect.as_ref()) {
        let fact = &recorded.fact;
        let tag = fact.tag.as_ref().map(ToString::to_string);
        say(
            fact.occurred_at,
            "defect",
            tag,
            by(recorded, fact.found_by),
            format!("{}: {}", fact.severity, fact.text),
        );
    }
    for defect in file.defects.iter().filter_map(|id| fleet.defect(*id)) {
        let tag = defect.defect.as_ref().and_then(|known| known.fact.tag.as_ref()).map(ToString::to_string);
        for recorded in defect.deferrals.iter() {
            let fact = &recorded.fact;
            let until = fact.fix_by_on.map(|on| format!(", to be mended by {on}")).unwrap_or_default();
            let within =
                fact.within_flights.map(|count| format!(", within {count} flights")).unwrap_or_default();
            let text = format!("put off{until}{within}: {}", fact.reason);
            say(fact.occurred_at, "deferral", tag.clone(), by(recorded, fact.deferred_by), text);
        }
        for recorded in defect.closures.iter() {
            let fact = &recorded.fact;
            let text = format!("closed, {}: {}", fact.kind.as_str().replace('_', " "), fact.text);
            say(fact.occurred_at, "closure", tag.clone(), by(recorded, fact.closed_by), text);
        }
    }
    for repair in file.repairs.iter().filter_map(|id| fleet.repair(*id)) {
        let Some(recorded) = &repair.repair else { continue };
        let fact = &recorded.fact;
        let tag = fact.tag.as_ref().map(ToString::to_string);
        let mass = if fact.material_mass_g == 0.0 {
            String::new()
        } else {
            format!(", {:+} g", fact.material_mass_g)
        };
        let cure = fact.cure_until_at.map(|until| format!(", cure until {until}")).unwrap_or_default();
        let text = format!("{} {}{mass}{cure}", fact.kind, fact.text);
        say(fact.occurred_at, "repair", tag.clone(), by(recorded, fact.done_by), text);
        for release in repair.releases.iter() {
            let second = release
                .fact
                .second_person
                .map(|member| format!(", second person {}", fleet.member_tag(member)));
            let text = format!("released{}", second.unwrap_or_default());
            say(
                release.fact.occurred_at,
                "release",
                tag.clone(),
                by(release, release.fact.released_by),
                text,
            );
        }
    }
    list
}

fn by<F>(recorded: &Recorded<F>, said: Option<MemberId>) -> MemberId {
    said.unwrap_or(recorded.recorded_by)
}
