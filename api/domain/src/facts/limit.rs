//! A limit of the club: it takes the place of the programme's limits for its quantity and positions.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Limit;
use crate::{
    ids::LimitId,
    text::{Tag, Text},
};

/// A limit of the club, versioned. To relax one needs an inspector or safety officer, and always a reason.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClubLimit {
    /// Id made by the client (UUIDv7).
    pub id: LimitId,
    /// Short name.
    pub tag: Tag,
    /// The quantity, the positions it holds for and the numbers.
    pub limit: Limit,
    /// Why it differs from the programme, or from the version before.
    pub reason: Text,
}
