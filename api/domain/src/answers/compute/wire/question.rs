//! What may be asked about wires, contacts and supply. How it is answered lives beside it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::class::ClassLimits;
use crate::formulas::wire::choose::Stranding;
use crate::formulas::wire::drop::Running;
use crate::formulas::wire::supply::ServoDraw;

/// What is asked about wires, contacts and supply; at least one part.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WireQuestion {
    /// A lead under load: what it drops.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead: Option<LeadQuestion>,
    /// A limit: the smallest gauge that keeps it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub choose: Option<ChooseQuestion>,
    /// Servos on a supply: what remains of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supply: Option<SupplyQuestion>,
    /// Readings of the contacts of one connector.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contacts: Option<ContactsQuestion>,
    /// A crimp: what a sample must hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub crimp: Option<CrimpQuestion>,
    /// Slack of a lead: how often it can be terminated again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slack: Option<SlackQuestion>,
}

/// A lead under load. Its wire is given by gauge, by area or by its measured resistance: one of the three.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LeadQuestion {
    /// Length one way, m.
    pub length_m: f64,
    /// Current, A.
    pub current_a: f64,
    /// Gauge; −3 is 4/0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub awg: Option<i32>,
    /// Copper area, mm².
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area_mm2: Option<f64>,
    /// Measured resistance of one conductor, mΩ for each metre, at its temperature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mohm_per_m: Option<f64>,
    /// By copper area (`solid`) or by the tables for stranded wire (`stranded`); `solid` if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wire: Option<Stranding>,
    /// Temperature of the wire, °C; 20 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// Contact pairs in the way, each with one contact out and one back.
    #[serde(default)]
    pub contact_pairs: u32,
    /// Resistance of each contact, mΩ; needed where there are pairs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contact_mohm: Option<f64>,
    /// Voltage of the supply, V; asks for what the consumer gets.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supply_v: Option<f64>,
    /// Standard uncertainty (1u) of the length, m.
    #[serde(default)]
    pub u_length_m: f64,
    /// Standard uncertainty (1u) of the current, A.
    #[serde(default)]
    pub u_current_a: f64,
    /// Standard uncertainty (1u) of each contact's resistance, mΩ.
    #[serde(default)]
    pub u_contact_mohm: f64,
    /// Standard uncertainty (1u) of the wire's resistance, mΩ for each metre.
    #[serde(default)]
    pub u_mohm_per_m: f64,
}

/// What a wire must carry, and the limit of its drop: one's own, or the published one of a nominal voltage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChooseQuestion {
    /// Length one way, m.
    pub length_m: f64,
    /// Current, A.
    pub current_a: f64,
    /// Drop permitted, V.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max_drop_v: Option<f64>,
    /// Nominal voltage of a full-size system (14, 28, 115, 200), whose published limit is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nominal_v: Option<u32>,
    /// How long the current flows, for the published limit; `continuous` if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running: Option<Running>,
    /// Contact pairs in the way.
    #[serde(default)]
    pub contact_pairs: u32,
    /// Resistance of each contact, mΩ; needed where there are pairs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contact_mohm: Option<f64>,
    /// Whether the structure carries the current back, so that only one conductor counts.
    #[serde(default)]
    pub is_return_by_structure: bool,
    /// What gauges may be chosen from; `solid` (every gauge) if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wire: Option<Stranding>,
    /// Temperature of the wire, °C; 20 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
}

/// Servos on a supply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SupplyQuestion {
    /// The servos, by kind.
    pub servos: Vec<ServoDraw>,
    /// What the rest draws steadily, A.
    #[serde(default)]
    pub steady_a: f64,
    /// What the supply gives at its peak, A.
    pub peak_a: f64,
    /// Duty assumed, per cent of the stall currents; 40 if neither this nor `stir_a` is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub duty_pct: Option<f64>,
    /// Measured draw while all sticks are stirred, the steady draw included, A. Give this or `duty_pct`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stir_a: Option<f64>,
    /// Part of the peak that should remain, per cent; 25 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wanted_margin_pct: Option<f64>,
}

/// Readings of one connector.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ContactsQuestion {
    /// Resistance of each contact, mΩ, four wires at 1 A.
    pub contacts_mohm: Vec<f64>,
    /// The club's own limits, mΩ.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits_mohm: Option<ClassLimits>,
}

/// A crimp.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CrimpQuestion {
    /// Gauge.
    pub awg: i32,
    /// Force at which a sample came off, N; without it only the limit is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pulled_n: Option<f64>,
}

/// Slack of a lead at its connector.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SlackQuestion {
    /// Slack left, mm.
    pub slack_mm: f64,
    /// What must remain, mm; 10 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept_mm: Option<f64>,
    /// What each re-termination takes, mm; 7 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_mm: Option<f64>,
    /// Loose contacts in stock; asks for how many connector halves they make.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contacts_in_stock: Option<u32>,
    /// Ways of the connector, for that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ways: Option<u32>,
}
