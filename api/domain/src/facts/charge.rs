//! A charge of a pack.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{ChargeId, ComponentId},
    text::{Tag, Text},
    time::Instant,
};

/// A charge of a pack. Where none is logged, pack checks run by the calendar alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Charge {
    /// Id made by the client (UUIDv7).
    pub id: ChargeId,
    /// Number in the club's own log, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The pack.
    pub component: ComponentId,
    /// When it was full.
    pub occurred_at: Instant,
    /// Charge put in, mAh, where it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0.0, maximum = 100_000.0)]
    pub charged_mah: Option<f64>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}
