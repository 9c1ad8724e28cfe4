//! A contest, and the entries of the club's pilots.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{ComponentId, ContestId, EntryId, MemberId, ModelId},
    text::{Tag, Text},
    time::Instant,
    words::{EntryState, PermissionKind},
};

/// A contest that pilots of the club go to. What becomes known later is a new version.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Contest {
    /// Id made by the client (UUIDv7).
    pub id: ContestId,
    /// Short name.
    pub tag: Tag,
    /// Name for people.
    pub title: Text,
    /// Where it is flown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<Text>,
    /// The class flown, by its tag: one of the club's own, or one that comes along.
    pub class: Tag,
    /// By when everything has to be ready.
    pub check_in_at: Instant,
    /// First day of flying.
    pub first_on: NaiveDate,
    /// Last day of flying.
    pub last_on: NaiveDate,
    /// Rounds that are flown at least.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 200)]
    pub rounds_min: Option<u32>,
    /// Preliminary rounds that may be flown at most.
    #[schema(minimum = 0, maximum = 100)]
    pub prelim_rounds_max: u32,
    /// Fly-off rounds that may be flown at most.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 100)]
    pub flyoff_rounds_max: u32,
    /// Flights in a round, 1 or more.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 100)]
    pub flights_per_round: u32,
    /// Flights that each entry still wants to train before the first round.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 500)]
    pub training_flights: u32,
    /// Permissions that every pilot has to hold through the last day.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub permissions: Vec<PermissionKind>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

impl Contest {
    /// Flights of one entry if every round is flown.
    #[must_use]
    pub const fn flights_max(&self) -> u32 {
        self.prelim_rounds_max.saturating_add(self.flyoff_rounds_max).saturating_mul(self.flights_per_round)
    }
}

/// A pilot's entry to a contest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Id made by the client (UUIDv7).
    pub id: EntryId,
    /// Number, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The contest.
    pub contest: ContestId,
    /// Who flies.
    pub pilot: MemberId,
    /// The model that is flown first.
    pub model: ModelId,
    /// Models taken along in reserve.
    #[serde(default)]
    #[schema(max_items = 10)]
    pub reserves: Vec<ModelId>,
    /// Loose parts claimed for this entry: spare panels, packs, joiners.
    #[serde(default)]
    #[schema(max_items = 200)]
    pub parts: Vec<ComponentId>,
    /// Whether it stands.
    pub state: EntryState,
    /// Identification marks on its models, as they are read there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub marks: Option<Text>,
    /// Height of these marks, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1.0, maximum = 500.0)]
    pub mark_height_mm: Option<f64>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

impl Entry {
    /// Its models, the one flown first ahead.
    pub fn models(&self) -> impl Iterator<Item = ModelId> + '_ {
        std::iter::once(self.model).chain(self.reserves.iter().copied())
    }
}

const fn one() -> u32 {
    1
}
