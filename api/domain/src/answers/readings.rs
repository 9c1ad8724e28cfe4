//! Readings judged by the numeric limits of the programme, each on its worst value.

use crate::{
    facts::{Limit, Measurement, Programme, Recorded},
    fleet::Fleet,
    ids::{ComponentId, ModelId},
    time::Instant,
    words::Severity,
};

/// A reading at or beyond one of its limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged<'a> {
    /// The reading.
    pub measurement: &'a Measurement,
    /// The value it was judged by.
    pub value: f64,
    /// Its class.
    pub severity: Severity,
}

/// The class of a value against limits; `None` if it is better than all of them.
///
/// Whether a value at a limit is in its class is said by the limit's direction.
#[must_use]
pub fn class_of(limit: &Limit, value: f64) -> Option<Severity> {
    let beyond = |class: Option<f64>| class.is_some_and(|class| limit.direction.is_reached(value, class));
    if beyond(limit.ground) {
        Some(Severity::Ground)
    } else if beyond(limit.restrict) {
        Some(Severity::Restrict)
    } else if beyond(limit.watch) {
        Some(Severity::Watch)
    } else {
        None
    }
}

/// The newest reading of each quantity on a component that is at or beyond a limit: the club's own where it has one
/// for that quantity and position, else the model's programme.
#[must_use]
pub fn beyond_limits<'a>(
    fleet: &'a Fleet,
    model: Option<ModelId>,
    component: ComponentId,
    as_of: Instant,
) -> Vec<Judged<'a>> {
    let Some(programme) = fleet.programme_of(model) else { return Vec::new() };
    let position_kind = fleet.position_at(component, as_of).map(|position| position.kind.as_str());
    let mut judged = Vec::new();
    for measurement in newest(fleet, component, as_of) {
        let limits = limits_of(
            fleet,
            &programme.fact,
            position_kind,
            measurement.fact.quantity.as_str(),
            measurement.fact.unit.as_str(),
        );
        let classes = limits.into_iter().flat_map(|limit| {
            measurement
                .fact
                .values
                .iter()
                .filter_map(|value| class_of(limit, *value).map(|severity| (severity, *value)))
        });
        if let Some((severity, value)) = classes.max_by_key(|(severity, _)| *severity) {
            judged.push(Judged { measurement: &measurement.fact, value, severity });
        }
    }
    judged
}

/// The limits of a quantity in its unit on a part in a kind of position: the club's own where it has one, else the
/// programme's.
#[must_use]
pub fn limits_of<'a>(
    fleet: &'a Fleet,
    programme: &'a Programme,
    position_kind: Option<&str>,
    quantity: &str,
    unit: &str,
) -> Vec<&'a Limit> {
    let holds = |limit: &&Limit| {
        limit.quantity.as_str() == quantity
            && limit.unit.as_str() == unit
            && (limit.position_kinds.is_empty()
                || position_kind
                    .is_some_and(|kind| limit.position_kinds.iter().any(|of| of.as_str() == kind)))
    };
    let of_club: Vec<&Limit> = fleet.limits().map(|(_, limit)| &limit.fact.limit).filter(holds).collect();
    if of_club.is_empty() {
        programme.items.iter().flat_map(|item| item.limits.iter()).filter(holds).collect()
    } else {
        of_club
    }
}

/// The newest reading of each quantity by the moment it was read, whenever it was entered.
fn newest(fleet: &Fleet, component: ComponentId, as_of: Instant) -> Vec<&Recorded<Measurement>> {
    let mut list: Vec<&Recorded<Measurement>> = Vec::new();
    let readings = fleet.component(component).map_or(&[][..], |file| file.measurements.until(as_of));
    for reading in readings.iter().rev() {
        if !list.iter().any(|newer| newer.fact.quantity == reading.fact.quantity) {
            list.push(reading);
        }
    }
    list
}
