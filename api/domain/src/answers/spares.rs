//! Spares of a team: what its models will go through, how often such parts failed on record, what stands on the shelf
//! and may be fitted. The chances are those of the bench calculator.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::compute::{SparesAdvice, SparesKind, advise_spares, told_spares};
use super::part_life::failures_seen;
use super::stock::ready_on_shelf;
use super::{Moment, campaigns::campaign_progress};
use crate::{
    fleet::Fleet,
    ids::{ComponentId, ModelId, PartId},
    rules::{campaign::open_at, forbidding_campaigns},
    words::{CampaignTask, ComponentState, PartKind},
};

/// What spares are asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct SparesWanted {
    /// The models of the team, each once.
    pub models: Vec<ModelId>,
    /// Flights that each of them will make.
    pub flights: u32,
    /// The chance of being enough that is wanted of each kind, above 0 and at most 0.999999.
    pub target: f64,
}

/// What spares a team should take.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TeamSpares {
    /// Tags of the models.
    pub models: Vec<String>,
    /// Flights of each.
    pub flights: u32,
    /// The chance of being enough that is wanted of each kind.
    pub target: f64,
    /// Kind by kind: what is most likely to be missing first.
    pub kinds: Vec<TeamSparesKind>,
    /// The chance that what is taken is enough of every kind, were they to fail independently.
    pub enough_of_all: f64,
    /// What to pack, line by line.
    pub packing: Vec<String>,
    /// What it rests on, in words.
    pub assumptions: Vec<String>,
    /// How it was computed.
    pub method: String,
}

/// Spares of one part type in one kind of position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TeamSparesKind {
    /// Tag of the part type.
    pub part: String,
    /// Kind of position.
    pub position_kind: String,
    /// How many of them the models carry.
    pub fitted_count: usize,
    /// How many to take, and why.
    #[serde(flatten)]
    pub advice: SparesAdvice,
    /// Tags of loose parts that may be taken.
    pub usable: Vec<String>,
    /// How many of these the models need anyway, for open campaigns.
    pub needed_before_count: usize,
    /// Loose parts of the type that cannot be taken, with why.
    pub not_usable: Vec<SpareRefused>,
}

/// A loose part that is no spare.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct SpareRefused {
    /// Its tag.
    pub component: String,
    /// Why.
    pub why: String,
}

/// Why there is no advice.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoSpares {
    /// The target is not a chance.
    #[error("{0}")]
    BadTarget(String),
}

/// Says what spares a team should take.
///
/// Every part that its models carry is exposed to the flights of its model. How often such parts fail is counted in
/// the club's record: all batches together, in the same kind of position, by flights. A part of which nothing ever
/// failed is counted with the highest rate that its record allows.
///
/// # Errors
/// A target that is no chance, or more flights than can be counted with.
pub fn team_spares(fleet: &Fleet, wanted: &SparesWanted, moment: Moment) -> Result<TeamSpares, NoSpares> {
    let mut carried: BTreeMap<(String, String), (PartId, usize)> = BTreeMap::new();
    for model in &wanted.models {
        for fitted in fleet.fitted(*model, moment.as_of) {
            let (Some(position), Some(data)) = (fitted.position, fleet.component_data(fitted.id)) else {
                continue;
            };
            let Some(part) = fleet.part(data.part) else { continue };
            // What carries other parts is no spare of this kind: its parts are counted one by one.
            if !matches!(part.fact.kind, PartKind::Panel | PartKind::Fuselage) {
                let key = (part.fact.tag.to_string(), position.kind.to_string());
                carried.entry(key).or_insert((data.part, 0)).1 += 1;
            }
        }
    }
    let mut kinds = Vec::new();
    let mut never_used = Vec::new();
    for ((tag, kind), (part, fitted_count)) in carried {
        let (failures, observed) = failures_seen(fleet, part, &kind, moment.as_of);
        if observed > 0.0 {
            kinds.push(one_kind(
                fleet,
                wanted,
                moment,
                (tag, kind, part, fitted_count),
                (failures, observed),
            )?);
        } else {
            never_used.push(format!("{tag} as {kind}"));
        }
    }
    kinds.sort_by(|one, other| {
        other.advice.mean.total_cmp(&one.advice.mean).then_with(|| one.part.cmp(&other.part))
    });
    let told = told_spares(kinds.iter().map(|kind| kind.advice.clone()).collect(), wanted.target);
    let mut assumptions = vec![format!(
        "Each of the {} models makes {} flights, and each part that it carries now goes through all of them.",
        wanted.models.len(),
        wanted.flights
    )];
    assumptions.push(
        "Rates are counted over all batches of a part type in the same kind of position, by flights on record; parts \
         taken off as a precaution are not failures."
            .to_owned(),
    );
    assumptions.extend(told.assumptions);
    if !never_used.is_empty() {
        assumptions.push(format!("No use is on record of {}: no need is said.", never_used.join(", ")));
    }
    Ok(TeamSpares {
        models: wanted.models.iter().map(|model| fleet.model_tag(*model)).collect(),
        flights: wanted.flights,
        target: wanted.target,
        kinds,
        enough_of_all: told.enough_of_all,
        packing: told.packing,
        assumptions,
        method: told.method,
    })
}

