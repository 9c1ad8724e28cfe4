//! Campaigns that ask for more parts than there are. What a campaign says against flying is said by the board.

use super::{Audit, Family, PlacedFinding};
use crate::{
    answers::{ReplacementNeed, campaign_progress},
    finding::Finding,
    words::Severity,
};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    let campaigns = audit.fleet.campaigns();
    let told = campaigns.filter_map(|(id, _)| campaign_progress(audit.fleet, id, None, audit.moment));
    for progress in told.filter(|progress| progress.is_open) {
        let short = progress.needs.iter().filter_map(|need| short_of_stock(&progress.campaign, need));
        list.extend(short.map(|finding| PlacedFinding::new(Family::Campaigns, finding)));
    }
}

fn short_of_stock(name: &str, need: &ReplacementNeed) -> Option<Finding> {
    let short = Some(need.short_count).filter(|short| *short > 0)?;
    let what = need.batch.as_ref().map_or_else(|| need.part.clone(), |batch| format!("batch {batch}"));
    Some(Finding::new(
        "campaign_short_of_stock",
        Severity::Watch,
        name,
        format!(
            "{name} action {} needs {} of {what}, {} on the shelf: short {short}",
            need.action, need.need_count, need.on_shelf_count
        ),
        format!("get {short} more of {what}"),
    ))
}
