//! Centre of gravity along x: the last weighing, and the moments of what came off and on since.

use preen_domain::{ids::ModelId, time::Instant, words::Severity};

use super::{
    Book, each,
    places::{carried, position_of},
    verdict::Reason,
};

/// Mass and first moment of everything listed in a model at a moment.
fn listed(book: &Book, model: ModelId, at: Instant) -> (f64, f64) {
    let parts = carried(book, model, at);
    let (mut mass_g, mut moment) = (0.0, 0.0);
    for part in &parts {
        if let Some(position) = position_of(book, part) {
            let own_g = book.component(part.component).mass_g;
            mass_g += own_g;
            moment += own_g * position.x_mm;
        }
    }
    for repair in each!(book, Repair) {
        let here = if repair.components.is_empty() {
            repair.model == model
        } else {
            repair.components.iter().any(|mended| {
                parts.iter().any(|part| part.component == *mended && position_of(book, part).is_some())
            })
        };
        if here && repair.occurred_at <= at {
            mass_g += repair.material_mass_g;
            moment += repair.material_mass_g * repair.x_mm;
        }
        for work in each!(book, RepairStep).filter(|work| work.repair == repair.id) {
            if here && work.occurred_at <= at {
                mass_g += work.mass_added_g;
                moment += work.mass_added_g * work.x_mm;
            }
        }
    }
    (mass_g, moment)
}

/// What the balance says against flying: outside the range, moved by 1 mm since the weighing, never weighed.
pub fn reasons(book: &Book, model: ModelId, as_of: Instant) -> Vec<Reason> {
    let data = book.model(model);
    let (Some(design), tag) = (book.design(data.design), data.tag.to_string()) else { return Vec::new() };
    let mut weighing = None;
    for one in each!(book, Weighing) {
        let key = (one.occurred_at, one.id);
        let is_later = weighing.is_none_or(|(known, _)| key > known);
        if one.model == model && one.occurred_at <= as_of && is_later {
            weighing = Some((key, one));
        }
    }
    let (now_g, now_moment) = listed(book, model, as_of);
    let Some((_, weighing)) = weighing else {
        let has_mass = now_g > 0.0;
        return if has_mass { vec![Reason::new("never_weighed", Severity::Watch, tag)] } else { Vec::new() };
    };
    let (then_g, then_moment) = listed(book, model, weighing.occurred_at);
    let mass_g = weighing.mass_g + now_g - then_g;
    let x_mm = (weighing.mass_g * weighing.x_mm + now_moment - then_moment) / mass_g;
    let mut list = Vec::new();
    let outside_mm = (design.cg_min_mm - x_mm).max(x_mm - design.cg_max_mm);
    if outside_mm > 5.0 {
        list.push(Reason::new("cg_outside_range", Severity::Ground, tag.clone()));
    } else if outside_mm > 0.0 {
        list.push(Reason::new("cg_outside_range", Severity::Restrict, tag.clone()));
    }
    if (x_mm - weighing.x_mm).abs() > 1.0 {
        list.push(Reason::new("unweighed_moves", Severity::Watch, tag));
    }
    list
}