fn one_kind(
    fleet: &Fleet,
    wanted: &SparesWanted,
    moment: Moment,
    (tag, kind, part, fitted_count): (String, String, PartId, usize),
    (failures, observed): (u32, f64),
) -> Result<TeamSparesKind, NoSpares> {
    let mut usable = Vec::new();
    let mut not_usable = Vec::new();
    for spare in ready_on_shelf(fleet, part, None, moment) {
        match refusal(fleet, spare, &kind, moment) {
            None => usable.push(fleet.component_tag(spare)),
            Some(why) => not_usable.push(SpareRefused { component: fleet.component_tag(spare), why }),
        }
    }
    not_usable.extend(not_serviceable(fleet, part, moment));
    let needed_before_count = needed_by_campaigns(fleet, wanted, &tag, &kind, part, moment);
    let is_joiner = fleet.part(part).is_some_and(|part| part.fact.kind == PartKind::Joiner);
    let question = SparesKind {
        kind: format!("{tag} as {kind}"),
        exposure: f64::from(wanted.flights) * f64::from(u32::try_from(fitted_count).unwrap_or(u32::MAX)),
        failures: Some(failures),
        observed: Some(observed),
        in_stock: u32::try_from(usable.len().saturating_sub(needed_before_count)).ok(),
        match_needed: match_needed(fleet, part, &kind, moment),
        is_fitted_before: is_joiner,
        ..SparesKind::default()
    };
    let advice = advise_spares(&question, wanted.target).map_err(|(_, why)| NoSpares::BadTarget(why))?;
    Ok(TeamSparesKind {
        part: tag,
        position_kind: kind,
        fitted_count,
        advice,
        usable,
        needed_before_count,
        not_usable,
    })
}

/// Why a serviceable part on the shelf is no spare for a kind of position.
fn refusal(fleet: &Fleet, spare: ComponentId, kind: &str, moment: Moment) -> Option<String> {
    let forbidding = forbidding_campaigns(fleet, spare, kind, moment.as_of);
    if let Some(campaign) = forbidding.first() {
        let name =
            campaign.fact.tag.as_ref().map_or_else(|| campaign.fact.id.to_string(), ToString::to_string);
        return Some(format!("campaign {name} keeps its batch out of this kind of position"));
    }
    let is_joiner = fleet.part_of(spare).is_some_and(|part| part.kind == PartKind::Joiner);
    let is_fitted = fleet.matched_sets().any(|(_, set)| set.fact.component == spare)
        || fleet.component(spare).is_some_and(|file| !file.pairings.until(moment.as_of).is_empty());
    (is_joiner && !is_fitted)
        .then(|| "fitted to no sockets yet: fit, mark and measure it before the journey".to_owned())
}

/// Loose parts of a type that are not serviceable.
fn not_serviceable(fleet: &Fleet, part: PartId, moment: Moment) -> Vec<SpareRefused> {
    let mut list: Vec<SpareRefused> = fleet
        .components()
        .filter(|(_, file)| file.component.as_ref().is_some_and(|data| data.fact.part == part))
        .filter(|(_, file)| file.span_at(moment.as_of).is_none())
        .filter_map(|(id, file)| {
            let why = match file.state_at(moment.as_of) {
                ComponentState::NewUntested => "new and untested: it has to pass its check first",
                ComponentState::Held => "held back",
                ComponentState::Unserviceable => "unserviceable",
                ComponentState::InRepair => "in repair",
                ComponentState::Serviceable | ComponentState::Scrapped => return None,
            };
            Some(SpareRefused { component: fleet.component_tag(id), why: why.to_owned() })
        })
        .collect();
    list.sort_by(|one, other| one.component.cmp(&other.component));
    list
}

/// Parts of a type that open campaigns will take from the shelf for the models themselves.
fn needed_by_campaigns(
    fleet: &Fleet,
    wanted: &SparesWanted,
    tag: &str,
    kind: &str,
    part: PartId,
    moment: Moment,
) -> usize {
    open_at(fleet, moment.as_of)
        .filter(|campaign| campaign.fact.part == part)
        .filter(|campaign| campaign.fact.position_kind.as_ref().is_none_or(|only| only.as_str() == kind))
        .filter_map(|campaign| campaign_progress(fleet, campaign.fact.id, Some(&wanted.models), moment))
        .flat_map(|progress| progress.needs)
        .filter(|need| need.part == tag)
        .filter_map(|need| need.models_need_count)
        .sum()
}

/// What open campaigns ask of a spare.
fn match_needed(fleet: &Fleet, part: PartId, kind: &str, moment: Moment) -> Option<String> {
    let asked: BTreeSet<String> = open_at(fleet, moment.as_of)
        .map(|campaign| &campaign.fact)
        .filter(|fact| fact.part == part)
        .filter(|fact| fact.position_kind.as_ref().is_none_or(|only| only.as_str() == kind))
        .filter(|fact| fact.actions.iter().any(|action| action.task == CampaignTask::Replace))
        .map(|fact| {
            let name = fact.tag.as_ref().map_or_else(|| fact.id.to_string(), ToString::to_string);
            match &fact.batch {
                Some(batch) => format!("not of batch {batch} ({name})"),
                None => format!("none that {name} covers"),
            }
        })
        .collect();
    (!asked.is_empty()).then(|| asked.into_iter().collect::<Vec<_>>().join(", "))
}
