//! A model aircraft of the fleet.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{DesignId, MemberId, ModelId},
    text::{Tag, Text},
    words::Ownership,
};

/// A model aircraft.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Model {
    /// Id made by the client (UUIDv7).
    pub id: ModelId,
    /// Code read by eye on the model.
    pub tag: Tag,
    /// What it is built to.
    pub design: DesignId,
    /// Who it belongs to; absent for a club model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub owner: Option<MemberId>,
    /// Kind of ownership.
    pub ownership: Ownership,
    /// Day of its first flight; no flight may be logged before it.
    pub first_flight_on: NaiveDate,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}
