//! Who may do what: one table of acts and roles, which knows owners and loans.
//!
//! Whether the record itself allows a fact is asked elsewhere ([`super::check`]). What a person may do is
//! common practice of clubs, no source; it grants nothing under any law.

use super::{
    deferral::is_extension,
    limit::{relaxed_by_limit, relaxed_by_programme},
};
use crate::{
    facts::{Condition, Deferral, Fact, Inside, Model, Subject},
    fleet::{Fleet, Place},
    ids::{ComponentId, DefectId, MemberId, ModelId},
    time::{Instant, day_of},
    words::{ComponentState, EventKind, Opener, RepairKind, Role},
};

/// Days for which members may correct what they recorded themselves.
pub const OWN_CORRECTION_DAYS: i64 = 7;

/// Who asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asker {
    /// The member.
    pub member: MemberId,
    /// Whether their access carries the scope to enter what others did.
    pub has_history: bool,
}

/// Something a member wants to do.
#[derive(Debug, Clone, Copy)]
pub enum Act<'a> {
    /// Record a new fact.
    Record(&'a Fact),
    /// Replace master data by a new version.
    Revise(&'a Fact),
    /// Correct a fact.
    Correct {
        /// As it was recorded.
        original: &'a Fact,
        /// By whom.
        recorded_by: MemberId,
        /// When.
        recorded_at: Instant,
    },
    /// Make, list or take back access tokens of a member.
    ManageTokens(MemberId),
    /// Set the password of a member: one's own, or a one-time password for another.
    SetPassword(MemberId),
    /// Read the feed of all facts, or take a copy.
    ReadFeed,
    /// Read answers about the whole fleet.
    ReadFleet,
}

/// Whether a member may do something; if not, one sentence that says who may.
///
/// # Errors
/// That sentence.
pub fn may(fleet: &Fleet, asker: Asker, act: Act<'_>, now: Instant) -> Result<(), String> {
    let person = Person::of(fleet, asker.member, now)?;
    match act {
        Act::Record(fact) => {
            if asker.has_history && person.has(&[Role::Keeper]) {
                return Ok(());
            }
            may_record(&person, fact)
        }
        Act::Revise(fact) => may_record(&person, fact),
        Act::Correct { original, recorded_by, recorded_at } => {
            let is_recent = now < recorded_at.plus_days(OWN_CORRECTION_DAYS);
            if original.noun().is_master_data() {
                return may_record(&person, original);
            }
            if person.has(&[Role::Inspector]) || (recorded_by == asker.member && is_recent) {
                Ok(())
            } else {
                Err(format!(
                    "One's own entries may be corrected for {OWN_CORRECTION_DAYS} days; later, or those of \
                     others, by an inspector."
                ))
            }
        }
        Act::ManageTokens(member) => {
            if member == asker.member {
                Ok(())
            } else {
                person.must(&[Role::Keeper], "Access tokens of others are the keeper's matter.")
            }
        }
        Act::SetPassword(member) => {
            if member == asker.member {
                Ok(())
            } else {
                person.must(&[Role::Keeper], "One-time passwords for others are set by the keeper.")
            }
        }
        Act::ReadFeed => {
            if person.is_more_than_helper() {
                Ok(())
            } else {
                Err("Helpers and visitors get no feed and no copy of the record.".to_owned())
            }
        }
        Act::ReadFleet => {
            if person.is_member() {
                Ok(())
            } else {
                Err("Visitors see only what is on loan to them.".to_owned())
            }
        }
    }
}

fn may_record(person: &Person<'_>, fact: &Fact) -> Result<(), String> {
    const WORKSHOP: &[Role] = &[Role::Builder, Role::Inspector];
    const CHECKS: &[Role] = &[Role::Builder, Role::Inspector, Role::SafetyOfficer];
    match fact {
        Fact::Member(_) => {
            if person.fleet.members().next().is_none() {
                // The first member of a club lets himself in with the set-up code.
                return Ok(());
            }
            person.must(&[Role::Keeper], "Members are the keeper's matter.")
        }
        Fact::Design(_) | Fact::Part(_) | Fact::Programme(_) => {
            person.must(
                &[Role::Builder, Role::Inspector, Role::Keeper],
                "Designs, parts and programmes are entered by a builder, an inspector or the keeper.",
            )?;
            may_relax(person, fact)
        }
        Fact::Model(model) => {
            if person.has(&[Role::Pilot]) && model.owner == Some(person.member) && !person.takes_over(model) {
                return Ok(());
            }
            person.must(
                &[Role::Builder, Role::Inspector, Role::Keeper],
                "A model is entered by its owner, a builder, an inspector or the keeper.",
            )
        }
        Fact::Component(_) => person.must(
            &[Role::Pilot, Role::Builder, Role::Stores, Role::Inspector, Role::Keeper],
            "Components are entered by a pilot, a builder, stores, an inspector or the keeper.",
        ),
        Fact::Condition(condition) => may_change_condition(person, condition),
        Fact::Installation(installation) => {
            let model = person.model_of_inside(installation.inside);
            person.own_or(
                model,
                WORKSHOP,
                "Parts are fitted by the model's owner, a builder or an inspector.",
            )
        }
        Fact::Removal(removal) => {
            let model = person.model_of(removal.component);
            person.own_or(
                model,
                WORKSHOP,
                "Parts are taken out by the model's owner, a builder or an inspector.",
            )
        }
        Fact::Flight(flight) => person.unless_visitor(flight.model),
        Fact::Rigging(rigging) => person.unless_visitor(rigging.model),
        Fact::Defect(defect) => person.unless_visitor(defect.model),
        Fact::Inspection(check) => {
            let model = check.model.or_else(|| check.component.and_then(|part| person.model_of(part)));
            if person.is_field_check(check.group.as_str()) {
                return model.map_or(Ok(()), |model| person.unless_visitor(model));
            }
            if model.is_none() && person.has(&[Role::Stores]) {
                return Ok(());
            }
            person.own_or(
                model,
                CHECKS,
                "This check is done by the model's owner, a builder, an inspector or the safety officer.",
            )
        }
        Fact::Measurement(measurement) => {
            let model = person.model_of_subject(measurement.subject);
            if model.is_none() && person.has(&[Role::Stores]) {
                return Ok(());
            }
            person.own_or(
                model,
                CHECKS,
                "Readings are taken by the model's owner, a builder, an inspector or the safety officer.",
            )
        }
        Fact::Weighing(weighing) => person.own_or(
            Some(weighing.model),
            CHECKS,
            "Weighings are done by the model's owner, a builder, an inspector or the safety officer.",
        ),
        Fact::Deferral(deferral) => may_defer(person, deferral),
        Fact::Closure(closure) => {
            let defect = person.fleet.defect(closure.defect).and_then(|file| file.defect.as_ref());
            person.own_or(
                defect.map(|defect| defect.fact.model),
                CHECKS,
                "A defect is closed by the model's owner, a builder, an inspector or the safety officer.",
            )
        }
        Fact::Repair(repair) => match repair.kind {
            RepairKind::BoomOrFuselage | RepairKind::SparOrSocket => person.must(
                WORKSHOP,
                "Booms, fuselages, spars and sockets are repaired by a builder or an inspector.",
            ),
            _ => person.own_or(
                Some(repair.model),
                WORKSHOP,
                "Repairs are done by the model's owner, a builder or an inspector.",
            ),
        },
        Fact::Release(release) => {
            let repair = person.fleet.repair(release.repair).and_then(|file| file.repair.as_ref());
            match repair.map(|repair| repair.fact.kind) {
                Some(RepairKind::JoinerLoose | RepairKind::BoomOrFuselage | RepairKind::SparOrSocket) => {
                    person.must(&[Role::Inspector], "Structure is released by an inspector.")
                }
                Some(_) | None => person.must(
                    &[Role::Pilot, Role::Builder, Role::Inspector, Role::SafetyOfficer],
                    "Repairs are released by a pilot, a builder, an inspector or the safety officer.",
                ),
            }
        }
        Fact::Campaign(_) => person.must(
            &[Role::Inspector, Role::SafetyOfficer],
            "Campaigns are opened by an inspector or the safety officer.",
        ),
        Fact::CampaignClosure(_) => person.must(
            &[Role::Inspector, Role::SafetyOfficer],
            "Campaigns are closed by an inspector or the safety officer.",
        ),
        Fact::CampaignWork(work) => {
            let model = person.model_of(work.component);
            if model.is_none() && person.has(&[Role::Stores]) {
                return Ok(());
            }
            person.own_or(
                model,
                CHECKS,
                "A part is inspected by the model's owner, a builder, an inspector or the safety officer.",
            )
        }
        Fact::Loan(_) | Fact::LoanReturn(_) => {
            person.must(&[Role::Stores], "Loans go out and come back through stores.")
        }
        Fact::Charge(_) => person.must(
            &[Role::Helper, Role::Pilot, Role::Builder, Role::Stores, Role::Inspector, Role::SafetyOfficer, Role::Keeper],
            "Charges are logged by members.",
        ),
        Fact::Event(event) => match event.kind {
            EventKind::Transport | EventKind::CaseFallen | EventKind::RadioChange => person.unless_visitor(event.model),
            EventKind::LaidUp
            | EventKind::ReturnedToFlying
            | EventKind::Storage
            | EventKind::Sold
            | EventKind::Lost
            | EventKind::WrittenOff => person.own_or(
                Some(event.model),
                &[Role::Inspector, Role::SafetyOfficer, Role::Keeper],
                "A model is laid up, brought back or given away by its owner, an inspector, the safety officer or the keeper.",
            ),
        },
        Fact::MatchedSet(_) => person.must(
            &[Role::Pilot, Role::Builder, Role::Inspector],
            "Matched sets are entered by a pilot, a builder or an inspector.",
        ),
        Fact::Pairing(_) => person.must(
            &[Role::Inspector, Role::SafetyOfficer],
            "A pairing is accepted by an inspector or the safety officer.",
        ),
        Fact::ClubLimit(limit) => {
            if let Some(what) = relaxed_by_limit(person.fleet, limit) {
                person.must(
                    &[Role::Inspector, Role::SafetyOfficer],
                    &format!("A limit is relaxed by an inspector or the safety officer; any pilot may tighten one. Here {what}."),
                )
            } else {
                person.must(
                    &[Role::Pilot, Role::Builder, Role::Inspector, Role::SafetyOfficer],
                    "Limits are tightened by pilots, builders, inspectors and the safety officer.",
                )
            }
        }
        Fact::Lot(_) | Fact::Slug(_) => person.must(&[Role::Stores], "Lots and slugs are counted by stores."),
        Fact::Question(_) => Err("Questions are raised by the service itself.".to_owned()),
        Fact::Settlement(settlement) => {
            let raised = person.fleet.question(settlement.question).and_then(|file| file.question.as_ref());
            if raised.is_some_and(|question| question.recorded_by == person.member) {
                return Ok(());
            }
            person.must(&[Role::Inspector], "A question is settled by who sent the entry, or by an inspector.")
        }
        Fact::Correction(_) => Err("A correction is made at the noun of its original.".to_owned()),
    }
}

/// A programme that lets through what the limits in force hold back is an inspector's matter, like such a limit.
fn may_relax(person: &Person<'_>, fact: &Fact) -> Result<(), String> {
    let Fact::Programme(programme) = fact else { return Ok(()) };
    if person.has(&[Role::Inspector, Role::SafetyOfficer]) {
        return Ok(());
    }
    relaxed_by_programme(person.fleet, programme).map_or(Ok(()), |what| {
        Err(format!("A programme that relaxes a limit is entered by an inspector. Here {what}."))
    })
}

/// A defect is deferred by the owner of the model that carries it (else of the one on which it was found) or by an
/// inspector; it is extended by an inspector, and the rules ask for another one than who deferred it.
fn may_defer(person: &Person<'_>, deferral: &Deferral) -> Result<(), String> {
    let file = person.fleet.defect(deferral.defect);
    let defect = file.and_then(|file| file.defect.as_ref()).map(|recorded| &recorded.fact);
    if file.is_some_and(|file| is_extension(file, deferral)) {
        return person.must(
            &[Role::Inspector],
            "A deferral is extended once, by an inspector other than the one who signed first.",
        );
    }
    let carrier = defect.and_then(|defect| person.model_of_subject(defect.subject));
    person.own_or(
        carrier.or(defect.map(|defect| defect.model)),
        &[Role::Inspector],
        "A defect is deferred by the model's owner or by an inspector.",
    )
}

fn may_change_condition(person: &Person<'_>, condition: &Condition) -> Result<(), String> {
    let is_into_service =
        matches!(condition.state, ComponentState::Serviceable | ComponentState::NewUntested);
    if is_into_service && was_put_apart(person.fleet, condition) {
        return person.must(&[Role::Inspector], "A part leaves quarantine only by an inspector.");
    }
    person.own_or(
        person.model_of(condition.component),
        &[Role::Builder, Role::Stores, Role::Inspector],
        "The state of a part is changed by stores, a builder, an inspector or the owner of its model.",
    )
}

/// Whether a part was held or unserviceable since it was last serviceable. A repair meanwhile does not take it out of
/// quarantine: who mended it does not put it back into service.
fn was_put_apart(fleet: &Fleet, condition: &Condition) -> bool {
    let Some(file) = fleet.component(condition.component) else { return false };
    let entered = file.component.iter().map(|component| component.fact.state);
    let changes = file
        .conditions
        .until(condition.occurred_at)
        .iter()
        .filter(|known| known.fact.id != condition.id)
        .map(|known| known.fact.state);
    let states: Vec<ComponentState> = entered.chain(changes).collect();
    states
        .into_iter()
        .rev()
        .find(|state| !matches!(state, ComponentState::InRepair | ComponentState::NewUntested))
        .is_some_and(|state| matches!(state, ComponentState::Held | ComponentState::Unserviceable))
}

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
        Fact::Defect(defect) => person.borrows(defect.model),
        Fact::Repair(repair) => person.borrows(repair.model),
        Fact::Deferral(deferral) => may_see_defect(fleet, member, deferral.defect, now),
        Fact::Inspection(check) => {
            check.model.is_some_and(|model| person.borrows(model))
                || check.component.is_some_and(|part| person.borrows_part(part))
        }
        Fact::Measurement(reading) => match reading.subject {
            Subject::Model(model) => person.borrows(model),
            Subject::Component(part) => person.borrows_part(part),
        },
        Fact::CampaignWork(work) => person.borrows_part(work.component),
        Fact::Loan(loan) => loan.lent_to == member,
        Fact::ClubLimit(_) => true,
        Fact::Charge(charge) => person.borrows_part(charge.component),
        Fact::Event(event) => person.borrows(event.model),
        Fact::MatchedSet(set) => person.borrows_part(set.component),
        Fact::Pairing(pairing) => person.borrows_part(pairing.component),
        Fact::Lot(_)
        | Fact::Slug(_)
        | Fact::Question(_)
        | Fact::Settlement(_)
        | Fact::Closure(_)
        | Fact::Release(_)
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

/// Whether a member may read the names of others.
#[must_use]
pub fn may_read_names(fleet: &Fleet, member: MemberId) -> bool {
    fleet.member(member).is_some_and(|member| is_more_than_helper(&member.fact.roles))
}

fn is_more_than_helper(roles: &[Role]) -> bool {
    roles.iter().any(|role| !matches!(role, Role::Visitor | Role::Helper))
}

/// A member as the table sees them.
struct Person<'a> {
    fleet: &'a Fleet,
    member: MemberId,
    roles: &'a [Role],
    now: Instant,
}

