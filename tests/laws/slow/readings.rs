//! Readings against limits: the newest of each quantity, on its worst value; capacity in per cent of rated, the odd cell
//! of a pack at rest, and slack less what was used since.

use preen_domain::{
    facts::{Fact, Limit, Measurement, Noun, Programme, Subject},
    ids::{ComponentId, ModelId},
    time::Instant,
    words::{Direction, Severity},
};

use super::{Book, defects, each, places};

/// The worst class of a limit that a value has reached.
pub fn class_of(limit: &Limit, value: f64) -> Option<Severity> {
    let reached = |at: Option<f64>| {
        at.is_some_and(|at| match limit.direction {
            Direction::AtOrAbove => value >= at,
            Direction::AtOrBelow => value <= at,
            Direction::Above => value > at,
            Direction::Below => value < at,
        })
    };
    let mut worst = None;
    for (at, class) in [
        (limit.watch, Severity::Watch),
        (limit.restrict, Severity::Restrict),
        (limit.ground, Severity::Ground),
    ] {
        if reached(at) {
            worst = Some(class);
        }
    }
    worst
}

/// The class of each reading of a subject that is beyond a limit and that no open defect as bad speaks of.
pub fn beyond(
    book: &Book,
    subject: Subject,
    programme: &Programme,
    kind: Option<&str>,
    as_of: Instant,
) -> Vec<Severity> {
    let mut list = Vec::new();
    for reading in each!(book, Measurement) {
        let happened = |other: &Measurement| {
            other.subject == subject && other.quantity == reading.quantity && other.occurred_at <= as_of
        };
        let is_newest = happened(reading)
            && !each!(book, Measurement).any(|other| {
                happened(other) && (other.occurred_at, other.id) > (reading.occurred_at, reading.id)
            });
        if !is_newest {
            continue;
        }
        let mut worst = None;
        for (quantity, unit, values) in stands_for(book, reading, as_of) {
            for limit in programme.items.iter().flat_map(|item| &item.limits) {
                let holds_here = limit.position_kinds.is_empty()
                    || limit.position_kinds.iter().any(|of| Some(of.as_str()) == kind);
                if limit.quantity.as_str() != quantity || limit.unit.as_str() != unit || !holds_here {
                    continue;
                }
                for value in &values {
                    worst = worst.max(class_of(limit, *value));
                }
            }
        }
        let Some(severity) = worst else { continue };
        let is_answered = each!(book, Defect).any(|defect| {
            defect.subject == subject && defect.severity >= severity && defects::is_open(book, defect, as_of)
        });
        if !is_answered {
            list.push(severity);
        }
    }
    list
}

/// What a reading is judged as.
fn stands_for(book: &Book, reading: &Measurement, as_of: Instant) -> Vec<(String, String, Vec<f64>)> {
    let (quantity, unit) = (reading.quantity.to_string(), reading.unit.to_string());
    let Subject::Component(component) = reading.subject else {
        return vec![(quantity, unit, reading.values.clone())];
    };
    if quantity == "lead_slack" {
        let used: f64 = used_since(book, component, reading.occurred_at, as_of);
        return vec![(quantity, unit, reading.values.iter().map(|value| value - used).collect())];
    }
    let mut list = vec![(quantity.clone(), unit.clone(), reading.values.clone())];
    if quantity == "capacity"
        && unit == "mAh"
        && let Some(rated) = book.part(book.component(component).part).rated_capacity_mah
    {
        let values = reading.values.iter().map(|value| 100.0 * value / rated).collect();
        list.push(("capacity_of_rated".to_owned(), "%".to_owned(), values));
    }
    if quantity == "storage_drop_30d" && reading.values.len() > 1 {
        let mut sorted = reading.values.clone();
        sorted.sort_by(f64::total_cmp);
        let median = sorted[(sorted.len() - 1) / 2];
        let odd = sorted[sorted.len() - 1] - median;
        list.push(("storage_drop_odd_cell".to_owned(), "mV".to_owned(), vec![odd]));
    }
    list
}

fn used_since(book: &Book, component: ComponentId, after: Instant, as_of: Instant) -> f64 {
    let mut used = 0.0;
    for repair in each!(book, Repair) {
        if repair.components.contains(&component) && repair.occurred_at > after && repair.occurred_at <= as_of
        {
            used += repair.slack_used_mm.unwrap_or(0.0);
        }
    }
    used
}

/// Slack left at a connector, where it was ever read.
pub fn slack_left(book: &Book, component: ComponentId, as_of: Instant) -> Option<f64> {
    let mut newest: Option<&Measurement> = None;
    for reading in each!(book, Measurement) {
        let is_slack = reading.subject == Subject::Component(component)
            && reading.quantity.as_str() == "lead_slack"
            && reading.unit.as_str() == "mm"
            && reading.occurred_at <= as_of;
        if is_slack
            && newest.is_none_or(|known| (reading.occurred_at, reading.id) > (known.occurred_at, known.id))
        {
            newest = Some(reading);
        }
    }
    let newest = newest?;
    let read = newest.values.iter().copied().fold(f64::INFINITY, f64::min);
    Some((read - used_since(book, component, newest.occurred_at, as_of)).max(0.0))
}

/// The kind of position in which a component sits, or sat last.
pub fn kind_of_seat(book: &Book, component: ComponentId, as_of: Instant) -> Option<String> {
    let now = places::stay_at(book, component, as_of);
    let mut last = None;
    for stay in book.stays_of(component).filter(|stay| stay.from <= as_of) {
        if last.is_none_or(|known: &places::Stay| stay.from > known.from) {
            last = Some(stay);
        }
    }
    let stay = now.or(last)?;
    let position =
        places::positions(book, stay.inside).into_iter().find(|position| position.path == stay.position)?;
    Some(position.kind.to_string())
}

/// The programme of a model, or for a part in no model the general one recorded last.
pub fn programme_for(book: &Book, model: Option<ModelId>) -> Option<&Programme> {
    if let Some(model) = model {
        return book.programme(model);
    }
    let mut best: Option<(i64, &Programme)> = None;
    for recorded in book.of_noun(Noun::Programmes) {
        let Fact::Programme(programme) = &recorded.fact else { continue };
        let is_outdated = book.of_noun(Noun::Programmes).any(|other| {
            other.revision > recorded.revision
                && matches!(&other.fact, Fact::Programme(newer) if newer.id == programme.id)
        });
        let is_general = programme.model.is_none() && programme.design.is_none();
        if !is_outdated && is_general && best.is_none_or(|(revision, _)| recorded.revision > revision) {
            best = Some((recorded.revision, programme));
        }
    }
    best.map(|(_, programme)| programme)
}
