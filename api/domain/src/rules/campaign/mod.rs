//! Campaigns: what may be opened, what is recorded for one, and when it may be closed. Which parts it covers and what
//! came of its actions on each stand here too, since closing asks for both; answers add the deadlines.

mod outcome;
mod rule;
mod targets;

pub(crate) use outcome::{Outcome, outcome};
pub(crate) use rule::{closing, counts_from, covers_kind, is_serial_unknown, name, names_part, open_at};
pub(crate) use targets::{Target, is_gone, loan_around, targets};

use super::{Verdict, measure::judged_in};
use crate::{
    facts::{Campaign, CampaignAction, CampaignClosure, CampaignWork},
    fleet::Fleet,
    formulas::serial::compare_serials,
    ids::CampaignId,
    time::day_of,
    words::{CampaignTask, Standing},
};

pub(super) fn check(fleet: &Fleet, campaign: &Campaign, verdict: &mut Verdict) {
    verdict.part(fleet, "/part", campaign.part);
    if let (Some(from), Some(to)) = (&campaign.serial_from, &campaign.serial_to)
        && compare_serials(from.as_str(), to.as_str()).is_gt()
    {
        verdict.value(
            "serial_range",
            "/serial_to",
            format!("`{to}` comes before `{from}`: give the lower serial number first"),
        );
    }
    if let Some(kind) = &campaign.position_kind
        && !fleet.designs().any(|(_, design)| design.fact.positions.iter().any(|known| known.kind == *kind))
    {
        verdict.value(
            "unknown_position_kind",
            "/position_kind",
            format!("no design has a position of kind `{kind}`: take a word of the designs, or leave it out"),
        );
    }
    if campaign.actions.is_empty() {
        verdict.value("no_action", "/actions", "say what is to be done");
    }
    let mut numbers: Vec<u32> = campaign.actions.iter().map(|action| action.number).collect();
    numbers.sort_unstable();
    numbers.dedup();
    if numbers.len() != campaign.actions.len() {
        verdict.value("number_twice", "/actions", "give each action a number of its own");
    }
    for (index, action) in campaign.actions.iter().enumerate() {
        check_action(fleet, campaign, action, &format!("/actions/{index}"), verdict);
    }
}

fn check_action(
    fleet: &Fleet,
    campaign: &Campaign,
    action: &CampaignAction,
    at: &str,
    verdict: &mut Verdict,
) {
    let measures = action.task == CampaignTask::Measure;
    if measures && action.quantity.is_none() {
        verdict.value("quantity_missing", format!("{at}/quantity"), "say which quantity is to be measured");
    }
    if !measures && (action.quantity.is_some() || action.limit.is_some()) {
        verdict.value(
            "nothing_to_measure",
            format!("{at}/quantity"),
            format!("only `measure` takes a quantity and a limit: make this a measure action, or leave them out of `{}`", action.task.as_str()),
        );
    }
    if action.limit.is_none() && action.direction.is_some() {
        verdict.value(
            "direction_without_limit",
            format!("{at}/direction"),
            "give the limit, or leave the direction out",
        );
    }
    if let Some(limit) = action.limit {
        verdict.range(&format!("{at}/limit"), limit, -1e6, 1e6, "of the quantity");
        if action.unit.is_none() {
            verdict.value("unit_missing", format!("{at}/unit"), "say in which unit the limit is given");
        }
    }
    if let (Some(quantity), Some(unit)) = (&action.quantity, &action.unit) {
        judged_in(fleet, &format!("{at}/unit"), quantity, unit, verdict);
    }
    if action.replace_with_batch.is_some() && action.replace_with_batch == campaign.batch {
        verdict.value(
            "replaced_by_the_same",
            format!("{at}/replace_with_batch"),
            "this is the batch that is to come off: name another",
        );
    }
}

pub(super) fn check_work(fleet: &Fleet, work: &CampaignWork, verdict: &mut Verdict) {
    verdict.component(fleet, "/component", work.component);
    let Some(campaign) = known(fleet, work.campaign, verdict) else { return };
    let name = name(campaign);
    if work.occurred_at < counts_from(fleet, campaign) {
        verdict.record(
            "before_the_campaign",
            "/occurred_at",
            format!(
                "{name} was opened at {}: what was looked at before that day answers nothing",
                campaign.occurred_at
            ),
        );
    }
    if let Some(closed) = closing(fleet, work.campaign, work.occurred_at) {
        verdict.record(
            "campaign_closed",
            "/campaign",
            format!("{name} was closed at {}", closed.fact.occurred_at),
        );
    }
    match campaign.actions.iter().find(|action| action.number == work.action).map(|action| action.task) {
        None => verdict.value("unknown_action", "/action", format!("{name} has no action {}", work.action)),
        Some(CampaignTask::Inspect) => {}
        Some(CampaignTask::Measure) => verdict.value(
            "not_an_inspection",
            "/action",
            format!("action {} of {name} is answered by a reading: record the measurement", work.action),
        ),
        Some(CampaignTask::Replace) => verdict.value(
            "not_an_inspection",
            "/action",
            format!("action {} of {name} is answered by taking the part out", work.action),
        ),
    }
    if fleet.component_data(work.component).is_some_and(|data| !names_part(campaign, data)) {
        verdict.record(
            "not_a_target",
            "/component",
            format!("{name} does not cover {}", fleet.component_tag(work.component)),
        );
    }
}

