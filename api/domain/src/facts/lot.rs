//! Consumables of one lot: what is left and until when it may be used.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::LotId,
    text::{Tag, Text},
};

/// A lot of consumables. A change of what is left is a new version.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Lot {
    /// Id made by the client (UUIDv7).
    pub id: LotId,
    /// Lot number as printed on it.
    pub tag: Tag,
    /// What it is.
    pub item: Text,
    /// Day it was opened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opened_on: Option<NaiveDate>,
    /// Last day it may be used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub use_by_on: Option<NaiveDate>,
    /// What is left, in `unit`.
    #[schema(minimum = 0.0, maximum = 1_000_000.0)]
    pub quantity: f64,
    /// Unit of the quantity.
    pub unit: Text,
}
