//! Designs and the models built to them.

use std::collections::{BTreeMap, BTreeSet};

use super::Verdict;
use crate::{
    facts::{Design, Inside, Model},
    fleet::Fleet,
    formulas::ballast::MOST_SLUGS,
    text::Tag,
    words::{Ownership, PartKind},
};

pub(super) fn check(fleet: &Fleet, design: &Design, verdict: &mut Verdict) {
    verdict.range("/span_m", design.span_m, 0.1, 10.0, "m");
    verdict.range("/wing_area_dm2", design.wing_area_dm2, 0.1, 1000.0, "dm²");
    verdict.range("/tail_area_dm2", design.tail_area_dm2, 0.0, 1000.0, "dm²");
    verdict.range("/mac_mm", design.mac_mm, 1.0, 2000.0, "mm");
    verdict.range("/mac_leading_edge_x_mm", design.mac_leading_edge_x_mm, -5000.0, 5000.0, "mm");
    verdict.range("/cg_min_mm", design.cg_min_mm, -5000.0, 5000.0, "mm");
    verdict.range("/cg_max_mm", design.cg_max_mm, -5000.0, 5000.0, "mm");
    if design.cg_min_mm >= design.cg_max_mm {
        verdict.value(
            "empty_range",
            "/cg_max_mm",
            "the rearmost centre of gravity must lie behind the foremost",
        );
    }
    if let Some(x_mm) = design.nose_weight_x_mm {
        verdict.range("/nose_weight_x_mm", x_mm, -5000.0, 5000.0, "mm");
    }
    for (index, station) in design.stations.iter().enumerate() {
        let at = format!("/stations/{index}");
        verdict.range(&format!("{at}/y_mm"), station.y_mm, 0.0, 5000.0, "mm");
        verdict.range(&format!("{at}/leading_edge_x_mm"), station.leading_edge_x_mm, -5000.0, 5000.0, "mm");
        verdict.range(&format!("{at}/chord_mm"), station.chord_mm, 0.0, 2000.0, "mm");
        verdict.range(&format!("{at}/dihedral_deg"), station.dihedral_deg, -90.0, 90.0, "degrees");
        let inner = index.checked_sub(1).and_then(|before| design.stations.get(before));
        if inner.is_some_and(|inner| inner.y_mm >= station.y_mm) {
            verdict.value("stations_out_of_order", format!("{at}/y_mm"), "list stations from the root out");
        }
    }
    check_cells(design, verdict);
    check_positions(design, verdict);
    check_part_types(fleet, design, verdict);
    check_occupied(fleet, design, verdict);
}

fn check_cells(design: &Design, verdict: &mut Verdict) {
    let mut seen = BTreeSet::new();
    for (index, cell) in design.ballast_cells.iter().enumerate() {
        let at = format!("/ballast_cells/{index}");
        verdict.range(&format!("{at}/x_mm"), cell.x_mm, -5000.0, 5000.0, "mm");
        verdict.range(&format!("{at}/y_mm"), cell.y_mm, -5000.0, 5000.0, "mm");
        verdict.range(
            &format!("{at}/capacity"),
            f64::from(cell.capacity),
            1.0,
            f64::from(MOST_SLUGS),
            "slugs",
        );
        if !seen.insert(&cell.cell) {
            verdict.value("cell_twice", format!("{at}/cell"), format!("`{}` stands twice", cell.cell));
        }
        if let Some(word) = &cell.pair {
            let alike = design.ballast_cells.iter().filter(|other| other.pair.as_ref() == Some(word)).count();
            if alike != 2 {
                verdict.value(
                    "not_a_pair",
                    format!("{at}/pair"),
                    format!("`{word}` must stand at two cells, no more and no fewer"),
                );
            }
        }
    }
}

