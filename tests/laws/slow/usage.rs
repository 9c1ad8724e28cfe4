//! Usage, event by event: each flight and rigging is asked whether the part sat in that model at that moment.

use preen_domain::{
    ids::{ComponentId, ModelId},
    time::Instant,
};

use super::{Book, each, places::carrier};

#[derive(Debug, Clone, Default, PartialEq)]
pub struct Used {
    pub flights: u64,
    pub launches: u64,
    pub airtime_min: f64,
    pub motor_s: u64,
    pub riggings: u64,
}

/// Usage of a component by a moment, by model and path.
pub fn of_component(book: &Book, component: ComponentId, as_of: Instant) -> Vec<((ModelId, String), Used)> {
    let mut list: Vec<((ModelId, String), Used)> = Vec::new();
    let mut add = |model: ModelId, at: Instant, change: &dyn Fn(&mut Used)| {
        let Some((carrier, carried)) = carrier(book, component, at) else { return };
        if carrier != model || at > as_of {
            return;
        }
        let key = (model, carried.path);
        match list.iter_mut().find(|(known, _)| *known == key) {
            Some((_, used)) => change(used),
            None => {
                let mut used = Used::default();
                change(&mut used);
                list.push((key, used));
            }
        }
    };
    for flight in each!(book, Flight) {
        add(flight.model, flight.occurred_at, &|used| {
            used.flights += 1;
            used.launches += u64::from(flight.launches);
            used.airtime_min += flight.airtime_min;
            used.motor_s += u64::from(flight.motor_s);
        });
    }
    for rigging in each!(book, Rigging) {
        add(rigging.model, rigging.occurred_at, &|used| used.riggings += u64::from(rigging.cycles));
    }
    list
}

/// Usage of a model by events for which a condition on their moment holds.
pub fn of_model(book: &Book, model: ModelId, counts: impl Fn(Instant) -> bool) -> Used {
    let mut used = Used::default();
    for flight in each!(book, Flight) {
        if flight.model == model && counts(flight.occurred_at) {
            used.flights += 1;
            used.launches += u64::from(flight.launches);
            used.airtime_min += flight.airtime_min;
            used.motor_s += u64::from(flight.motor_s);
        }
    }
    for rigging in each!(book, Rigging) {
        if rigging.model == model && counts(rigging.occurred_at) {
            used.riggings += u64::from(rigging.cycles);
        }
    }
    used
}
