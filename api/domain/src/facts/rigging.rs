//! Assembling a model at the field; each cycle wears joiners and connectors.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{ModelId, RiggingId},
    text::{Tag, Text},
    time::Instant,
};

/// One or more assemblies of a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Rigging {
    /// Id made by the client (UUIDv7).
    pub id: RiggingId,
    /// Number in the club's own log, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The model.
    pub model: ModelId,
    /// When.
    pub occurred_at: Instant,
    /// Assemblies, 1 or more.
    #[schema(minimum = 1, maximum = 100)]
    pub cycles: u32,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}
