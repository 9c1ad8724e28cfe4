//! Readings judged by the limits in force, each on its worst value. What a reading stands for is said by `work_out`,
//! which limits hold by the Fleet.

mod work_out;

pub use work_out::{SlackNow, Worked, slack_now, work_out};

use super::Moment;
use crate::{
    facts::{Limit, Measurement, Position, Programme, Recorded, Subject},
    finding::Finding,
    fleet::{Fitted, Fleet, LimitSource, limits_in_force, terms::is_open},
    ids::{ComponentId, ModelId},
    time::Instant,
    words::{Direction, Severity},
};

/// A reading at or beyond one of its limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged<'a> {
    /// The reading.
    pub measurement: &'a Measurement,
    /// What it was judged as: its own quantity, or what it stands for.
    pub quantity: String,
    /// Unit of that.
    pub unit: String,
    /// The value it was judged by, to the digits that are shown.
    pub value: f64,
    /// How it was worked out, if it was.
    pub how: Option<String>,
    /// The limit that was reached.
    pub limit: f64,
    /// Its class.
    pub severity: Severity,
}

/// The class of a value against limits; `None` if it is better than all of them.
///
/// Whether a value at a limit is in its class is said by the limit's direction.
#[must_use]
pub fn class_of(limit: &Limit, value: f64) -> Option<Severity> {
    limit.severity_of(value)
}

/// The worst class reached and the limit where it begins.
fn reached(limit: &Limit, value: f64) -> Option<(Severity, f64)> {
    [(limit.ground, Severity::Ground), (limit.restrict, Severity::Restrict), (limit.watch, Severity::Watch)]
        .into_iter()
        .find_map(|(at, severity)| {
            at.filter(|at| limit.direction.is_reached(value, *at)).map(|at| (severity, at))
        })
}

/// The newest reading of each quantity on a component that is at or beyond a limit: the club's own where it has one
/// for that quantity and position, else the model's programme. A part that sits nowhere is judged by where it sat last.
#[must_use]
pub fn beyond_limits<'a>(
    fleet: &'a Fleet,
    model: Option<ModelId>,
    component: ComponentId,
    as_of: Instant,
) -> Vec<Judged<'a>> {
    let Some(programme) = fleet.programme_of(model) else { return Vec::new() };
    let seats: Vec<&Position> = seat_of(fleet, component, as_of).into_iter().collect();
    let readings = fleet.component(component).map_or(&[][..], |file| file.measurements.until(as_of));
    newest(readings)
        .into_iter()
        .filter_map(|reading| judge(fleet, &programme.fact, &seats, &reading.fact, as_of))
        .collect()
}

/// The same for readings on the model as a whole. A rock of the tip is judged by every joint of its design.
#[must_use]
pub fn model_beyond_limits(fleet: &Fleet, model: ModelId, as_of: Instant) -> Vec<Judged<'_>> {
    let Some(programme) = fleet.programme_of(Some(model)) else { return Vec::new() };
    let readings = fleet.model(model).map_or(&[][..], |file| file.measurements.until(as_of));
    let joints: Vec<&Position> = fleet
        .design_of(model)
        .into_iter()
        .flat_map(|design| design.positions.iter())
        .filter(|position| position.joint.is_some())
        .collect();
    newest(readings)
        .into_iter()
        .filter_map(|reading| judge(fleet, &programme.fact, &joints, &reading.fact, as_of))
        .collect()
}

/// The class of one reading by the limits in force, on its worst value. `seats` are the positions it tells of.
#[must_use]
pub fn judge<'a>(
    fleet: &Fleet,
    programme: &Programme,
    seats: &[&Position],
    reading: &'a Measurement,
    as_of: Instant,
) -> Option<Judged<'a>> {
    let kind = match (reading.subject, seats) {
        (Subject::Component(_), [seat, ..]) => Some(seat.kind.as_str()),
        _ => None,
    };
    let mut worst: Option<Judged<'a>> = None;
    for worked in work_out(fleet, reading, seats, as_of) {
        let kind = worked.position_kind.as_deref().or(kind);
        for limit in limits_in_force(fleet, programme, kind, &worked.quantity, &worked.unit) {
            if worked.is_club_only && !matches!(limit.source, LimitSource::Club { .. }) {
                continue;
            }
            for value in &worked.values {
                let Some((severity, at)) = reached(limit.limit, *value) else { continue };
                let shown = worked.shown(*value);
                let is_worse = worst.as_ref().is_none_or(|known| {
                    severity > known.severity
                        || (severity == known.severity
                            && known.quantity == worked.quantity
                            && is_farther(limit.limit.direction, shown, known.value))
                });
                if is_worse {
                    worst = Some(Judged {
                        measurement: reading,
                        quantity: worked.quantity.clone(),
                        unit: worked.unit.clone(),
                        value: shown,
                        how: worked.how.clone(),
                        limit: at,
                        severity,
                    });
                }
            }
        }
    }
    worst
}

