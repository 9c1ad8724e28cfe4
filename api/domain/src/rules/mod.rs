//! May this fact be recorded? Pure rules over what the Fleet knows, one file per noun or act.
//!
//! [`check`] says everything that stands against a fact, not only the first thing. Who may record it is
//! another question, answered by the access rule.

pub(crate) mod campaign;
mod charge;
mod component;
mod contest;
mod correct;
mod defect;
mod deferral;
mod design;
mod event;
mod fly;
mod inspect;
mod install;
mod limit;
pub(crate) mod loan;
mod matched_set;
pub mod may;
mod measure;
mod member;
mod photo;
mod programme;
mod question;
pub mod release;
mod repair;
mod repair_step;
mod shelf;
mod weigh;

pub use correct::check_correction;
pub use install::{FitQuestion, check_fit, forbidding_campaigns};

use crate::{
    facts::{Fact, Inside, Noun, Subject},
    fleet::Fleet,
    ids::{ComponentId, DesignId, MemberId, ModelId, PartId},
    time::{Instant, day_of},
};

/// How far ahead of the service's clock a fact may lie, s: clocks in pockets are never quite right.
pub const CLOCK_SLACK_S: i64 = 120;

/// What kind of trouble a broken rule is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A value that cannot be right whatever is on record.
    Value,
    /// The value stands against what is on record.
    Record,
}

/// A rule that a fact breaks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broken {
    /// Stable code for programs.
    pub code: &'static str,
    /// Kind of trouble.
    pub kind: Kind,
    /// JSON pointer to the field.
    pub pointer: String,
    /// One sentence that says what to mend.
    pub text: String,
}

/// Gathers broken rules.
#[derive(Debug, Default)]
pub(crate) struct Verdict(Vec<Broken>);

impl Verdict {
    pub(crate) fn value(&mut self, code: &'static str, pointer: impl Into<String>, text: impl Into<String>) {
        self.0.push(Broken { code, kind: Kind::Value, pointer: pointer.into(), text: text.into() });
    }

    pub(crate) fn record(&mut self, code: &'static str, pointer: impl Into<String>, text: impl Into<String>) {
        self.0.push(Broken { code, kind: Kind::Record, pointer: pointer.into(), text: text.into() });
    }

    pub(crate) fn into_inner(self) -> Vec<Broken> {
        self.0
    }

    /// The number is finite and inside `min..=max`.
    pub(crate) fn range(&mut self, pointer: &str, value: f64, min: f64, max: f64, unit: &str) {
        if !value.is_finite() || value < min || value > max {
            self.value(
                "out_of_range",
                pointer,
                format!("{value} is not within {min} to {max} {unit}: check the number and its unit"),
            );
        }
    }

    pub(crate) fn member(&mut self, fleet: &Fleet, pointer: &str, id: MemberId) {
        if fleet.member(id).is_none() {
            self.value("unknown_reference", pointer, format!("no member `{id}` in this club"));
        }
    }

    pub(crate) fn model(&mut self, fleet: &Fleet, pointer: &str, id: ModelId) {
        if fleet.model_data(id).is_none() {
            self.value("unknown_reference", pointer, format!("no model `{id}` in this club"));
        }
    }

    pub(crate) fn component(&mut self, fleet: &Fleet, pointer: &str, id: ComponentId) {
        if fleet.component_data(id).is_none() {
            self.value("unknown_reference", pointer, format!("no component `{id}` in this club"));
        }
    }

    pub(crate) fn design(&mut self, fleet: &Fleet, pointer: &str, id: DesignId) {
        if fleet.design(id).is_none() {
            self.value("unknown_reference", pointer, format!("no design `{id}` in this club"));
        }
    }

    pub(crate) fn part(&mut self, fleet: &Fleet, pointer: &str, id: PartId) {
        if fleet.part(id).is_none() {
            self.value("unknown_reference", pointer, format!("no part type `{id}` in this club"));
        }
    }

    pub(crate) fn subject(&mut self, fleet: &Fleet, pointer: &str, subject: Subject) {
        match subject {
            Subject::Model(model) => self.model(fleet, pointer, model),
            Subject::Component(component) => self.component(fleet, pointer, component),
        }
    }

    pub(crate) fn inside(&mut self, fleet: &Fleet, pointer: &str, inside: Inside) {
        match inside {
            Inside::Model(model) => self.model(fleet, pointer, model),
            Inside::Component(component) => self.component(fleet, pointer, component),
        }
    }

    /// The moment is not before the day of the model's first flight.
    pub(crate) fn not_before_first_flight(&mut self, fleet: &Fleet, model: ModelId, at: Instant) {
        let Some(data) = fleet.model_data(model) else { return };
        let day = day_of(at, fleet.club().zone);
        if day < data.first_flight_on {
            self.record(
                "before_first_flight",
                "/occurred_at",
                format!("{} first flew on {}: {day} lies before that day", data.tag, data.first_flight_on),
            );
        }
    }
}

