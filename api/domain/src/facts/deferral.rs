//! A deferral: the terms on which a model may be flown with a defect, and until when. Its extension is one, too.
//! Whether a defect can be deferred at all, and by whom, is a matter of the rules.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Restriction;
use crate::{
    ids::{DefectId, DeferralId, MemberId},
    text::{Tag, Text},
    time::Instant,
};

/// A defect put off. The first one that counts may be the restriction that was recorded with the defect itself;
/// the one after it is an extension, and there is no other.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Deferral {
    /// Id made by the client (UUIDv7).
    pub id: DeferralId,
    /// Number in the club's own record, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The defect.
    pub defect: DefectId,
    /// From when its terms hold, in the place of earlier ones. Flights are counted from here.
    pub occurred_at: Instant,
    /// Restrictions under which it may be flown. All of them hold. A defect of class restrict needs one at least.
    #[serde(default)]
    pub restrictions: Vec<Restriction>,
    /// Last day before its class rises by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fix_by_on: Option<NaiveDate>,
    /// Flights before its class rises by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 1000)]
    pub within_flights: Option<u32>,
    /// Why it can wait.
    pub reason: Text,
    /// Who signs for it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deferred_by: Option<MemberId>,
}