impl<'a> Person<'a> {
    fn of(fleet: &'a Fleet, member: MemberId, now: Instant) -> Result<Self, String> {
        match fleet.member(member) {
            Some(known) => Ok(Self { fleet, member, roles: &known.fact.roles, now }),
            None if fleet.members().next().is_none() => Ok(Self { fleet, member, roles: &[], now }),
            None => Err("The member behind this access is not in the club.".to_owned()),
        }
    }

    fn has(&self, wanted: &[Role]) -> bool {
        self.roles.iter().any(|role| wanted.contains(role))
    }

    fn must(&self, wanted: &[Role], sentence: &str) -> Result<(), String> {
        if self.has(wanted) { Ok(()) } else { Err(sentence.to_owned()) }
    }

    fn is_member(&self) -> bool {
        self.roles.iter().any(|role| *role != Role::Visitor)
    }

    fn is_more_than_helper(&self) -> bool {
        is_more_than_helper(self.roles)
    }

    fn owns(&self, model: ModelId) -> bool {
        self.fleet.model_data(model).is_some_and(|model| model.owner == Some(self.member))
    }

    /// Whether the model is on record under another owner.
    fn takes_over(&self, model: &Model) -> bool {
        self.fleet.model_data(model.id).is_some_and(|known| known.owner != Some(self.member))
    }

