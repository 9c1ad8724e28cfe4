//! What happened to a model besides flying, checking and mending: transport, lay-up, sale, loss, radio change.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{EventId, ModelId},
    text::{Tag, Text},
    time::Instant,
    words::EventKind,
};

/// Something that happened to a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// Id made by the client (UUIDv7).
    pub id: EventId,
    /// Number in the club's own log, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The model.
    pub model: ModelId,
    /// What happened.
    pub kind: EventKind,
    /// When.
    pub occurred_at: Instant,
    /// How, where to, by whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}
