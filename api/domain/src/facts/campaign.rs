//! A fleet-wide action over all parts of a type and batch in a kind of position.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{CampaignId, MemberId, PartId},
    text::{Tag, Text},
    time::Instant,
    words::CampaignTask,
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
    /// A reading at or above this grounds the model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -1_000_000.0, maximum = 1_000_000.0)]
    pub limit: Option<f64>,
    /// Unit of the limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Text>,
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
