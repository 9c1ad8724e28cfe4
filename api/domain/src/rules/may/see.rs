//! What a member may see: members everything of their club, a visitor what is on loan to them, and what belongs
//! to it.

use uuid::Uuid;

use super::person::{Person, is_more_than_helper};
use crate::{
    facts::{Fact, Noun},
    fleet::Fleet,
    ids::{ComponentId, DefectId, LoanId, MatchedSetId, MemberId, ModelId, QuestionId, RepairId},
    time::Instant,
};

/// Whether a member may see a fact at all; a visitor sees what is on loan to them, and what the lent model is
/// built to and checked by.
#[must_use]
pub fn may_see(fleet: &Fleet, member: MemberId, fact: &Fact, now: Instant) -> bool {
    let Ok(person) = Person::of(fleet, member, now) else { return false };
    if person.is_member() {
        return true;
    }
    match fact {
        Fact::Member(other) => other.id == member,
        Fact::Design(_) | Fact::Part(_) | Fact::Programme(_) => true,
        Fact::Model(model) => person.borrows(model.id),
        Fact::Component(part) => person.borrows_part(part.id),
        Fact::Condition(condition) => person.borrows_part(condition.component),
        Fact::Installation(installation) => person.borrows_part(installation.component),
        Fact::Removal(removal) => person.borrows_part(removal.component),
        Fact::Flight(flight) => person.borrows(flight.model),
        Fact::Rigging(rigging) => person.borrows(rigging.model),
        Fact::Weighing(weighing) => person.borrows(weighing.model),
        Fact::Deferral(deferral) => may_see_defect(fleet, member, deferral.defect, now),
        Fact::Defect(defect) => person.borrows(defect.model),
        Fact::Repair(repair) => person.borrows(repair.model),
        Fact::Inspection(check) => {
            check.model.is_some_and(|model| person.borrows(model))
                || check.component.is_some_and(|part| person.borrows_part(part))
        }
        Fact::Measurement(reading) => person.borrows_subject(reading.subject),
        Fact::Photo(photo) => person.borrows_subject(photo.subject),
        Fact::Loan(loan) => loan.lent_to == member,
        Fact::CampaignWork(work) => person.borrows_part(work.component),
        Fact::ClubLimit(_) => true,
        Fact::Charge(charge) => person.borrows_part(charge.component),
        Fact::Event(event) => person.borrows(event.model),
        Fact::MatchedSet(set) => person.borrows_part(set.component),
        Fact::Pairing(pairing) => person.borrows_part(pairing.component),
        Fact::Question(question) => asked(fleet, member, question.id),
        Fact::Settlement(settlement) => asked(fleet, member, settlement.question),
        Fact::ClassProfile(_) => true,
        Fact::Contest(_) | Fact::Entry(_) => false,
        Fact::Lot(_)
        | Fact::Slug(_)
        | Fact::Closure(_)
        | Fact::Release(_)
        | Fact::RepairStep(_)
        | Fact::Campaign(_)
        | Fact::CampaignClosure(_)
        | Fact::LoanReturn(_)
        | Fact::Correction(_) => false,
    }
}

/// Whether a member may see a model and what is asked about it.
#[must_use]
pub fn may_see_model(fleet: &Fleet, member: MemberId, model: ModelId, now: Instant) -> bool {
    Person::of(fleet, member, now).is_ok_and(|person| person.is_member() || person.borrows(model))
}

/// Whether a member may see a component and what is asked about it.
#[must_use]
pub fn may_see_component(fleet: &Fleet, member: MemberId, component: ComponentId, now: Instant) -> bool {
    Person::of(fleet, member, now).is_ok_and(|person| person.is_member() || person.borrows_part(component))
}

/// Whether a member may see a defect and what is asked about it: a visitor those found on what is on loan to them.
#[must_use]
pub fn may_see_defect(fleet: &Fleet, member: MemberId, defect: DefectId, now: Instant) -> bool {
    let known = fleet.defect(defect).and_then(|file| file.defect.as_ref());
    known.is_some_and(|known| may_see(fleet, member, &Fact::Defect(known.fact.clone()), now))
}

/// Whether a question came of what the member sent.
fn asked(fleet: &Fleet, member: MemberId, question: QuestionId) -> bool {
    let raised = fleet.question(question).and_then(|file| file.question.as_ref());
    raised.is_some_and(|question| question.recorded_by == member)
}

/// Whether a member may know of an item that a request names. To whom it is not shown, it is as if it were not
/// there.
#[must_use]
pub fn may_see_item(fleet: &Fleet, member: MemberId, noun: Noun, id: Uuid, now: Instant) -> bool {
    let Ok(person) = Person::of(fleet, member, now) else { return false };
    if person.is_member() {
        return true;
    }
    match noun {
        Noun::Members => MemberId(id) == member,
        Noun::Designs | Noun::Parts | Noun::Programmes | Noun::Limits | Noun::Classes => true,
        Noun::Models => person.borrows(ModelId(id)),
        Noun::Components => person.borrows_part(ComponentId(id)),
        Noun::Installations => fleet
            .components()
            .find(|(_, file)| file.installations.get(id).is_some())
            .is_some_and(|(part, _)| person.borrows_part(part)),
        Noun::Defects => fleet
            .defect(DefectId(id))
            .and_then(|file| file.defect.as_ref())
            .is_some_and(|defect| person.borrows(defect.fact.model)),
        Noun::Repairs => fleet
            .repair(RepairId(id))
            .and_then(|file| file.repair.as_ref())
            .is_some_and(|repair| person.borrows(repair.fact.model)),
        Noun::Loans => fleet
            .loan(LoanId(id))
            .and_then(|file| file.loan.as_ref())
            .is_some_and(|loan| loan.fact.lent_to == member),
        Noun::MatchedSets => {
            fleet.matched_set(MatchedSetId(id)).is_some_and(|set| person.borrows_part(set.fact.component))
        }
        Noun::Questions => asked(fleet, member, QuestionId(id)),
        Noun::Inspections => borrows_check(fleet, &person, id),
        // Requests name none of the others.
        _ => false,
    }
}

/// Whether a check was done on something that is on loan to a person.
fn borrows_check(fleet: &Fleet, person: &Person<'_>, check: Uuid) -> bool {
    let of_models = fleet.models().filter(|(_, file)| file.inspections.get(check).is_some());
    let of_parts = fleet.components().filter(|(_, file)| file.inspections.get(check).is_some());
    of_models.map(|(model, _)| model).any(|model| person.borrows(model))
        || of_parts.map(|(part, _)| part).any(|part| person.borrows_part(part))
}

/// Whether a member may read the names of others.
#[must_use]
pub fn may_read_names(fleet: &Fleet, member: MemberId) -> bool {
    fleet.member(member).is_some_and(|member| is_more_than_helper(&member.fact.roles))
}
