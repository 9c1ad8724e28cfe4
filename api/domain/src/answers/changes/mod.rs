//! What changed since a revision: which models stand differently now, which other answers read differently, and
//! which facts did it.

mod concerned;
mod said;
mod standing;

pub(crate) use said::said_of;
pub use standing::ChangedAnswer;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use self::{
    concerned::{models_concerned, parts_concerned, spoken_of},
    standing::standings,
};
use super::{ModelVerdict, Moment, RestrictionSaid, may_fly::in_service_verdicts};
use crate::{
    facts::{Fact, Noun, Recorded},
    finding::Finding,
    fleet::Fleet,
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
    /// Other answers that read differently, in order of what they are about.
    pub answers: Vec<AnswerChange>,
    /// What was recorded since, oldest first.
    pub facts: Vec<ChangedBy>,
}

/// An answer about one thing that reads differently.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AnswerChange {
    /// Which answer.
    pub answer: ChangedAnswer,
    /// Tag of the model or part it is about; for a check its model and group.
    pub subject: String,
    /// Tag of the model that is or carries it; null for what sits in none.
    pub model: Option<String>,
    /// How it read by what was known at the revision asked about; null if it was not known then.
    pub before: Option<String>,
    /// How it reads by what is known now; null if it is gone.
    pub after: Option<String>,
    /// Revisions of the facts that concern it.
    pub by_revisions: Vec<i64>,
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
    /// Flights until anything that counts flights stops it, before.
    #[serde(default)]
    pub flights_left_before: Option<i64>,
    /// The same now.
    #[serde(default)]
    pub flights_left_after: Option<i64>,
    /// Restrictions that held before and do not now, or not with the same number or day.
    #[serde(default)]
    pub restrictions_gone: Vec<RestrictionSaid>,
    /// Restrictions that are new, or have another number or day.
    #[serde(default)]
    pub restrictions_new: Vec<RestrictionSaid>,
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
    /// What it says, in a few words.
    pub text: String,
    /// Time from when it happened until it was recorded, s; null for what has no moment.
    pub entered_after_s: Option<i64>,
    /// Tags of the models it concerns; empty if it concerns none or all.
    pub models: Vec<String>,
    /// Tags of the parts it concerns.
    pub parts: Vec<String>,
}

/// What changed between two states of knowledge, asked about the same moment.
///
/// `before` is the Fleet as it was known at `since`, `after` as it is known now, `facts` what was recorded between,
/// `older` what corrections among them correct (anything else in it does no harm).
#[must_use]
pub fn changes(
    before: &Fleet,
    after: &Fleet,
    since: i64,
    facts: &[Recorded<Fact>],
    older: &[Recorded<Fact>],
    moment: Moment,
) -> Changes {
    let known = || older.iter().chain(facts).map(|recorded| &recorded.fact);
    let said: Vec<ChangedBy> =
        facts.iter().map(|recorded| changed_by(after, recorded, known(), moment)).collect();
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
    let answers = compare_answers(before, after, moment, &said);
    Changes { since, models, answers, facts: said }
}

/// The answers about single things that read differently.
fn compare_answers(before: &Fleet, after: &Fleet, moment: Moment, said: &[ChangedBy]) -> Vec<AnswerChange> {
    let (mut was, is) = (standings(before, moment), standings(after, moment));
    let mut list = Vec::new();
    for (key, now) in is {
        let old = was.remove(&key);
        if old.as_ref().is_some_and(|old| old.exact == now.exact) {
            continue;
        }
        list.push((key, old, Some(now)));
    }
    list.extend(was.into_iter().map(|(key, old)| (key, Some(old), None)));
    list.sort_by(|(a, ..), (b, ..)| a.cmp(b));
    list.into_iter()
        .filter_map(|((answer, subject), old, now)| {
            let known = now.as_ref().or(old.as_ref())?;
            let concerns = |by: &&ChangedBy| match &known.part {
                Some(part) => by.parts.contains(part),
                None => known.model.as_ref().is_some_and(|model| by.models.contains(model)),
            };
            let by_revisions = said.iter().filter(concerns).map(|by| by.revision).collect();
            Some(AnswerChange {
                answer,
                subject,
                model: known.model.clone(),
                before: old.map(|old| old.text),
                after: now.map(|now| now.text),
                by_revisions,
            })
        })
        .collect()
}

fn compare(
    tag: &str,
    was: Option<&ModelVerdict>,
    is: Option<&ModelVerdict>,
    said: &[ChangedBy],
) -> Option<ModelChange> {
    let before = was.map_or(&[][..], |verdict| &verdict.reasons);
    let after = is.map_or(&[][..], |verdict| &verdict.reasons);
    let held = was.map_or(&[][..], |verdict| &verdict.restrictions);
    let holds = is.map_or(&[][..], |verdict| &verdict.restrictions);
    let change = ModelChange {
        model: tag.to_owned(),
        state_before: was.map(|verdict| verdict.state),
        state_after: is.map(|verdict| verdict.state),
        max_flights_before: was.and_then(|verdict| verdict.max_flights),
        max_flights_after: is.and_then(|verdict| verdict.max_flights),
        flights_left_before: was.and_then(|verdict| verdict.flights_left),
        flights_left_after: is.and_then(|verdict| verdict.flights_left),
        restrictions_gone: held.iter().filter(|one| !holds.contains(one)).cloned().collect(),
        restrictions_new: holds.iter().filter(|one| !held.contains(one)).cloned().collect(),
        reasons_new: after.iter().filter(|reason| !before.contains(reason)).cloned().collect(),
        reasons_gone: before.iter().filter(|reason| !after.contains(reason)).cloned().collect(),
        by_revisions: said
            .iter()
            .filter(|by| by.models.iter().any(|m| m == tag))
            .map(|by| by.revision)
            .collect(),
    };
    // The check that comes next is told with what falls due.
    let said = |verdict: &ModelVerdict| ModelVerdict { next_due: None, ..verdict.clone() };
    (was.map(said) != is.map(said)).then_some(change)
}

fn changed_by<'a>(
    fleet: &Fleet,
    recorded: &'a Recorded<Fact>,
    known: impl Iterator<Item = &'a Fact>,
    moment: Moment,
) -> ChangedBy {
    let fact = &recorded.fact;
    let about = spoken_of(fact, known);
    let in_order = |mut tags: Vec<String>| {
        tags.sort();
        tags.dedup();
        tags
    };
    let models = about.iter().flat_map(|fact| models_concerned(fleet, fact, moment.as_of));
    let parts = about.iter().flat_map(|fact| parts_concerned(fleet, fact, moment.as_of));
    ChangedBy {
        revision: recorded.revision,
        noun: fact.noun(),
        id: fact.id(),
        tag: fact.tag().map(ToString::to_string),
        occurred_at: fact.occurred_at(),
        recorded_at: recorded.recorded_at,
        recorded_by: fleet.member_tag(recorded.recorded_by),
        text: said_of(fleet, fact),
        entered_after_s: fact.occurred_at().map(|at| recorded.recorded_at.seconds_since(at)),
        models: in_order(models.map(|model| fleet.model_tag(model)).collect()),
        parts: in_order(parts.map(|component| fleet.component_tag(component)).collect()),
    }
}
