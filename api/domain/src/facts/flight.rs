//! A flight, or a hand-launch session with several launches.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    ids::{FlightId, MemberId, ModelId},
    text::{Tag, Text},
    time::Instant,
    words::Landing,
};

/// A flight; for a hand-launch session one row with its launches.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Flight {
    /// Id made by the client (UUIDv7).
    pub id: FlightId,
    /// Number in the club's own log, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// The model flown.
    pub model: ModelId,
    /// Who flew it.
    pub pilot: MemberId,
    /// Start of the flight.
    pub occurred_at: Instant,
    /// Launches in this row, 1 or more.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 500)]
    pub launches: u32,
    /// Time in the air, min.
    #[schema(minimum = 0.0, maximum = 1440.0)]
    pub airtime_min: f64,
    /// Motor time, s.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 86_400)]
    pub motor_s: u32,
    /// Whether the landing flap was used.
    #[serde(default)]
    pub is_landing_flap_used: bool,
    /// How the pilot graded the landing.
    pub landing: Landing,
    /// Whether the after-flight check was made and logged.
    pub is_post_flight_logged: bool,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

const fn one() -> u32 {
    1
}
