//! A defect, the restriction it may be flown with, and its closing without a repair.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Subject;
use crate::{
    ids::{ClosureId, DefectId, MeasurementId, MemberId, ModelId},
    text::{Tag, Text},
    time::Instant,
    words::{ClosureKind, DefectCause, RestrictionKind, Severity},
};

/// A defect. It follows the part it sits on, from model to model and onto the bench.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Defect {
    /// Id made by the client (UUIDv7).
    pub id: DefectId,
    /// Number in the club's own record, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The model on which it was found.
    pub model: ModelId,
    /// What it sits on: the model itself or one part.
    pub subject: Subject,
    /// Where on it, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<Text>,
    /// When it was found.
    pub occurred_at: Instant,
    /// Its class.
    pub severity: Severity,
    /// What is wrong.
    pub text: Text,
    /// The restriction under which it may be flown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub restriction: Option<Restriction>,
    /// More restrictions beside it; all of them hold.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub restrictions: Vec<Restriction>,
    /// Last day before its class rises by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fix_by_on: Option<NaiveDate>,
    /// What is behind it, as far as somebody can tell. Some causes always ground.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cause: Option<DefectCause>,
    /// Why it came, or came back: what a new part alone does not mend.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cause_note: Option<Text>,
    /// Who found it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found_by: Option<MemberId>,
}

impl Defect {
    /// Everything under which it may be flown, as stated with it.
    pub fn stated(&self) -> impl Iterator<Item = &Restriction> {
        self.restriction.iter().chain(&self.restrictions)
    }
}

/// A restriction in a form that the service can apply.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Restriction {
    /// What is restricted.
    pub kind: RestrictionKind,
    /// The number that goes with it: flights, launches, or m/s of wind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0.0, maximum = 1000.0)]
    pub value: Option<f64>,
    /// The day that goes with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until_on: Option<NaiveDate>,
}

/// The closing of a defect without a repair. A repair closes its defect by its release.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Closure {
    /// Id made by the client (UUIDv7).
    pub id: ClosureId,
    /// The defect.
    pub defect: DefectId,
    /// When.
    pub occurred_at: Instant,
    /// On what ground.
    pub kind: ClosureKind,
    /// What was seen.
    pub text: Text,
    /// The fresh reading that shows it, where it was found wrong. Left out: any reading since it was found.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measurement: Option<MeasurementId>,
    /// Who closed it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed_by: Option<MemberId>,
}
