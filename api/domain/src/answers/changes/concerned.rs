//! Which models and parts a fact is about.

use std::borrow::Cow;

use crate::{
    facts::{Correction, Fact, Inside, Subject},
    fleet::{Fleet, Place},
    ids::{ComponentId, DefectId, ModelId},
    time::Instant,
};

/// What a fact speaks of: itself; for a correction all that stood under the id of its original, and what it says now.
pub(super) fn spoken_of<'a>(fact: &'a Fact, known: impl Iterator<Item = &'a Fact>) -> Vec<Cow<'a, Fact>> {
    let Fact::Correction(correction) = fact else { return vec![Cow::Borrowed(fact)] };
    let mut list: Vec<Cow<'a, Fact>> = Vec::new();
    for known in known {
        match known {
            Fact::Correction(other) if other.original == correction.original => {
                list.extend(content_of(other).map(Cow::Owned));
            }
            other if other.id() == correction.original => list.push(Cow::Borrowed(other)),
            _ => {}
        }
    }
    list.extend(content_of(correction).map(Cow::Owned));
    list
}

fn content_of(correction: &Correction) -> Option<Fact> {
    correction.fact.clone().and_then(|json| Fact::from_json(correction.noun, json).ok())
}

/// The models a fact is about, by itself or by the part it is about.
pub(super) fn models_concerned(fleet: &Fleet, fact: &Fact, at: Instant) -> Vec<ModelId> {
    let part = |id: ComponentId| match fleet.place_at(id, at) {
        Place::InModel(model, _) => vec![model],
        Place::InPanel(..) | Place::Loose => Vec::new(),
    };
    let subject = |subject: Subject| match subject {
        Subject::Model(model) => vec![model],
        Subject::Component(id) => part(id),
    };
    match fact {
        Fact::Model(model) => vec![model.id],
        Fact::Flight(flight) => vec![flight.model],
        Fact::Rigging(rigging) => vec![rigging.model],
        Fact::Weighing(weighing) => vec![weighing.model],
        Fact::Event(event) => vec![event.model],
        Fact::Defect(defect) => [vec![defect.model], subject(defect.subject)].concat(),
        Fact::Repair(repair) => {
            repair.components.iter().flat_map(|id| part(*id)).chain([repair.model]).collect()
        }
        Fact::Release(release) => fleet
            .repair(release.repair)
            .and_then(|file| file.repair.as_ref())
            .map_or_else(Vec::new, |repair| models_concerned(fleet, &Fact::Repair(repair.fact.clone()), at)),
        Fact::Closure(closure) => of_defect(fleet, closure.defect, at),
        Fact::Deferral(deferral) => of_defect(fleet, deferral.defect, at),
        Fact::RepairStep(step) => fleet
            .repair(step.repair)
            .and_then(|file| file.repair.as_ref())
            .map_or_else(Vec::new, |repair| models_concerned(fleet, &Fact::Repair(repair.fact.clone()), at)),
        Fact::Inspection(check) => check.component.into_iter().flat_map(part).chain(check.model).collect(),
        Fact::Measurement(reading) => subject(reading.subject),
        Fact::Photo(photo) => subject(photo.subject),
        Fact::Component(component) => part(component.id),
        Fact::Condition(condition) => part(condition.component),
        Fact::CampaignWork(work) => part(work.component),
        Fact::Charge(charge) => part(charge.component),
        Fact::Pairing(pairing) => part(pairing.component),
        Fact::MatchedSet(set) => part(set.component),
        Fact::Installation(installation) => match installation.inside {
            Inside::Model(model) => vec![model],
            Inside::Component(parent) => part(parent),
        },
        Fact::Removal(removal) => {
            fleet.model_spans(removal.component).into_iter().map(|span| span.model).collect()
        }
        Fact::Entry(entry) => entry.models().collect(),
        Fact::Loan(loan) => loan.for_model.into_iter().chain(subject(loan.item)).collect(),
        Fact::LoanReturn(back) => fleet
            .loan(back.loan)
            .and_then(|file| file.loan.as_ref())
            .map_or_else(Vec::new, |loan| models_concerned(fleet, &Fact::Loan(loan.fact.clone()), at)),
        // What a correction is about is asked of what it takes the place of, and of what takes its place.
        Fact::Correction(_) => Vec::new(),
        Fact::Member(_)
        | Fact::Design(_)
        | Fact::Part(_)
        | Fact::Programme(_)
        | Fact::Campaign(_)
        | Fact::CampaignClosure(_)
        | Fact::ClubLimit(_)
        | Fact::Lot(_)
        | Fact::ClassProfile(_)
        | Fact::Contest(_)
        | Fact::Slug(_)
        | Fact::Question(_)
        | Fact::Settlement(_) => Vec::new(),
    }
}

fn of_defect(fleet: &Fleet, defect: DefectId, at: Instant) -> Vec<ModelId> {
    let recorded = fleet.defect(defect).and_then(|file| file.defect.as_ref());
    recorded.map_or_else(Vec::new, |defect| models_concerned(fleet, &Fact::Defect(defect.fact.clone()), at))
}

/// The parts a fact is about: those it names, and all that a model carries if it counts for the whole model.
pub(super) fn parts_concerned(fleet: &Fleet, fact: &Fact, at: Instant) -> Vec<ComponentId> {
    let carried =
        |model: ModelId| fleet.fitted(model, at).into_iter().map(|fitted| fitted.id).collect::<Vec<_>>();
    let subject = |subject: Subject| match subject {
        Subject::Model(_) => Vec::new(),
        Subject::Component(id) => vec![id],
    };
    match fact {
        Fact::Component(component) => vec![component.id],
        Fact::Condition(condition) => vec![condition.component],
        Fact::Installation(installation) => with_contents(fleet, installation.component, at),
        Fact::Removal(removal) => with_contents(fleet, removal.component, at),
        // Use of a model is use of all that it carried.
        Fact::Flight(flight) => carried(flight.model),
        Fact::Rigging(rigging) => carried(rigging.model),
        Fact::Inspection(check) => check.component.into_iter().collect(),
        Fact::Measurement(reading) => subject(reading.subject),
        Fact::Photo(photo) => subject(photo.subject),
        Fact::Defect(defect) => subject(defect.subject),
        Fact::Repair(repair) => repair.components.clone(),
        Fact::RepairStep(step) => fleet
            .repair(step.repair)
            .and_then(|file| file.repair.as_ref())
            .map_or_else(Vec::new, |repair| repair.fact.components.clone()),
        // What is lent carries everything in it along.
        Fact::Loan(loan) => match loan.item {
            Subject::Model(model) => carried(model),
            Subject::Component(component) => with_contents(fleet, component, at),
        },
        Fact::LoanReturn(back) => fleet
            .loan(back.loan)
            .and_then(|file| file.loan.as_ref())
            .map_or_else(Vec::new, |loan| parts_concerned(fleet, &Fact::Loan(loan.fact.clone()), at)),
        Fact::CampaignWork(work) => vec![work.component],
        Fact::Charge(charge) => vec![charge.component],
        Fact::Pairing(pairing) => vec![pairing.component],
        Fact::MatchedSet(set) => vec![set.component],
        _ => Vec::new(),
    }
}

/// A part and what sits in it.
fn with_contents(fleet: &Fleet, component: ComponentId, at: Instant) -> Vec<ComponentId> {
    let mut list = vec![component];
    list.extend(fleet.contents(component, at).into_iter().map(|fitted| fitted.id));
    list
}
