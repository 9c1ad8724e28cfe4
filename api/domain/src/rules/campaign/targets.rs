//! Which parts a campaign covers at a moment, and where each of them is. Nothing is remembered from the opening: a
//! part that comes into a position later comes in, one that leaves for a position of another kind goes out.

use chrono::NaiveDate;

use super::{
    super::loan::running,
    rule::{covers_kind, names_part},
};
use crate::{
    facts::{Campaign, Component, Inside, Loan},
    fleet::{ComponentFile, Fleet, MAX_DEPTH, Place},
    ids::{ComponentId, ModelId},
    time::Instant,
    words::{ComponentState, TargetPlace},
};

/// A part that a campaign covers, and where it is.
#[derive(Debug, Clone)]
pub(crate) struct Target<'a> {
    /// Which part.
    pub id: ComponentId,
    /// Its data.
    pub data: &'a Component,
    /// Where it is.
    pub place: TargetPlace,
    /// Whether it sits in a position that the campaign covers, in a model or in a loose panel.
    pub is_in_position: bool,
    /// The model that carries it.
    pub model: Option<ModelId>,
    /// The loose panel that holds it.
    pub inside: Option<ComponentId>,
    /// Path from the model or the loose panel down.
    pub path: Option<String>,
    /// Kind of its position.
    pub position_kind: Option<String>,
    /// The loan that keeps it: its own, that of a panel around it, or that of the model.
    pub loan: Option<&'a Loan>,
}

impl Target<'_> {
    /// Whether nobody of the club can get at it: it was lent loose, or its model was lent.
    pub(crate) fn is_out_of_reach(&self, fleet: &Fleet, as_of: Instant, on: NaiveDate) -> bool {
        match self.model {
            None => self.loan.is_some(),
            Some(model) => {
                let loans = fleet.model(model).map_or(&[][..], |file| file.loans.as_slice());
                running(fleet, loans, as_of, on).is_some()
            }
        }
    }
}

/// The parts that a campaign covers, in order of tags.
pub(crate) fn targets<'a>(
    fleet: &'a Fleet,
    campaign: &Campaign,
    as_of: Instant,
    on: NaiveDate,
) -> Vec<Target<'a>> {
    let mut list: Vec<Target<'a>> =
        fleet.components().filter_map(|(id, file)| target(fleet, campaign, id, file, as_of, on)).collect();
    list.sort_by(|one, other| one.data.tag.cmp(&other.data.tag));
    list
}

fn target<'a>(
    fleet: &'a Fleet,
    campaign: &Campaign,
    id: ComponentId,
    file: &'a ComponentFile,
    as_of: Instant,
    on: NaiveDate,
) -> Option<Target<'a>> {
    let data = &file.component.as_ref()?.fact;
    let state = file.state_at(as_of);
    if !names_part(campaign, data) || state == ComponentState::Scrapped {
        return None;
    }
    let position_kind = fleet.position_at(id, as_of).map(|position| position.kind.to_string());
    let is_fitted = file.span_at(as_of).is_some();
    if is_fitted && !covers_kind(campaign, position_kind.as_deref()) {
        return None;
    }
    let (model, inside, path) = match fleet.place_at(id, as_of) {
        Place::InModel(model, path) => (Some(model), None, Some(path)),
        Place::InPanel(panel, path) => (None, Some(panel), Some(path)),
        Place::Loose => (None, None, None),
    };
    if model.is_some_and(|model| is_gone(fleet, model, as_of)) {
        return None;
    }
    let loan = loan_around(fleet, id, as_of, on);
    let place = match (model, loan, is_fitted, state) {
        (Some(_), ..) => TargetPlace::Fitted,
        (None, Some(_), ..) => TargetPlace::Loaned,
        (None, None, true, _) => TargetPlace::Fitted,
        (None, None, false, ComponentState::Held) => TargetPlace::Held,
        (None, None, false, ComponentState::Unserviceable) => TargetPlace::Quarantine,
        (None, None, false, _) => TargetPlace::Shelf,
    };
    Some(Target { id, data, place, is_in_position: is_fitted, model, inside, path, position_kind, loan })
}

/// The loan that keeps a part: its own, that of the nearest panel around it, or that of the model. What is lent
/// carries everything in it along.
pub(crate) fn loan_around(fleet: &Fleet, id: ComponentId, as_of: Instant, on: NaiveDate) -> Option<&Loan> {
    let mut current = id;
    for _ in 0..=MAX_DEPTH {
        let file = fleet.component(current)?;
        if let Some(loan) = running(fleet, &file.loans, as_of, on) {
            return loan.loan.as_ref().map(|loan| &loan.fact);
        }
        match file.span_at(as_of)?.inside {
            Inside::Component(holder) => current = holder,
            Inside::Model(model) => {
                let loan = running(fleet, &fleet.model(model)?.loans, as_of, on)?;
                return loan.loan.as_ref().map(|loan| &loan.fact);
            }
        }
    }
    None
}

/// Whether a model was sold, lost or written off by a moment.
pub(crate) fn is_gone(fleet: &Fleet, model: ModelId, as_of: Instant) -> bool {
    fleet
        .model(model)
        .is_some_and(|file| file.events.until(as_of).iter().any(|event| event.fact.kind.ends_service()))
}
