//! A fleet-wide action over all parts of a type, batch or serial range in a kind of position: its opening, what was
//! looked at for it, its closing. Which parts it covers is evaluated elsewhere, afresh each time.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{CampaignClosureId, CampaignId, CampaignWorkId, ComponentId, MemberId, PartId},
    text::{Tag, Text},
    time::Instant,
    words::{CampaignTask, CheckResult, Direction},
};

/// A campaign. Which parts it covers is evaluated afresh for every answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Campaign {
    /// Id made by the client (UUIDv7).
    pub id: CampaignId,
    /// Number in the club's own record, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// When it was opened; counts of flights begin with that club day.
    pub occurred_at: Instant,
    /// Part type it covers.
    pub part: PartId,
    /// Batch it covers; absent: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<Tag>,
    /// First serial number it covers; absent: from the lowest. Runs of digits count as numbers; a part without a
    /// serial number of its own is compared by its tag.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial_from: Option<Tag>,
    /// Last serial number it covers, itself included; absent: to the highest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial_to: Option<Tag>,
    /// Kind of position it covers; absent: wherever the part sits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position_kind: Option<Text>,
    /// What is to be done, in order.
    #[schema(min_items = 1)]
    pub actions: Vec<CampaignAction>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Text>,
    /// Who opened it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opened_by: Option<MemberId>,
}

/// One thing that a campaign asks of each part it covers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CampaignAction {
    /// Its number in the campaign, from 1.
    pub number: u32,
    /// What is asked.
    pub task: CampaignTask,
    /// What it says to the person who does it.
    pub text: Text,
    /// Quantity to measure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<Tag>,
    /// A reading that reaches this grounds the model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -1_000_000.0, maximum = 1_000_000.0)]
    pub limit: Option<f64>,
    /// Unit of the limit; a reading in another unit is no answer to it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Text>,
    /// On which side of the limit a reading has reached it; absent: at or above.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub direction: Option<Direction>,
    /// Last day for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by_on: Option<NaiveDate>,
    /// Flights of the model, counted from the opening day, within which it must be done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub within_flights: Option<u32>,
    /// It must be done before the first flight after this day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before_next_flight_after_on: Option<NaiveDate>,
    /// Batch to fit instead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replace_with_batch: Option<Tag>,
}

/// A part looked at for an action of a campaign that asks for an inspection. Measuring is answered by a reading,
/// replacing by the part's leaving its position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CampaignWork {
    /// Id made by the client (UUIDv7).
    pub id: CampaignWorkId,
    /// The campaign.
    pub campaign: CampaignId,
    /// Number of its action.
    pub action: u32,
    /// The part that was looked at.
    pub component: ComponentId,
    /// When.
    pub occurred_at: Instant,
    /// What came of it: a fail grounds the model that carries the part, a restrict restricts it.
    pub result: CheckResult,
    /// Who did it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub done_by: Option<MemberId>,
    /// What was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// The closing of a campaign: from then on it limits nothing and keeps no part out of a position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CampaignClosure {
    /// Id made by the client (UUIDv7).
    pub id: CampaignClosureId,
    /// The campaign.
    pub campaign: CampaignId,
    /// When.
    pub occurred_at: Instant,
    /// Parts on which something was still open, each with the reason why that is let stand.
    #[serde(default)]
    pub waived: Vec<Waiver>,
    /// What came of the campaign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Text>,
    /// Who closed it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed_by: Option<MemberId>,
}

/// A part on which a campaign is closed with something still open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Waiver {
    /// The part.
    pub component: ComponentId,
    /// Why that is let stand.
    pub reason: Text,
}
