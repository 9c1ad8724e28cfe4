//! A correction: a new fact that takes the place of one that was recorded wrongly, and says why.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::Noun;
use crate::{ids::CorrectionId, text::Text};

/// A correction. It names the original, never another correction; the last one recorded counts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// Id made by the client (UUIDv7).
    pub id: CorrectionId,
    /// Noun of the original.
    pub noun: Noun,
    /// Id of the original.
    pub original: Uuid,
    /// Why.
    pub reason: Text,
    /// True if the original never happened; then there is no `fact`.
    #[serde(default)]
    pub is_void: bool,
    /// The whole corrected fact, with the id of the original.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Object)]
    pub fact: Option<serde_json::Value>,
}
