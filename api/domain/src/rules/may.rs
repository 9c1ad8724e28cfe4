//! Who may do what: one table of acts and roles, which knows owners and loans.
//!
//! Whether the record itself allows a fact is asked elsewhere ([`super::check`]). What a person may do is
//! common practice of clubs, no source; it grants nothing under any law.

mod person;
mod see;

pub use see::{may_read_names, may_see, may_see_component, may_see_defect, may_see_item, may_see_model};

use person::Person;

use super::{
    deferral::is_extension,
    limit::{relaxed_by_limit, relaxed_by_programme},
};
use crate::{
    facts::{ClassProfile, Condition, Deferral, Fact, Inspection, Measurement, Repair, RepairStep, Subject},
    fleet::Fleet,
    formulas::joiner::sanding::SandingLife,
    ids::{MemberId, ModelId},
    time::Instant,
    words::{ComponentState, EventKind, RepairKind, Role, Severity},
};

/// Who checks, reads and weighs on any model.
const CHECKS: &[Role] = &[Role::Builder, Role::Inspector, Role::SafetyOfficer];

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
    /// Correct a fact: see [`super::correct`] for what that can and cannot do.
    Correct {
        /// As it was recorded.
        original: &'a Fact,
        /// What takes its place; nothing if it is said never to have happened.
        corrected: Option<&'a Fact>,
        /// By whom.
        recorded_by: MemberId,
        /// When.
        recorded_at: Instant,
    },
    /// Make, list or take back access tokens of a member.
    ManageTokens(MemberId),
    /// Set the password of a member: one's own, or a one-time password for another.
    SetPassword(MemberId),
    /// Have a picture kept, before a photo names it.
    KeepPicture,
    /// Read the feed of all facts, or take a copy.
    ReadFeed,
    /// Take the whole record away, names and all.
    TakeAway,
    /// Read what is on record about one member.
    ReadPersonal(MemberId),
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
        Act::Correct { original, corrected, recorded_by, recorded_at } => {
            let is_recent = now < recorded_at.plus_days(OWN_CORRECTION_DAYS);
            if original.noun().is_master_data() {
                return may_record(&person, original);
            }
            if person.has(&[Role::Inspector]) {
                return Ok(());
            }
            if recorded_by == asker.member && is_recent {
                // One's own entry does not become one that the member might not have made.
                return corrected.map_or(Ok(()), |corrected| may_record(&person, corrected));
            }
            Err(format!(
                "One's own entries may be corrected for {OWN_CORRECTION_DAYS} days; later, or those of others, by \
                 an inspector."
            ))
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
        Act::KeepPicture => {
            if person.is_member() || person.borrows_something() {
                Ok(())
            } else {
                Err("Visitors send pictures only of what is on loan to them.".to_owned())
            }
        }
        Act::ReadFeed => {
            if person.is_more_than_helper() {
                Ok(())
            } else {
                Err("Helpers and visitors get no feed and no copy of the record.".to_owned())
            }
        }
        Act::TakeAway => person.must(&[Role::Keeper], "The whole record is taken away by the keeper."),
        Act::ReadPersonal(member) => {
            if member == asker.member {
                Ok(())
            } else {
                person.must(&[Role::Keeper], "What is on record about others is the keeper's matter.")
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
        Fact::Inspection(check) => may_inspect(person, check),
        Fact::Measurement(measurement) => may_measure(person, measurement),
        Fact::Weighing(weighing) => person.own_or(
            Some(weighing.model),
            CHECKS,
            "Weighings are done by the model's owner, a builder, an inspector or the safety officer.",
        ),
        Fact::Deferral(deferral) => may_defer(person, deferral),
        Fact::Closure(closure) => {
            let file = person.fleet.defect(closure.defect);
            let defect = file.and_then(|file| file.defect.as_ref()).map(|defect| &defect.fact);
            if defect.is_some_and(|defect| defect.severity == Severity::Ground) {
                return person.must(
                    &[Role::Inspector, Role::SafetyOfficer],
                    "A defect that grounds is cleared by an inspector or the safety officer, or by the release of its repair.",
                );
            }
            person.own_or(
                defect.map(|defect| defect.model),
                CHECKS,
                "A defect is closed by the model's owner, a builder, an inspector or the safety officer.",
            )
        }
        Fact::Repair(repair) => match repair.kind {
            RepairKind::BoomOrFuselage | RepairKind::SparOrSocket => person.must(
                WORKSHOP,
                "Booms, fuselages, spars and sockets are repaired by a builder or an inspector.",
            ),
            _ => {
                let mut models = vec![Some(repair.model)];
                models.extend(repair.components.iter().map(|part| person.model_of(*part)));
                person.own_each_or(
                    &models,
                    WORKSHOP,
                    "Repairs are done by the owner of model and parts, a builder or an inspector.",
                )
            }
        },
        Fact::RepairStep(step) => {
            let repair = person.fleet.repair(step.repair).and_then(|file| file.repair.as_ref());
            match repair.map(|repair| &repair.fact) {
                Some(repair) => may_work(person, repair, step),
                None => person.must(WORKSHOP, "Repairs are done by the model's owner, a builder or an inspector."),
            }
        }
        Fact::Release(release) => {
            person.must(
                &[Role::Pilot, Role::Builder, Role::Inspector, Role::SafetyOfficer],
                "Repairs are released by a pilot, a builder, an inspector or the safety officer.",
            )?;
            match (release.released_by, super::release::against(person.fleet, release, person.member)) {
                (None, said) if !said.is_empty() => Err(format!("This release is not yours: {}.", said.join("; "))),
                (Some(_) | None, _) => Ok(()),
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
        Fact::Photo(photo) => person.unless_visitor_of_subject(photo.subject),
        Fact::Charge(charge) => person.unless_visitor_of_part(charge.component),
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
        Fact::ClassProfile(class) => {
            person.must(
                &[Role::TeamManager, Role::Inspector, Role::Keeper],
                "Classes are entered by the team manager, an inspector or the keeper.",
            )?;
            match class.confirmed_by {
                Some(by) if by != person.member && !was_confirmed_so(person.fleet, class) => {
                    Err("Who compared a class with its edition confirms it themselves.".to_owned())
                }
                _ => Ok(()),
            }
        }
        Fact::Contest(_) => person.must(&[Role::TeamManager], "Contests are entered by the team manager."),
        Fact::Entry(_) => person.must(&[Role::TeamManager], "Entries are made by the team manager."),
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

/// Work on a repair is done by whom its kind may be done by; the last of a joiner's faces by an inspector.
fn may_work(person: &Person<'_>, repair: &Repair, step: &RepairStep) -> Result<(), String> {
    if step.is_second_look {
        let signer = step.done_by.unwrap_or(person.member);
        let file = person.fleet.repair(step.repair);
        if file.is_some_and(|file| file.workers(person.now).contains(&signer)) {
            return Err(format!("{}.", super::repair_step::worker_looks(&person.fleet.member_tag(signer))));
        }
        return person.must(
            &[Role::Pilot, Role::Builder, Role::Inspector, Role::SafetyOfficer],
            "A second person is a pilot, a builder, an inspector or the safety officer.",
        );
    }
    may_record(person, &Fact::Repair(repair.clone()))?;
    match super::repair_step::sanding_life(person.fleet, step) {
        Some((joiner, SandingLife::InspectorNeeded)) if step.done_by.is_none() => {
            let tag = person.fleet.component_tag(joiner);
            person.must(&[Role::Inspector], &format!("{}.", super::repair_step::inspector_sands(&tag)))
        }
        Some(_) | None => Ok(()),
    }
}

/// The checks after a flight and before the first of the day are ticked by whoever is there; all others are done
/// by those who look after the model, packs and shelf parts by stores, too.
fn may_inspect(person: &Person<'_>, check: &Inspection) -> Result<(), String> {
    let group = check.group.as_str();
    let parts = check.component.into_iter().chain(check.items.iter().filter_map(|item| item.component));
    if person.is_field_check(group) {
        check.model.map_or(Ok(()), |model| person.unless_visitor(model))?;
        return parts.into_iter().try_for_each(|part| person.unless_visitor_of_part(part));
    }
    let mut models: Vec<Option<ModelId>> = check.model.map(Some).into_iter().collect();
    models.extend(parts.map(|part| person.model_of(part)));
    let is_for_stores = person.is_pack_check(group) || models.iter().all(Option::is_none);
    if is_for_stores && person.has(&[Role::Stores]) {
        return Ok(());
    }
    person.own_each_or(
        &models,
        CHECKS,
        "This check is done by the model's owner, a builder, an inspector or the safety officer; packs and shelf parts \
         are also checked by stores.",
    )
}

fn may_measure(person: &Person<'_>, measurement: &Measurement) -> Result<(), String> {
    let model = person.model_of_subject(measurement.subject);
    let is_pack = matches!(measurement.subject, Subject::Component(part) if person.is_pack(part));
    if (model.is_none() || is_pack) && person.has(&[Role::Stores]) {
        return Ok(());
    }
    person.own_or(
        model,
        CHECKS,
        "Readings are taken by the model's owner, a builder, an inspector or the safety officer; on packs and shelf parts \
         also by stores.",
    )
}

/// Stores move parts, put them in quarantine and scrap them; whether a part is fit for use is said by those who
/// work on it, and what went into quarantine leaves it by an inspector alone, whatever it was called in between.
fn may_change_condition(person: &Person<'_>, condition: &Condition) -> Result<(), String> {
    let (part, at) = (condition.component, condition.occurred_at);
    let into_use = matches!(condition.state, ComponentState::Serviceable | ComponentState::NewUntested);
    let before = person.fleet.component(part).map(|file| file.state_at(at));
    if into_use && was_put_apart(person.fleet, condition) {
        return person.must(&[Role::Inspector], "A part leaves quarantine only by an inspector.");
    }
    if into_use && before != Some(condition.state) {
        return person.own_or(
            person.model_of(part),
            &[Role::Builder, Role::Inspector],
            "A part is put into use by a builder, an inspector or the owner of its model.",
        );
    }
    person.own_or(
        person.model_of(part),
        &[Role::Builder, Role::Stores, Role::Inspector],
        "The state of a part is changed by stores, a builder, an inspector or the owner of its model.",
    )
}

/// Whether the same confirmation of the same limits is on record already.
fn was_confirmed_so(fleet: &Fleet, class: &ClassProfile) -> bool {
    fleet.class(class.id).is_some_and(|known| {
        (known.fact.confirmed_by, known.fact.confirmed_on) == (class.confirmed_by, class.confirmed_on)
            && (&known.fact.limits, known.fact.area) == (&class.limits, class.area)
            && known.fact.edition == class.edition
    })
}

/// Whether a part was held, unserviceable or scrapped since it was last serviceable. A repair meanwhile does not take
/// it out of quarantine: who mended it does not put it back into service.
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
    let last = states
        .into_iter()
        .rev()
        .find(|state| !matches!(state, ComponentState::InRepair | ComponentState::NewUntested));
    matches!(last, Some(ComponentState::Held | ComponentState::Unserviceable | ComponentState::Scrapped))
}
