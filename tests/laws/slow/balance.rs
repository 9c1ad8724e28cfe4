//! Centre of gravity along x: the last weighing, and the moments of what came off and on since.

use preen_domain::{ids::ModelId, time::Instant, words::Severity};

use super::{
    Book, each,
    places::{carried, position_of},
    verdict::Reason,
};

/// Everything listed in a model at a moment, by place: x, y, z and the mass there.
fn listed(book: &Book, model: ModelId, at: Instant) -> Vec<([f64; 3], f64)> {
    let parts = carried(book, model, at);
    let mut masses = Vec::new();
    for part in &parts {
        if let Some(position) = position_of(book, part) {
            masses
                .push(([position.x_mm, position.y_mm, position.z_mm], book.component(part.component).mass_g));
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
            masses.push(([repair.x_mm, repair.y_mm, repair.z_mm], repair.material_mass_g));
        }
        for work in each!(book, RepairStep).filter(|work| work.repair == repair.id) {
            if here && work.occurred_at <= at {
                masses.push(([work.x_mm, work.y_mm, work.z_mm], work.mass_added_g));
            }
        }
    }
    masses
}

/// Mass, first moment along x, and the first moments about a place added up by size, of what came on less what came off;
/// one place counts once.
fn changed(then: &[([f64; 3], f64)], now: &[([f64; 3], f64)], about_mm: f64) -> (f64, f64, f64) {
    let mut by_place: Vec<([f64; 3], f64)> = Vec::new();
    let signed = then.iter().map(|(place, g)| (*place, -g)).chain(now.iter().copied());
    for (place, mass_g) in signed {
        match by_place.iter_mut().find(|(known, _)| *known == place) {
            Some((_, sum_g)) => *sum_g += mass_g,
            None => by_place.push((place, mass_g)),
        }
    }
    let mut sums = (0.0, 0.0, 0.0);
    for (place, mass_g) in by_place {
        sums.0 += mass_g;
        sums.1 += mass_g * place[0];
        sums.2 += (mass_g * (place[0] - about_mm)).abs();
    }
    sums
}

/// What the balance says against flying: outside the range, moves of 1 mm in all since the weighing, never weighed.
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
    let now = listed(book, model, as_of);
    let Some((_, weighing)) = weighing else {
        let has_mass = now.iter().map(|(_, mass_g)| mass_g).sum::<f64>() > 0.0;
        return if has_mass { vec![Reason::new("never_weighed", Severity::Watch, tag)] } else { Vec::new() };
    };
    let then = listed(book, model, weighing.occurred_at);
    let (came_g, came_moment, came_by_size) = changed(&then, &now, weighing.x_mm);
    let mass_g = weighing.mass_g + came_g;
    let x_mm = (weighing.mass_g * weighing.x_mm + came_moment) / mass_g;
    let mut list = Vec::new();
    let outside_mm = (design.cg_min_mm - x_mm).max(x_mm - design.cg_max_mm);
    if outside_mm > 5.0 {
        list.push(Reason::new("cg_outside_range", Severity::Ground, tag.clone()));
    } else if outside_mm > 0.0 {
        list.push(Reason::new("cg_outside_range", Severity::Restrict, tag.clone()));
    }
    if came_by_size / mass_g >= 1.0 {
        list.push(Reason::new("unweighed_moves", Severity::Watch, tag));
    }
    list
}
