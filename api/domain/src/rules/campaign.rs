//! Campaigns.

use super::Verdict;
use crate::{facts::Campaign, fleet::Fleet, words::CampaignTask};

pub(super) fn check(fleet: &Fleet, campaign: &Campaign, verdict: &mut Verdict) {
    verdict.part(fleet, "/part", campaign.part);
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
        let at = format!("/actions/{index}");
        if action.task == CampaignTask::Measure && action.quantity.is_none() {
            verdict.value(
                "quantity_missing",
                format!("{at}/quantity"),
                "say which quantity is to be measured",
            );
        }
        if let Some(limit) = action.limit {
            verdict.range(&format!("{at}/limit"), limit, -1e6, 1e6, "of the quantity");
        }
    }
}
