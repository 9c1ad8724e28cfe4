//! A reading tried out before it is recorded: its class by the limits in force, whether it can hardly be right, and what
//! the board would say of the model that carries the part. A reading in a unit that nobody judges it by is refused by
//! the rules, here as when it is recorded.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    Moment,
    doubt::doubts,
    may_fly::may_fly_one,
    readings::{Judged, finding, is_answered, judge, seat_of},
};
use crate::{
    facts::{Measurement, Position, Subject},
    finding::Finding,
    fleet::{Fleet, Place},
    ids::ModelId,
    time::Instant,
    words::{Severity, State},
};

/// What a reading would say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReadingTried {
    /// Always true: nothing was recorded.
    pub is_preview: bool,
    /// Tag of what was measured.
    pub subject: String,
    /// Which quantity it was judged as: its own, or what it stands for.
    pub quantity: String,
    /// The value it was judged by, of several the worst; without limits the first.
    pub value: f64,
    /// Unit of that.
    pub unit: String,
    /// The class it reaches; null: better than every limit in force, or without one.
    pub class: Option<Severity>,
    /// The limit at which that class begins.
    pub limit: Option<f64>,
    /// Whether it would be the newest of its quantity, the one that counts.
    pub is_newest: bool,
    /// What is worth a second look before it is recorded: a limit that nobody raised a defect for, a reading that can
    /// hardly be right.
    pub findings: Vec<Finding>,
    /// Tag of the model whose board it changes; null for a part in no model.
    pub model: Option<String>,
    /// State of that model without it.
    pub state_before: Option<State>,
    /// State of that model with it.
    pub state_after: Option<State>,
}

/// What a reading says, on a Fleet without it and one with it.
#[must_use]
pub fn reading_tried(before: &Fleet, after: &Fleet, reading: &Measurement, now: Instant) -> ReadingTried {
    let at = reading.occurred_at;
    let (model, path, tag) = match reading.subject {
        Subject::Model(model) => (Some(model), None, after.model_tag(model)),
        Subject::Component(part) => {
            let (model, path) = match after.place_at(part, at) {
                Place::InModel(model, path) => (Some(model), Some(path)),
                Place::InPanel(_, path) => (None, Some(path)),
                Place::Loose => (None, None),
            };
            (model, path, after.component_tag(part))
        }
    };
    let judged = judged(after, model, reading);
    let mut findings = Vec::new();
    if let Some(judged) = judged.as_ref().filter(|judged| !is_answered(after, judged, at)) {
        findings.push(finding(judged, &tag, path.as_deref()));
    }
    findings.extend(doubted(after, reading, &tag));
    let readings = match reading.subject {
        Subject::Model(model) => after.model(model).map(|file| &file.measurements),
        Subject::Component(part) => after.component(part).map(|file| &file.measurements),
    };
    let newest = readings
        .and_then(|readings| readings.iter().rev().find(|other| other.fact.quantity == reading.quantity));
    let state = |fleet: &Fleet| may_fly_one(fleet, model?, Moment::today(fleet, now)).map(|said| said.state);
    ReadingTried {
        is_preview: true,
        subject: tag,
        quantity: judged
            .as_ref()
            .map_or_else(|| reading.quantity.to_string(), |judged| judged.quantity.clone()),
        value: judged
            .as_ref()
            .map_or_else(|| reading.values.first().copied().unwrap_or_default(), |judged| judged.value),
        unit: judged.as_ref().map_or_else(|| reading.unit.to_string(), |judged| judged.unit.clone()),
        class: judged.as_ref().map(|judged| judged.severity),
        limit: judged.as_ref().map(|judged| judged.limit),
        is_newest: newest.is_some_and(|newest| newest.fact.id == reading.id),
        findings,
        model: model.map(|model| after.model_tag(model)),
        state_before: state(before),
        state_after: state(after),
    }
}

/// The reading against the limits in force where it was read.
fn judged<'a>(fleet: &Fleet, model: Option<ModelId>, reading: &'a Measurement) -> Option<Judged<'a>> {
    let programme = &fleet.programme_of(model)?.fact;
    let seats: Vec<&Position> = match reading.subject {
        Subject::Component(part) => seat_of(fleet, part, reading.occurred_at).into_iter().collect(),
        Subject::Model(model) => {
            let positions = fleet.design_of(model).map_or(&[][..], |design| design.positions.as_slice());
            positions.iter().filter(|position| position.joint.is_some()).collect()
        }
    };
    judge(fleet, programme, &seats, reading, reading.occurred_at)
}

/// Why it can hardly be right, beside the other readings of its part.
fn doubted(fleet: &Fleet, reading: &Measurement, tag: &str) -> Vec<Finding> {
    let Subject::Component(part) = reading.subject else { return Vec::new() };
    let all = fleet.component(part).into_iter().flat_map(|file| file.measurements.iter());
    let readings: Vec<&Measurement> = all.map(|recorded| &recorded.fact).collect();
    doubts(fleet, part, tag, &readings)
        .into_iter()
        .filter(|doubt| doubt.reading.id == reading.id)
        .map(|doubt| doubt.finding)
        .collect()
}
