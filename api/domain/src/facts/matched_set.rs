//! Parts that belong together, and the accepted fit of one of them outside its set.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{ComponentId, MatchedSetId, MemberId, PairingId},
    text::{Tag, Text},
    time::Instant,
};

/// Parts that belong together, such as a joiner and the two panels it was sanded to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MatchedSet {
    /// Id made by the client (UUIDv7).
    pub id: MatchedSetId,
    /// Short name of the set.
    pub tag: Tag,
    /// The part that was fitted to the others.
    pub component: ComponentId,
    /// The parts it belongs with.
    #[schema(min_items = 1)]
    pub mates: Vec<ComponentId>,
    /// Where the marks are and what they read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub marks: Option<Text>,
    /// Which way round and up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub orientation: Option<Text>,
}

/// A recorded fit check of a part outside its set, and its acceptance. It ends when one of the parts comes off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Pairing {
    /// Id made by the client (UUIDv7).
    pub id: PairingId,
    /// The part that was fitted to others than its own.
    pub component: ComponentId,
    /// The parts it was tried with.
    #[schema(min_items = 1)]
    pub mates: Vec<ComponentId>,
    /// When it was accepted.
    pub occurred_at: Instant,
    /// Clearance found, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0.0, maximum = 10.0)]
    pub clearance_mm: Option<f64>,
    /// Who accepted it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accepted_by: Option<MemberId>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}
