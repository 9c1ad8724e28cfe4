//! Who sat where when, walked up level by level for each question.

use std::collections::BTreeMap;

use preen_domain::{
    facts::{Inside, Position},
    ids::{ComponentId, ModelId},
    text::Tag,
    time::Instant,
    words::{ComponentState, PartKind},
};

use super::{Book, each};

/// A component in a position from its installation to its removal.
pub struct Stay {
    pub component: ComponentId,
    pub inside: Inside,
    pub position: Tag,
    pub from: Instant,
    pub to: Option<Instant>,
    pub is_start_of_record: bool,
}

/// A component that a model carries.
#[derive(Clone)]
pub struct Carried {
    pub component: ComponentId,
    /// Path from the model down.
    pub path: String,
    /// Since when it is in the model, through every level.
    pub since: Instant,
    /// Whether its own stay is the start of the record.
    pub own_is_start: bool,
    /// Whether the stay that brought it into the model is the start of the record.
    pub bringer_is_start: bool,
    pub inside: Inside,
    pub position: Tag,
}

pub fn stays(book: &Book) -> Vec<Stay> {
    let mut list = Vec::new();
    for installation in each!(book, Installation) {
        let mut to = None;
        for removal in each!(book, Removal) {
            if removal.installation == installation.id && removal.component == installation.component {
                to = Some(removal.occurred_at);
            }
        }
        list.push(Stay {
            component: installation.component,
            inside: installation.inside,
            position: installation.position.clone(),
            from: installation.occurred_at,
            to,
            is_start_of_record: installation.is_start_of_record,
        });
    }
    list
}

pub fn stay_at(book: &Book, component: ComponentId, at: Instant) -> Option<&Stay> {
    book.stays_of(component).find(|stay| stay.from <= at && stay.to.is_none_or(|to| at < to))
}

/// The model that carries a component at a moment, if one does, and by which way.
pub fn carrier(book: &Book, component: ComponentId, at: Instant) -> Option<(ModelId, Carried)> {
    let own = stay_at(book, component, at)?;
    let mut path = own.position.to_string();
    let mut since = own.from;
    let mut bringer_is_start = own.is_start_of_record;
    let mut stay = own;
    loop {
        match stay.inside {
            Inside::Model(model) => {
                let carried = Carried {
                    component,
                    path,
                    since,
                    own_is_start: own.is_start_of_record,
                    bringer_is_start,
                    inside: own.inside,
                    position: own.position.clone(),
                };
                return Some((model, carried));
            }
            Inside::Component(holder) => {
                stay = stay_at(book, holder, at)?;
                path = format!("{}/{path}", stay.position);
                if stay.from > since {
                    since = stay.from;
                    bringer_is_start = stay.is_start_of_record;
                }
            }
        }
    }
}

/// What each model carries, by moment.
pub type CarriedAt = BTreeMap<Instant, BTreeMap<ModelId, Vec<Carried>>>;

/// Moments of which is kept what each model carries.
const KEPT_MOMENTS: usize = 64;

/// Everything a model carries at a moment. All models are looked at together, once for each moment.
pub fn carried(book: &Book, model: ModelId, at: Instant) -> Vec<Carried> {
    let mut kept = book.carried_at.borrow_mut();
    if kept.len() > KEPT_MOMENTS {
        kept.clear();
    }
    let by_model = kept.entry(at).or_insert_with(|| {
        let mut by_model: BTreeMap<ModelId, Vec<Carried>> = BTreeMap::new();
        for component in book.components() {
            if let Some((carrier, carried)) = carrier(book, component, at) {
                by_model.entry(carrier).or_default().push(carried);
            }
        }
        by_model
    });
    by_model.get(&model).cloned().unwrap_or_default()
}

/// What sits in a position of a holder at a moment.
pub fn sits_in(book: &Book, inside: Inside, position: &Tag, at: Instant) -> Option<ComponentId> {
    book.stays_in(inside)
        .find(|stay| stay.position == *position && stay.from <= at && stay.to.is_none_or(|to| at < to))
        .map(|stay| stay.component)
}

/// The positions of a holder as its design has them.
pub fn positions(book: &Book, inside: Inside) -> Vec<&Position> {
    let (design, seat) = match inside {
        Inside::Model(model) => (Some(book.model(model).design), None),
        Inside::Component(component) => {
            let holder = book.component(component);
            if holder.seat.is_none() {
                return Vec::new();
            }
            (holder.design, holder.seat.clone())
        }
    };
    let Some(design) = design.and_then(|design| book.design(design)) else { return Vec::new() };
    design.positions.iter().filter(|position| position.inside == seat).collect()
}

/// The position in which a carried component sits.
pub fn position_of<'a>(book: &'a Book, carried: &Carried) -> Option<&'a Position> {
    positions(book, carried.inside).into_iter().find(|position| position.path == carried.position)
}

pub fn kind_of(book: &Book, component: ComponentId) -> PartKind {
    book.part(book.component(component).part).kind
}

/// The kept state at a moment: the last change that had happened, else the state it came in with.
pub fn state_at(book: &Book, component: ComponentId, at: Instant) -> ComponentState {
    let mut last = None;
    for condition in each!(book, Condition) {
        let key = (condition.occurred_at, condition.id);
        let is_later = last.is_none_or(|(known, _)| key > known);
        if condition.component == component && condition.occurred_at <= at && is_later {
            last = Some((key, condition.state));
        }
    }
    last.map_or(book.component(component).state, |(_, state)| state)
}