/// Whether one value lies farther on the side of the trouble than another.
const fn is_farther(direction: Direction, value: f64, other: f64) -> bool {
    match direction {
        Direction::AtOrAbove | Direction::Above => value > other,
        Direction::AtOrBelow | Direction::Below => value < other,
    }
}

/// The position in which a component sits, or sat last.
pub(crate) fn seat_of(fleet: &Fleet, component: ComponentId, as_of: Instant) -> Option<&Position> {
    let file = fleet.component(component)?;
    let span = file.span_at(as_of).or_else(|| file.spans.iter().rfind(|span| span.from <= as_of))?;
    fleet.position(span.inside, &span.position)
}

/// What readings say against flying a model: those at restrict or ground that no open defect answers.
pub(crate) fn reading_reasons(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    moment: Moment,
) -> Vec<Finding> {
    let own = model_beyond_limits(fleet, model, moment.as_of)
        .into_iter()
        .map(|judged| (judged, fleet.model_tag(model), None));
    let of_parts = fitted.iter().flat_map(|fitted| {
        beyond_limits(fleet, Some(model), fitted.id, moment.as_of)
            .into_iter()
            .map(|judged| (judged, fleet.component_tag(fitted.id), Some(fitted.path.as_str())))
    });
    own.chain(of_parts)
        .filter(|(judged, ..)| judged.severity > Severity::Watch && !is_answered(fleet, judged, moment.as_of))
        .map(|(judged, tag, path)| finding(&judged, &tag, path))
        .collect()
}

/// Whether an open defect on the same thing speaks of it: one at least as bad as the reading.
pub(crate) fn is_answered(fleet: &Fleet, judged: &Judged<'_>, as_of: Instant) -> bool {
    let ids = match judged.measurement.subject {
        Subject::Model(model) => fleet.model(model).map(|file| file.defects.as_slice()),
        Subject::Component(component) => fleet.component(component).map(|file| file.defects.as_slice()),
    };
    ids.unwrap_or_default().iter().filter_map(|id| fleet.defect(*id)).any(|file| {
        file.defect.as_ref().is_some_and(|defect| defect.fact.severity >= judged.severity)
            && is_open(fleet, file, as_of)
    })
}

/// A reading beyond its limit as a finding.
pub(crate) fn finding(judged: &Judged<'_>, tag: &str, path: Option<&str>) -> Finding {
    let place = path.map(|path| format!(" in {path}")).unwrap_or_default();
    let (quantity, value, unit, severity) = (&judged.quantity, judged.value, &judged.unit, judged.severity);
    let said = match &judged.how {
        None => format!("{quantity} of {tag}{place} reads {value} {unit}"),
        Some(how) => format!("{quantity} of {tag}{place} is {value} {unit} ({how})"),
    };
    Finding::new(
        "reading_beyond_limit",
        severity,
        tag,
        format!("{said}, class {severity}, and no defect was raised"),
        if path.is_some() {
            format!("raise a defect on {tag} with its restriction, swap it, or measure it again")
        } else {
            format!("raise a defect on {tag} with its restriction, or measure it again")
        },
    )
}

/// The newest reading of each quantity by the moment it was read, whenever it was entered.
pub(crate) fn newest(readings: &[Recorded<Measurement>]) -> Vec<&Recorded<Measurement>> {
    let mut list: Vec<&Recorded<Measurement>> = Vec::new();
    for reading in readings.iter().rev() {
        if !list.iter().any(|newer| newer.fact.quantity == reading.fact.quantity) {
            list.push(reading);
        }
    }
    list
}
