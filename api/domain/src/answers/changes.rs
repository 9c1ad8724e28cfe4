//! What changed since a revision: which models stand differently now, and which facts did it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{ModelVerdict, Moment, may_fly::in_service_verdicts};
use crate::{
    facts::{Fact, Inside, Noun, Recorded, Subject},
    finding::Finding,
    fleet::{Fleet, Place},
    ids::{ComponentId, ModelId},
    time::Instant,
    words::State,
};

/// What changed since a revision.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Changes {
    /// The revision asked about.
    pub since: i64,
    /// Models that stand differently, in order of tags.
    pub models: Vec<ModelChange>,
    /// What was recorded since, oldest first.
    pub facts: Vec<ChangedBy>,
}

/// A model that stands differently.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModelChange {
    /// Tag of the model.
    pub model: String,
    /// Its state by what was known at the revision asked about; null if it was not known then.
    pub state_before: Option<State>,
    /// Its state by what is known now; null if it left the fleet.
    pub state_after: Option<State>,
    /// Flights allowed before.
    pub max_flights_before: Option<i64>,
    /// Flights allowed now.
    pub max_flights_after: Option<i64>,
    /// Reasons that are new or read differently.
    pub reasons_new: Vec<Finding>,
    /// Reasons that are gone.
    pub reasons_gone: Vec<Finding>,
    /// Revisions of the facts that concern this model.
    pub by_revisions: Vec<i64>,
}

/// A fact that was recorded since.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ChangedBy {
    /// The revision at which it was recorded.
    pub revision: i64,
    /// Its noun.
    pub noun: Noun,
    /// Its id.
    pub id: Uuid,
    /// Its tag, where it has one.
    pub tag: Option<String>,
    /// When it happened.
    pub occurred_at: Option<Instant>,
    /// When it was recorded.
    pub recorded_at: Instant,
    /// Tag of the member who recorded it.
    pub recorded_by: String,
    /// Tags of the models it concerns; empty if it concerns none or all.
    pub models: Vec<String>,
}

/// What changed between two states of knowledge, asked about the same moment.
///
/// `before` is the Fleet as it was known at `since`, `after` as it is known now, `facts` what was recorded between.
#[must_use]
pub fn changes(
    before: &Fleet,
    after: &Fleet,
    since: i64,
    facts: &[Recorded<Fact>],
    moment: Moment,
) -> Changes {
    let said: Vec<ChangedBy> = facts.iter().map(|recorded| changed_by(after, recorded, moment)).collect();
    let was = in_service_verdicts(before, moment);
    let is = in_service_verdicts(after, moment);
    let mut tags: Vec<&String> = was.iter().chain(&is).map(|verdict| &verdict.model).collect();
    tags.sort();
    tags.dedup();
    let models = tags
        .into_iter()
        .filter_map(|tag| {
            let of = |verdict: &&ModelVerdict| verdict.model == *tag;
            compare(tag, was.iter().find(of), is.iter().find(of), &said)
        })
        .collect();
    Changes { since, models, facts: said }
}

fn compare(
    tag: &str,
    was: Option<&ModelVerdict>,
    is: Option<&ModelVerdict>,
    said: &[ChangedBy],
) -> Option<ModelChange> {
    let before = was.map_or(&[][..], |verdict| &verdict.reasons);
    let after = is.map_or(&[][..], |verdict| &verdict.reasons);
    let change = ModelChange {
        model: tag.to_owned(),
        state_before: was.map(|verdict| verdict.state),
        state_after: is.map(|verdict| verdict.state),
        max_flights_before: was.and_then(|verdict| verdict.max_flights),
        max_flights_after: is.and_then(|verdict| verdict.max_flights),
        reasons_new: after.iter().filter(|reason| !before.contains(reason)).cloned().collect(),
        reasons_gone: before.iter().filter(|reason| !after.contains(reason)).cloned().collect(),
        by_revisions: said
            .iter()
            .filter(|by| by.models.iter().any(|m| m == tag))
            .map(|by| by.revision)
            .collect(),
    };
    let is_same = change.state_before == change.state_after
        && change.max_flights_before == change.max_flights_after
        && change.reasons_new.is_empty()
        && change.reasons_gone.is_empty();
    (!is_same).then_some(change)
}

fn changed_by(fleet: &Fleet, recorded: &Recorded<Fact>, moment: Moment) -> ChangedBy {
    let fact = &recorded.fact;
    let mut models: Vec<String> =
        concerned(fleet, fact, moment.as_of).into_iter().map(|model| fleet.model_tag(model)).collect();
    models.sort();
    models.dedup();
    ChangedBy {
        revision: recorded.revision,
        noun: fact.noun(),
        id: fact.id(),
        tag: fact.tag().map(ToString::to_string),
        occurred_at: fact.occurred_at(),
        recorded_at: recorded.recorded_at,
        recorded_by: fleet.member_tag(recorded.recorded_by),
        models,
    }
}

/// The models a fact is about, by itself or by the part it is about.
fn concerned(fleet: &Fleet, fact: &Fact, at: Instant) -> Vec<ModelId> {
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
            .map_or_else(Vec::new, |repair| concerned(fleet, &Fact::Repair(repair.fact.clone()), at)),
        Fact::RepairStep(step) => fleet
            .repair(step.repair)
            .and_then(|file| file.repair.as_ref())
            .map_or_else(Vec::new, |repair| concerned(fleet, &Fact::Repair(repair.fact.clone()), at)),
        Fact::Closure(closure) => fleet
            .defect(closure.defect)
            .and_then(|file| file.defect.as_ref())
            .map_or_else(Vec::new, |defect| concerned(fleet, &Fact::Defect(defect.fact.clone()), at)),
        Fact::Inspection(check) => check.component.into_iter().flat_map(part).chain(check.model).collect(),
        Fact::Measurement(reading) => subject(reading.subject),
        Fact::Component(component) => part(component.id),
        Fact::Condition(condition) => part(condition.component),
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
        Fact::Loan(loan) => loan.for_model.into_iter().chain(subject(loan.item)).collect(),
        Fact::Correction(correction) => correction
            .fact
            .clone()
            .and_then(|json| Fact::from_json(correction.noun, json).ok())
            .map_or_else(Vec::new, |fact| concerned(fleet, &fact, at)),
        Fact::Member(_)
        | Fact::Design(_)
        | Fact::Part(_)
        | Fact::Programme(_)
        | Fact::Campaign(_)
        | Fact::ClubLimit(_)
        | Fact::Lot(_)
        | Fact::Slug(_)
        | Fact::LoanReturn(_)
        | Fact::Question(_)
        | Fact::Settlement(_) => Vec::new(),
    }
}