fn check_positions(design: &Design, verdict: &mut Verdict) {
    let mut seen = BTreeSet::new();
    let mut holder_of: BTreeMap<&Tag, Option<&Tag>> = BTreeMap::new();
    for (index, position) in design.positions.iter().enumerate() {
        let at = format!("/positions/{index}");
        for (name, value) in [("x_mm", position.x_mm), ("y_mm", position.y_mm), ("z_mm", position.z_mm)] {
            verdict.range(&format!("{at}/{name}"), value, -5000.0, 5000.0, "mm");
        }
        verdict.range(&format!("{at}/own_span_mm"), position.own_span_mm, 0.0, 10_000.0, "mm");
        verdict.range(&format!("{at}/own_length_mm"), position.own_length_mm, 0.0, 10_000.0, "mm");
        if let Some(joint) = position.joint {
            verdict.range(&format!("{at}/joint/engagement_mm"), joint.engagement_mm, 1.0, 2000.0, "mm");
            verdict.range(&format!("{at}/joint/panel_mm"), joint.panel_mm, 1.0, 20_000.0, "mm");
            if position.accepts != PartKind::Joiner {
                verdict.value(
                    "not_a_joint",
                    format!("{at}/joint"),
                    "only a joiner makes a joint: leave it out",
                );
            }
        }
        if let Some(lead) = position.lead {
            let at = format!("{at}/lead");
            verdict.range(&format!("{at}/awg"), f64::from(lead.awg), 10.0, 40.0, "AWG");
            verdict.range(&format!("{at}/length_m"), lead.length_m, 0.0, 10.0, "m");
            verdict.range(&format!("{at}/contact_pairs"), f64::from(lead.contact_pairs), 1.0, 20.0, "pairs");
            verdict.range(&format!("{at}/current_a"), lead.current_a, 0.0, 100.0, "A");
            verdict.range(&format!("{at}/supply_v"), lead.supply_v, 1.0, 60.0, "V");
        }
        if !seen.insert((position.inside.as_ref(), &position.path)) {
            verdict.value(
                "position_twice",
                format!("{at}/path"),
                format!("`{}` stands twice in the same holder", position.path),
            );
        }
        let is_holder = matches!(position.accepts, PartKind::Panel | PartKind::Fuselage);
        if is_holder != position.seat.is_some() {
            verdict.value(
                "seat_code",
                format!("{at}/seat"),
                "a position for a panel or fuselage names the seat code it accepts, any other names none",
            );
        }
        if let Some(seat) = &position.seat {
            holder_of.insert(seat, position.inside.as_ref());
        }
    }
    for (index, position) in design.positions.iter().enumerate() {
        let mut holder = position.inside.as_ref();
        let mut steps = 0;
        while let Some(seat) = holder {
            steps += 1;
            match holder_of.get(seat) {
                None => {
                    verdict.value(
                        "unknown_seat",
                        format!("/positions/{index}/inside"),
                        format!("no position of this design accepts the seat code `{seat}`"),
                    );
                    break;
                }
                Some(_) if steps > crate::fleet::MAX_DEPTH => {
                    verdict.value(
                        "position_loop",
                        format!("/positions/{index}/inside"),
                        format!(
                            "`{}` lies inside itself, or deeper than {} levels",
                            position.path,
                            crate::fleet::MAX_DEPTH
                        ),
                    );
                    break;
                }
                Some(outer) => holder = *outer,
            }
        }
    }
}

/// Part types that a position names are of the kind it accepts.
fn check_part_types(fleet: &Fleet, design: &Design, verdict: &mut Verdict) {
    for (index, position) in design.positions.iter().enumerate() {
        for (place, part) in position.parts.iter().enumerate() {
            let at = format!("/positions/{index}/parts/{place}");
            match fleet.part(*part) {
                None => verdict.part(fleet, &at, *part),
                Some(part) if part.fact.kind != position.accepts => verdict.value(
                    "part_of_another_kind",
                    at,
                    format!(
                        "`{}` accepts a {}, {} is a {}: leave it out",
                        position.path, position.accepts, part.fact.tag, part.fact.kind
                    ),
                ),
                Some(_) => {}
            }
        }
    }
}

/// A new version may not take away a position that holds a part.
fn check_occupied(fleet: &Fleet, design: &Design, verdict: &mut Verdict) {
    let has = |seat: Option<&Tag>, path: &Tag| {
        design.positions.iter().any(|position| position.inside.as_ref() == seat && position.path == *path)
    };
    let models =
        fleet.models().filter(|(_, file)| file.model.as_ref().is_some_and(|m| m.fact.design == design.id));
    let in_models = models.map(|(id, _)| (Inside::Model(id), None));
    let components = fleet
        .components()
        .filter_map(|(id, file)| file.component.as_ref().map(|component| (id, &component.fact)))
        .filter(|(_, component)| component.design == Some(design.id) && component.seat.is_some());
    let in_components = components.map(|(id, component)| (Inside::Component(id), component.seat.as_ref()));
    for (holder, seat) in in_models.chain(in_components) {
        for occupant in fleet.occupants(holder).iter().filter(|occupant| occupant.span.to.is_none()) {
            if !has(seat, &occupant.span.position) {
                verdict.record(
                    "position_occupied",
                    "/positions",
                    format!(
                        "`{}` holds {} and cannot go: take the part out first",
                        occupant.span.position,
                        fleet.component_tag(occupant.component)
                    ),
                );
            }
        }
    }
}

pub(super) fn check_model(fleet: &Fleet, model: &Model, verdict: &mut Verdict) {
    verdict.design(fleet, "/design", model.design);
    if let Some(owner) = model.owner {
        verdict.member(fleet, "/owner", owner);
    }
    match (model.ownership, model.owner) {
        (Ownership::Member | Ownership::Visitor, None) => {
            verdict.value("owner_missing", "/owner", "name the member it belongs to");
        }
        (Ownership::Club, Some(_)) => {
            verdict.value("owner_of_club_model", "/owner", "a club model has no owner: leave the field out");
        }
        _ => {}
    }
    let known = fleet.model_data(model.id);
    if known.is_some_and(|known| known.design != model.design)
        && fleet.occupants(Inside::Model(model.id)).iter().any(|occupant| occupant.span.to.is_none())
    {
        verdict.record(
            "design_of_fitted_model",
            "/design",
            "take all parts out before the design is changed",
        );
    }
}
