//! Campaigns that ask for more parts than there are. What a campaign says against flying is said by the board.

use super::{Audit, Family, PlacedFinding};
use crate::{
    answers::campaigns::covers,
    facts::{Campaign, CampaignAction},
    finding::Finding,
    fleet::Place,
    words::{CampaignTask, ComponentState, Severity},
};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    for (_, campaign) in audit.fleet.campaigns() {
        let campaign = &campaign.fact;
        if campaign.occurred_at > audit.moment.as_of {
            continue;
        }
        let short = campaign.actions.iter().filter_map(|action| short_of_stock(audit, campaign, action));
        list.extend(short.map(|finding| PlacedFinding::new(Family::Campaigns, finding)));
    }
}

fn short_of_stock(audit: &Audit<'_>, campaign: &Campaign, action: &CampaignAction) -> Option<Finding> {
    let batch = action.replace_with_batch.as_ref().filter(|_| action.task == CampaignTask::Replace)?;
    let fleet = audit.fleet;
    let as_of = audit.moment.as_of;
    let needed: usize = audit
        .models
        .iter()
        .map(|(_, model)| fleet.fitted(*model, as_of).iter().filter(|f| covers(fleet, campaign, f)).count())
        .sum();
    let on_shelf = fleet
        .components()
        .filter(|(id, file)| {
            file.component.as_ref().is_some_and(|component| {
                component.fact.part == campaign.part && component.fact.batch.as_ref() == Some(batch)
            }) && file.state_at(as_of) == ComponentState::Serviceable
                && fleet.place_at(*id, as_of) == Place::Loose
        })
        .count();
    let short = needed.checked_sub(on_shelf).filter(|short| *short > 0)?;
    let name = campaign.tag.as_ref().map_or_else(|| campaign.id.to_string(), ToString::to_string);
    Some(Finding::new(
        "campaign_short_of_stock",
        Severity::Watch,
        &name,
        format!(
            "{name} action {} needs {needed} of batch {batch}, {on_shelf} on the shelf: short {short}",
            action.number
        ),
        format!("get {short} more of batch {batch}"),
    ))
}
