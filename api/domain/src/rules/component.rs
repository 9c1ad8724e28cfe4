//! Part types, components and changes of their kept state.

use super::Verdict;
use crate::{
    facts::{Component, Condition, Part},
    fleet::Fleet,
    formulas::{joiner::section::properties, pack::MOST_CELLS},
    words::{ComponentState, PartKind},
};

pub(super) fn check_part(part: &Part, verdict: &mut Verdict) {
    verdict.range("/nominal_mass_g", part.nominal_mass_g, 0.0, 20_000.0, "g");
    if let Some(capacity) = part.rated_capacity_mah {
        verdict.range("/rated_capacity_mah", capacity, 1.0, 100_000.0, "mAh");
    }
    if let Some(cells) = part.cells {
        verdict.range("/cells", f64::from(cells), 1.0, 24.0, "cells");
    }
    if part.new_cell_mohm.len() > MOST_CELLS {
        verdict.value("too_many_cells", "/new_cell_mohm", format!("a pack has at most {MOST_CELLS} cells"));
    }
    for (index, cell) in part.new_cell_mohm.iter().enumerate() {
        verdict.range(&format!("/new_cell_mohm/{index}"), *cell, 0.01, 10_000.0, "mΩ");
    }
    if part.kind != PartKind::Pack && !part.new_cell_mohm.is_empty() {
        verdict.value("not_a_pack", "/new_cell_mohm", "only a pack has cells: leave it out");
    }
    if let Some(section) = part.section {
        if part.kind != PartKind::Joiner {
            verdict.value("not_a_joiner", "/section", "only a joiner has a section: leave it out");
        } else if let Err(why) = properties(&section) {
            verdict.value("not_a_section", "/section", format!("{why}"));
        }
    }
}

pub(super) fn check(fleet: &Fleet, component: &Component, verdict: &mut Verdict) {
    verdict.part(fleet, "/part", component.part);
    verdict.range("/mass_g", component.mass_g, 0.0, 20_000.0, "g");
    if let Some(design) = component.design {
        verdict.design(fleet, "/design", design);
    }
    if let Some(opening) = component.opening {
        verdict.range("/opening/airtime_h", opening.airtime_h, 0.0, 100_000.0, "h");
    }
    let Some(part) = fleet.part(component.part) else { return };
    let is_holder = matches!(part.fact.kind, PartKind::Panel | PartKind::Fuselage);
    if is_holder && (component.seat.is_none() || component.design.is_none()) {
        verdict.value("seat_code", "/seat", "a panel or fuselage names its design and its seat code");
    }
    if !is_holder && component.seat.is_some() {
        verdict.value(
            "seat_code",
            "/seat",
            format!("a {} has no seat code: leave the field out", part.fact.kind),
        );
    }
    if let (Some(seat), Some(design)) = (&component.seat, component.design.and_then(|id| fleet.design(id)))
        && !design.fact.positions.iter().any(|position| position.seat.as_ref() == Some(seat))
    {
        verdict.value(
            "unknown_seat",
            "/seat",
            format!("no position of {} accepts the seat code `{seat}`", design.fact.tag),
        );
    }
}

pub(super) fn check_condition(fleet: &Fleet, condition: &Condition, verdict: &mut Verdict) {
    verdict.component(fleet, "/component", condition.component);
    let Some(file) = fleet.component(condition.component) else { return };
    let before = file.state_at(condition.occurred_at);
    if before == ComponentState::Scrapped && condition.state != ComponentState::Scrapped {
        verdict.record(
            "scrapped",
            "/state",
            format!(
                "{} was scrapped: a scrapped part does not come back",
                fleet.component_tag(condition.component)
            ),
        );
    }
    if condition.state == ComponentState::Scrapped && file.span_at(condition.occurred_at).is_some() {
        verdict.record(
            "still_fitted",
            "/state",
            format!(
                "{} is fitted: take it out before it is scrapped",
                fleet.component_tag(condition.component)
            ),
        );
    }
}
