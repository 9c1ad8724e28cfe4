//! Counted slugs: ballast and nose weights of one stamped mass.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{DesignId, SlugId},
    text::Tag,
    words::SlugUse,
};

/// Slugs of one stamped mass. A change of the count is a new version.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Slug {
    /// Id made by the client (UUIDv7).
    pub id: SlugId,
    /// What is stamped on them.
    pub tag: Tag,
    /// Mass of one, g.
    #[schema(minimum = 0.01, maximum = 5000.0)]
    pub mass_g: f64,
    /// How many there are.
    #[schema(minimum = 0, maximum = 10_000)]
    pub count: u32,
    /// What they are for.
    pub purpose: SlugUse,
    /// The design they fit; absent: any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub design: Option<DesignId>,
}
