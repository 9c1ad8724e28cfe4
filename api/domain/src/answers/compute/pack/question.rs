//! What may be asked about a pack. How it is answered lives beside it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::class::ClassLimits;
use crate::formulas::pack::capacity::LaunchDraw;

/// What is asked about a pack; at least one part.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PackQuestion {
    /// Resistance of the cells.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resistance: Option<ResistanceQuestion>,
    /// Voltage under load; needs the resistance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sag: Option<SagQuestion>,
    /// Capacity against rated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity: Option<CapacityQuestion>,
    /// Launches for each charge; needs the capacity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub launch: Option<LaunchQuestion>,
    /// Drop at rest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rest: Option<RestQuestion>,
    /// Watt-hours and limits of carriers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub carriage: Option<CarriageQuestion>,
}

/// Resistance of the cells.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ResistanceQuestion {
    /// Reading of each cell, mΩ.
    pub cells_mohm: Vec<f64>,
    /// Temperature of the cells at the reading, °C.
    pub temperature_c: f64,
    /// The same cells as new, at 25 °C, mΩ: one for each, or none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub new_mohm: Vec<f64>,
    /// Standard uncertainty (1u) of each reading, mΩ.
    #[serde(default)]
    pub u_mohm: f64,
    /// Standard uncertainty (1u) of the temperature, K.
    #[serde(default)]
    pub u_temperature_k: f64,
    /// The club's own limits of the ratio to new.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits: Option<ClassLimits>,
}

/// A load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SagQuestion {
    /// Current, A.
    pub current_a: f64,
    /// Voltage of each cell without load, V.
    pub open_v: f64,
}

/// Capacity.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CapacityQuestion {
    /// Measured, mAh.
    pub measured_mah: f64,
    /// Rated, mAh.
    pub rated_mah: f64,
    /// Standard uncertainty (1u) of the measured capacity, mAh.
    #[serde(default)]
    pub u_measured_mah: f64,
    /// The club's own limits, per cent of rated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits_pct: Option<ClassLimits>,
}

/// What each launch takes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LaunchQuestion {
    /// Motor and the rest.
    pub draw: LaunchDraw,
    /// What stays in the pack, per cent; 20 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reserve_pct: Option<f64>,
}

/// Drop at rest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RestQuestion {
    /// Drop of each cell, mV.
    pub drops_mv: Vec<f64>,
    /// Over how many days; 30 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub days: Option<f64>,
    /// The club's own limits of the drop beyond the median cell's, mV.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits_mv: Option<ClassLimits>,
}

/// A pack that is to travel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CarriageQuestion {
    /// Cells in series.
    pub cells: u32,
    /// Rated capacity, mAh.
    pub rated_mah: f64,
    /// Nominal voltage of the pack, V; 3.7 for each cell if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nominal_v: Option<f64>,
    /// State of charge, per cent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub charge_pct: Option<f64>,
}
