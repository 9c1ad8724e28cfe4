//! All campaigns in short: what each covers, whether it is open, how many parts stand how.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::Moment;
use super::{TargetCounts, campaign_progress};
use crate::{fleet::Fleet, time::Instant};

/// All campaigns in short.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CampaignList {
    /// The club day asked about.
    pub on: NaiveDate,
    /// Open ones first, then the one opened last first.
    pub campaigns: Vec<CampaignRow>,
}

/// A campaign in short.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CampaignRow {
    /// Tag of the campaign, or its id.
    pub campaign: String,
    /// What it covers, in words.
    pub covers: String,
    /// When it was opened.
    pub opened_at: Instant,
    /// When it was closed; null: it is open.
    pub closed_at: Option<Instant>,
    /// How many parts stand how.
    pub counts: TargetCounts,
    /// Parts that are missing on the shelf to replace all that is to be replaced.
    pub short_count: usize,
}

/// All campaigns that were opened by then.
#[must_use]
pub fn campaigns_said(fleet: &Fleet, moment: Moment) -> CampaignList {
    let mut campaigns: Vec<CampaignRow> = fleet
        .campaigns()
        .filter_map(|(id, _)| campaign_progress(fleet, id, None, moment))
        .map(|progress| CampaignRow {
            covers: progress.covers(),
            campaign: progress.campaign,
            opened_at: progress.opened_at,
            closed_at: progress.closed_at,
            counts: progress.counts,
            short_count: progress.needs.iter().map(|need| need.short_count).sum(),
        })
        .collect();
    campaigns.sort_by(|one, other| {
        let key = |row: &CampaignRow| (row.closed_at.is_some(), std::cmp::Reverse(row.opened_at));
        key(one).cmp(&key(other)).then_with(|| one.campaign.cmp(&other.campaign))
    });
    CampaignList { on: moment.on, campaigns }
}

impl super::CampaignProgress {
    /// What the campaign covers, in words: `SV08/B, serials 100 to 250, at flap servo`.
    #[must_use]
    pub fn covers(&self) -> String {
        let batch = self.batch.as_ref().map(|batch| format!("/{batch}")).unwrap_or_default();
        let serials = match (&self.serial_from, &self.serial_to) {
            (Some(from), Some(to)) => format!(", serials {from} to {to}"),
            (Some(from), None) => format!(", serials from {from}"),
            (None, Some(to)) => format!(", serials up to {to}"),
            (None, None) => String::new(),
        };
        let kind = self.position_kind.as_ref().map(|kind| format!(" at {kind}")).unwrap_or_default();
        format!("{}{batch}{serials}{kind}", self.part)
    }
}
