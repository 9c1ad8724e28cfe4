//! A contest class as dated data: its limits with their units, how the area is taken, edition, source, and who
//! confirmed that this is the edition in force.
//!
//! Whether a model keeps the limits is answered by [`crate::answers::class_check`]; the profiles that come along are in
//! [`crate::classes`].

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    formulas::planform::AreaDefinition,
    ids::{ClassId, MemberId},
    text::{Tag, Text},
    words::ClassQuantity,
};

/// A contest class. Rules change from edition to edition: a change is a new version, and nothing is called confirmed
/// before a person of the club has compared the limits with the edition in force.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassProfile {
    /// Id made by the client (UUIDv7).
    pub id: ClassId,
    /// Short name of the class, such as `F5J`. A contest names it so.
    pub tag: Tag,
    /// Name for people.
    pub title: Text,
    /// Which edition of the rules the limits were taken from.
    pub edition: Text,
    /// Where they were read.
    pub source: Text,
    /// From which day that edition is in force, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_force_on: Option<NaiveDate>,
    /// Which surfaces make up the area of limits and loading.
    pub area: AreaDefinition,
    /// The limits.
    #[schema(max_items = 40)]
    pub limits: Vec<ClassLimit>,
    /// Measuring tolerance that the checks allow on each limit, %. It is a choice: 0 checks against the bare limits.
    #[serde(default)]
    #[schema(minimum = 0.0, maximum = 5.0)]
    pub measuring_tolerance_pct: f64,
    /// Who compared the limits with the edition in force; absent: nobody yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confirmed_by: Option<MemberId>,
    /// The day of that comparison.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confirmed_on: Option<NaiveDate>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// One limit of a class; a value at the limit keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassLimit {
    /// What is limited; the word carries the unit.
    pub quantity: ClassQuantity,
    /// Not less than this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0.0, maximum = 1_000_000.0)]
    pub min: Option<f64>,
    /// Not more than this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0.0, maximum = 1_000_000.0)]
    pub max: Option<f64>,
    /// Where this limit was read, where that differs from the rest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Text>,
}

impl ClassProfile {
    /// Whether a person has said that this is the edition in force.
    #[must_use]
    pub const fn is_confirmed(&self) -> bool {
        self.confirmed_by.is_some() && self.confirmed_on.is_some()
    }

    /// The limit of a quantity.
    #[must_use]
    pub fn limit(&self, quantity: ClassQuantity) -> Option<&ClassLimit> {
        self.limits.iter().find(|limit| limit.quantity == quantity)
    }
}
