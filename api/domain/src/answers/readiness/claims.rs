//! Models and parts that two entries of the same days count on: what sits in their models, what they take along, and
//! what an empty seat waits for.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    super::{Moment, seats::empty_seats},
    ahead::Ahead,
    told::{ReadinessFinding, ReadyTask},
};
use crate::{
    facts::Entry,
    finding::Finding,
    fleet::Fleet,
    ids::{ComponentId, EntryId, ModelId},
    text_enum,
    words::{EntryState, Severity},
};

text_enum! {
    /// How an entry counts on something.
    ClaimHow {
        /// It is entered with it.
        Entered = "entered",
        /// It sits in a model of the entry.
        Fitted = "fitted",
        /// The entry names it.
        TakenAlong = "taken_along",
        /// A seat of its model is empty and waits for it.
        WaitedFor = "waited_for",
    }
}

/// One entry that counts on it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
pub struct Claim {
    /// Tag of the pilot.
    pub pilot: String,
    /// Tag of the contest.
    pub contest: String,
    /// Tag of the model.
    pub model: String,
    /// How.
    pub how: ClaimHow,
}

/// A model or part that more than one entry counts on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClaimedTwice {
    /// Its tag.
    pub subject: String,
    /// Whether it is a whole model.
    pub is_model: bool,
    /// Who counts on it.
    pub claims: Vec<Claim>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Thing {
    Model(ModelId),
    Part(ComponentId),
}

/// Everything that more than one standing entry counts on, among entries of contests that share days with this one.
pub(super) fn claimed_twice(fleet: &Fleet, ahead: &Ahead<'_>, moment: Moment) -> Vec<ClaimedTwice> {
    let mut claims: BTreeMap<Thing, Vec<(EntryId, Claim)>> = BTreeMap::new();
    let together = fleet.contest_entries().filter(|(_, entry)| {
        entry.fact.state == EntryState::Entered
            && fleet.contest(entry.fact.contest).is_some_and(|contest| {
                contest.fact.first_on <= ahead.last_on && ahead.first_on <= contest.fact.last_on
            })
    });
    for (id, entry) in together {
        for (thing, claim) in claims_of(fleet, &entry.fact, moment) {
            let list = claims.entry(thing).or_default();
            if list.iter().all(|(_, known)| *known != claim) {
                list.push((id, claim));
            }
        }
    }
    claims
        .into_iter()
        .filter(|(_, list)| list.iter().any(|(id, _)| list.first().is_some_and(|(first, _)| first != id)))
        // A part sits in one model: where all count on it there, the model itself is claimed twice and says it.
        .filter(|(thing, list)| {
            let fitted = list.iter().all(|(_, claim)| claim.how == ClaimHow::Fitted);
            matches!(thing, Thing::Model(_)) || !fitted
        })
        .map(|(thing, list)| {
            let mut claims: Vec<Claim> = list.into_iter().map(|(_, claim)| claim).collect();
            claims.sort();
            match thing {
                Thing::Model(id) => ClaimedTwice { subject: fleet.model_tag(id), is_model: true, claims },
                Thing::Part(id) => ClaimedTwice { subject: fleet.component_tag(id), is_model: false, claims },
            }
        })
        .collect()
}

fn claims_of(fleet: &Fleet, entry: &Entry, moment: Moment) -> Vec<(Thing, Claim)> {
    let pilot = fleet.member_tag(entry.pilot);
    let contest =
        fleet.contest(entry.contest).map_or_else(String::new, |contest| contest.fact.tag.to_string());
    let claim = |model: ModelId, how: ClaimHow| Claim {
        pilot: pilot.clone(),
        contest: contest.clone(),
        model: fleet.model_tag(model),
        how,
    };
    let mut list = Vec::new();
    for model in entry.models() {
        list.push((Thing::Model(model), claim(model, ClaimHow::Entered)));
        for fitted in fleet.fitted(model, moment.as_of) {
            list.push((Thing::Part(fitted.id), claim(model, ClaimHow::Fitted)));
        }
        for seat in empty_seats(fleet, model, moment) {
            list.extend(seat.last.map(|part| (Thing::Part(part), claim(model, ClaimHow::WaitedFor))));
        }
    }
    for part in &entry.parts {
        list.push((Thing::Part(*part), claim(entry.model, ClaimHow::TakenAlong)));
    }
    list
}

/// What a double claim says against the entries of one pilot, or against all of them.
pub(super) fn claim_findings(
    claimed: &[ClaimedTwice],
    pilot: Option<&str>,
    ahead: &Ahead<'_>,
) -> Vec<ReadinessFinding> {
    claimed
        .iter()
        .filter(|one| pilot.is_none_or(|pilot| one.claims.iter().any(|claim| claim.pilot == pilot)))
        .map(|one| {
            let who: Vec<String> = one
                .claims
                .iter()
                .map(|claim| {
                    format!("{} ({}, {})", claim.pilot, claim.model, claim.how.as_str().replace('_', " "))
                })
                .collect();
            let found = Finding::new(
                "claimed_twice",
                Severity::Ground,
                &one.subject,
                format!("{} is claimed by {}", one.subject, who.join(" and ")),
                format!("decide who has {}, and give the other entry something else", one.subject),
            );
            let mut found = ReadinessFinding::of(ReadyTask::SettleClaim, "", found).by(ahead.ready_on);
            found.model = None;
            found.pilot = pilot.map(ToOwned::to_owned);
            if !one.is_model {
                found.parts = vec![one.subject.clone()];
            }
            found
        })
        .collect()
}
