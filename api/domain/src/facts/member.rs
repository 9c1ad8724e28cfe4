//! A member of the club: the only place where a person's name is kept.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::MemberId,
    text::{Tag, Text},
    words::{Role, Subscription},
};

/// A member of the club.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Member {
    /// Id made by the client (UUIDv7).
    pub id: MemberId,
    /// Initials or another short code, shown everywhere instead of the name.
    pub tag: Tag,
    /// The person's name, if they want it kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<Text>,
    /// What the member may do; `visitor` is the least.
    #[schema(min_items = 1)]
    pub roles: Vec<Role>,
    /// Whether the subscription is paid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub subscription: Option<Subscription>,
}