    /// A pilot on a model of their own, or somebody with one of the roles. What sits in no model is nobody's
    /// own: any pilot may handle it.
    fn own_or(&self, model: Option<ModelId>, wanted: &[Role], sentence: &str) -> Result<(), String> {
        if self.has(&[Role::Pilot]) && model.is_none_or(|model| self.owns(model)) {
            return Ok(());
        }
        self.must(wanted, sentence)
    }

    fn unless_visitor(&self, model: ModelId) -> Result<(), String> {
        if self.is_member() || self.borrows(model) {
            Ok(())
        } else {
            Err("A visitor may do this for what is on loan to them.".to_owned())
        }
    }

    /// Whether a check is one of those asked at the field by whoever flies.
    fn is_field_check(&self, group: &str) -> bool {
        self.fleet.programmes().any(|(_, programme)| {
            programme.fact.groups.iter().any(|known| {
                known.code.as_str() == group
                    && matches!(
                        known.opened_by,
                        Some(Opener::EachFlight | Opener::EachFlyingDay | Opener::EachRigging)
                    )
            })
        })
    }

    fn model_of(&self, component: ComponentId) -> Option<ModelId> {
        match self.fleet.place_at(component, self.now) {
            Place::InModel(model, _) => Some(model),
            Place::InPanel(..) | Place::Loose => None,
        }
    }

    fn model_of_inside(&self, inside: Inside) -> Option<ModelId> {
        match inside {
            Inside::Model(model) => Some(model),
            Inside::Component(component) => self.model_of(component),
        }
    }

    fn model_of_subject(&self, subject: Subject) -> Option<ModelId> {
        match subject {
            Subject::Model(model) => Some(model),
            Subject::Component(component) => self.model_of(component),
        }
    }

    fn is_lent_here(&self, item: Subject) -> bool {
        let today = day_of(self.now, self.fleet.club().zone);
        self.fleet.loans().any(|(_, file)| {
            file.returns.until(self.now).is_empty()
                && file.loan.as_ref().is_some_and(|loan| {
                    loan.fact.item == item && loan.fact.lent_to == self.member && loan.fact.from_on <= today
                })
        })
    }

    fn borrows(&self, model: ModelId) -> bool {
        self.is_lent_here(Subject::Model(model))
    }

    fn borrows_part(&self, component: ComponentId) -> bool {
        self.is_lent_here(Subject::Component(component))
            || self.model_of(component).is_some_and(|model| self.borrows(model))
    }
}
