//! A member of the club: the only place where a person's name is kept.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::MemberId,
    text::{Tag, Text},
    words::{PermissionKind, Role, Subscription},
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
    /// What the member may do by papers that end on a day. No numbers of such papers are kept.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub permissions: Vec<Permission>,
}

/// A paper of a member that ends on a day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Permission {
    /// What it permits.
    pub kind: PermissionKind,
    /// Last day on which it holds.
    pub until_on: NaiveDate,
}