fn known<'a>(fleet: &'a Fleet, id: CampaignId, verdict: &mut Verdict) -> Option<&'a Campaign> {
    let campaign = fleet.campaign(id).map(|recorded| &recorded.fact);
    if campaign.is_none() {
        verdict.value("unknown_reference", "/campaign", format!("no campaign `{id}` in this club"));
    }
    campaign
}

pub(super) fn check_closure(fleet: &Fleet, closure: &CampaignClosure, verdict: &mut Verdict) {
    for (index, waiver) in closure.waived.iter().enumerate() {
        let at = format!("/waived/{index}/component");
        verdict.component(fleet, &at, waiver.component);
        if closure.waived.iter().skip(index + 1).any(|other| other.component == waiver.component) {
            verdict.value("waived_twice", at, "name each part once");
        }
    }
    let Some(campaign) = known(fleet, closure.campaign, verdict) else { return };
    let name = name(campaign);
    if closure.occurred_at < campaign.occurred_at {
        verdict.record(
            "closed_before_opened",
            "/occurred_at",
            format!("{name} was opened at {}: it is closed later than that", campaign.occurred_at),
        );
        return;
    }
    let other = fleet.campaign_file(closure.campaign).into_iter().flat_map(|file| file.closures.iter());
    if let Some(other) = other.into_iter().find(|other| other.fact.id != closure.id) {
        verdict.record(
            "closed_already",
            "/campaign",
            format!(
                "{name} was closed at {} already; what is left to do needs a campaign of its own",
                other.fact.occurred_at
            ),
        );
        return;
    }
    let on = day_of(closure.occurred_at, fleet.club().zone);
    let all = targets(fleet, campaign, closure.occurred_at, on);
    let mut still_open = Vec::new();
    for target in &all {
        let left = left_open(fleet, campaign, target, closure);
        if !left.is_empty() {
            still_open.push(target.id);
            if !closure.waived.iter().any(|waiver| waiver.component == target.id) {
                verdict.record("target_open", "/waived", still_to_do(fleet, &name, target, &left));
            }
        }
    }
    for (index, waiver) in closure.waived.iter().enumerate() {
        if fleet.component_data(waiver.component).is_some() && !still_open.contains(&waiver.component) {
            verdict.record(
                "nothing_to_waive",
                format!("/waived/{index}/component"),
                format!(
                    "nothing is open on {} for {name}: leave it out",
                    fleet.component_tag(waiver.component)
                ),
            );
        }
    }
}

/// The actions that are not done on a part when a campaign is closed, with how they stand.
fn left_open(
    fleet: &Fleet,
    campaign: &Campaign,
    target: &Target<'_>,
    closure: &CampaignClosure,
) -> Vec<(u32, Standing)> {
    campaign
        .actions
        .iter()
        .map(|action| {
            let done =
                outcome(fleet, campaign, action, target.id, target.is_in_position, closure.occurred_at);
            (action.number, done.standing)
        })
        .filter(|(_, standing)| *standing != Standing::Done)
        .collect()
}

fn still_to_do(fleet: &Fleet, name: &str, target: &Target<'_>, left: &[(u32, Standing)]) -> String {
    let tag = &target.data.tag;
    let place = match (target.model, target.inside, &target.path) {
        (Some(model), _, Some(path)) => format!("{} {path}", fleet.model_tag(model)),
        (None, Some(panel), Some(path)) => format!("{} {path}", fleet.component_tag(panel)),
        _ => target.place.as_str().to_owned(),
    };
    let actions: Vec<String> = left
        .iter()
        .map(|(number, standing)| match standing {
            Standing::KeptOut => {
                format!("action {number}: the closing would let it be fitted again; scrap it, fit it where {name} does not reach")
            }
            Standing::Failed => format!("action {number} brought something to light; take it out"),
            Standing::Open | Standing::Overdue | Standing::Done => format!("action {number} is open; do it"),
        })
        .collect();
    format!("{tag} ({place}): {}, or waive it with a reason", actions.join("; "))
}

/// What of a campaign's works and closings would lose its ground if the campaign were as the Fleet has it.
pub(super) fn rests_on_its_campaign(fleet: &Fleet, id: CampaignId) -> Vec<String> {
    let Some(campaign) = fleet.campaign(id).map(|recorded| &recorded.fact) else {
        return vec![format!("the campaign `{id}` would be missing, and what was done for it speaks of it")];
    };
    let name = name(campaign);
    let Some(file) = fleet.campaign_file(id) else { return Vec::new() };
    let mut list = Vec::new();
    for work in file.works.iter().map(|work| &work.fact) {
        let asked = campaign
            .actions
            .iter()
            .any(|action| action.number == work.action && action.task == CampaignTask::Inspect);
        if !asked || work.occurred_at < counts_from(fleet, campaign) {
            list.push(format!("{name} would not have asked for what was looked at at {}", work.occurred_at));
        }
    }
    if file.closures.iter().any(|closure| closure.fact.occurred_at < campaign.occurred_at) {
        list.push(format!("{name} would be closed before it was opened"));
    }
    list
}