/// Everything that stands against recording a fact; nothing if it may be recorded.
///
/// `now` is the service's clock. References must have been resolved to ids. Corrections are tried with
/// [`check_correction`] instead.
#[must_use]
pub fn check(fleet: &Fleet, fact: &Fact, now: Instant) -> Vec<Broken> {
    let mut verdict = Verdict::default();
    if let Some(at) = fact.occurred_at().filter(|at| *at > now.plus_seconds(CLOCK_SLACK_S)) {
        verdict.value(
            "in_the_future",
            "/occurred_at",
            format!("{at} lies ahead of the service's clock, which reads {now}: check the date and the device's clock"),
        );
    }
    if let Some(member) = fact.signed_by() {
        verdict.member(fleet, "", member);
    }
    if let Some(tag) = fact.tag() {
        let holder = fleet.id_of_tag(fact.noun(), tag);
        if holder.is_some_and(|holder| holder != fact.id()) {
            verdict.record(
                "tag_taken",
                "/tag",
                format!("`{tag}` is taken by another of the {}", fact.noun()),
            );
        }
    }
    match fact {
        Fact::Member(member) => member::check(member, &mut verdict),
        Fact::Design(design) => design::check(fleet, design, &mut verdict),
        Fact::Part(part) => component::check_part(part, &mut verdict),
        Fact::Model(model) => design::check_model(fleet, model, &mut verdict),
        Fact::Programme(programme) => programme::check(fleet, programme, &mut verdict),
        Fact::Component(component) => component::check(fleet, component, &mut verdict),
        Fact::Condition(condition) => component::check_condition(fleet, condition, &mut verdict),
        Fact::Installation(installation) => install::check(fleet, installation, &mut verdict),
        Fact::Removal(removal) => install::check_removal(fleet, removal, &mut verdict),
        Fact::Flight(flight) => fly::check(fleet, flight, &mut verdict),
        Fact::Rigging(rigging) => fly::check_rigging(fleet, rigging, &mut verdict),
        Fact::Inspection(inspection) => inspect::check(fleet, inspection, &mut verdict),
        Fact::Measurement(measurement) => measure::check(fleet, measurement, &mut verdict),
        Fact::Weighing(weighing) => weigh::check(fleet, weighing, &mut verdict),
        Fact::Defect(defect) => defect::check(fleet, defect, &mut verdict),
        Fact::Deferral(deferral) => deferral::check(fleet, deferral, &mut verdict),
        Fact::Closure(closure) => defect::check_closure(fleet, closure, &mut verdict),
        Fact::Repair(repair) => repair::check(fleet, repair, &mut verdict),
        Fact::RepairStep(step) => repair_step::check(fleet, step, &mut verdict),
        Fact::Photo(photo) => photo::check(fleet, photo, &mut verdict),
        Fact::Release(release) => release::check(fleet, release, release.released_by, &mut verdict),
        Fact::Campaign(campaign) => campaign::check(fleet, campaign, &mut verdict),
        Fact::CampaignWork(work) => campaign::check_work(fleet, work, &mut verdict),
        Fact::CampaignClosure(closure) => campaign::check_closure(fleet, closure, &mut verdict),
        Fact::Loan(loan) => loan::check(fleet, loan, &mut verdict),
        Fact::LoanReturn(back) => loan::check_return(fleet, back, &mut verdict),
        Fact::Charge(charge) => charge::check(fleet, charge, &mut verdict),
        Fact::Event(event) => event::check(fleet, event, &mut verdict),
        Fact::MatchedSet(set) => matched_set::check(fleet, set, &mut verdict),
        Fact::Pairing(pairing) => matched_set::check_pairing(fleet, pairing, &mut verdict),
        Fact::ClubLimit(limit) => limit::check(fleet, limit, &mut verdict),
        Fact::Lot(lot) => shelf::check_lot(lot, &mut verdict),
        Fact::Slug(slug) => shelf::check_slug(fleet, slug, &mut verdict),
        Fact::ClassProfile(class) => contest::check_class(fleet, class, &mut verdict),
        Fact::Contest(contest) => contest::check(fleet, contest, &mut verdict),
        Fact::Entry(entry) => contest::check_entry(fleet, entry, &mut verdict),
        Fact::Question(question) => question::check(fleet, question, &mut verdict),
        Fact::Settlement(settlement) => question::check_settlement(fleet, settlement, &mut verdict),
        Fact::Correction(_) => verdict.value(
            "correct_the_original",
            "/noun",
            format!("a correction is recorded through the {} of its original", Noun::Corrections),
        ),
    }
    verdict.into_inner()
}

/// Everything that stands against a member's recording a fact: what [`check`] says, and what depends on who records it
/// where the fact names no other signer.
///
/// Whether somebody may do such a thing at all is asked by [`may::may`].
#[must_use]
pub fn check_by(fleet: &Fleet, fact: &Fact, by: MemberId, now: Instant) -> Vec<Broken> {
    let mut verdict = Verdict(check(fleet, fact, now));
    if let Fact::Deferral(deferral) = fact {
        deferral::check_recorder(fleet, deferral, by, &mut verdict);
    }
    verdict.into_inner()
}
