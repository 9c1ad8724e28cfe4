//! What is answered about a pack. How it is computed lives beside it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::pack::capacity::{CapacityLeft, Launches};
use crate::formulas::pack::carriage::CarriageJudged;
use crate::formulas::pack::resistance::PackResistance;
use crate::formulas::pack::rest::RestDrop;
use crate::formulas::pack::sag::Sag;
use crate::words::Severity;

/// What was asked, computed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PackAnswer {
    /// Resistance.
    pub resistance: Option<PackResistance>,
    /// Voltage under load.
    pub sag: Option<SagAnswer>,
    /// Capacity.
    pub capacity: Option<CapacityAnswer>,
    /// Launches.
    pub launch: Option<LaunchesAnswer>,
    /// Rest.
    pub rest: Option<RestDrop>,
    /// Carriage.
    pub carriage: Option<CarriageAnswer>,
    /// The worst class of all parts; absent: better than all limits.
    pub class: Option<Severity>,
    /// What to mind while doing it.
    pub cautions: Vec<String>,
    /// How it was computed.
    pub method: String,
}

/// Voltage under load, cold and at 25 °C.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SagAnswer {
    /// At the temperature of the reading.
    pub as_measured: Sag,
    /// At 25 °C.
    pub at_25: Sag,
}

/// Capacity against rated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CapacityAnswer {
    /// Per cent of rated and class.
    pub left: CapacityLeft,
    /// Standard uncertainty (1u) of the per cent.
    pub u_of_rated_pct: f64,
}

/// Launches for each charge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LaunchesAnswer {
    /// What is used and how often it is there.
    pub charge: Launches,
    /// Standard uncertainty (1u) of the fraction, from that of the capacity.
    pub u_exact: f64,
    /// What stays in the pack, per cent.
    pub reserve_pct: f64,
}

/// Watt-hours and limits of carriers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CarriageAnswer {
    /// Energy of the pack, Wh.
    pub pack_wh: f64,
    /// Limits known, dated and with their sources.
    pub limits: Vec<CarriageJudged>,
}
