//! An individual part, and the changes of its kept state. Where it sits is derived from installations.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{ComponentId, ConditionId, DesignId, PartId},
    text::{Tag, Text},
    time::Instant,
    words::ComponentState,
};

/// An individual part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Component {
    /// Id made by the client (UUIDv7).
    pub id: ComponentId,
    /// Code read by eye on the part.
    pub tag: Tag,
    /// Its type.
    pub part: PartId,
    /// Production batch, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<Tag>,
    /// The maker's serial number, where it is not the tag.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<Tag>,
    /// Seat code of a panel or fuselage: which positions it fits, and which positions lie inside it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seat: Option<Tag>,
    /// Design of a panel or fuselage, which says where its positions are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub design: Option<DesignId>,
    /// Weighed mass without the parts that sit inside it, g.
    #[schema(minimum = 0.0, maximum = 20_000.0)]
    pub mass_g: f64,
    /// Day it was acquired.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acquired_on: Option<NaiveDate>,
    /// State in which it enters the record.
    pub state: ComponentState,
    /// Shelf, bench or case it is kept in when it is not fitted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub location: Option<Text>,
    /// Life before the record began.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opening: Option<OpeningUsage>,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// Usage of a used part before its record began; stated, not counted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OpeningUsage {
    /// Flights.
    pub flights: u32,
    /// Launches.
    pub launches: u32,
    /// Time in the air, h.
    #[schema(minimum = 0.0, maximum = 100_000.0)]
    pub airtime_h: f64,
    /// Motor time, s.
    pub motor_s: u32,
    /// Rigging cycles.
    pub riggings: u32,
    /// Whether the figures are a guess ("about 150 flights, unsure").
    pub is_estimate: bool,
}

/// A change of a component's kept state or shelf.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Condition {
    /// Id made by the client (UUIDv7).
    pub id: ConditionId,
    /// The component.
    pub component: ComponentId,
    /// When it changed.
    pub occurred_at: Instant,
    /// State from then on.
    pub state: ComponentState,
    /// Shelf, bench or case from then on; absent: unchanged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub location: Option<Text>,
    /// Why.
    pub reason: Text,
}
