//! What is answered about wires, contacts and supply. How it is computed lives beside it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::wire::choose::ChosenGauge;
use crate::formulas::wire::contact::{CrimpLimit, WorstContact};
use crate::formulas::wire::drop::Drop;
use crate::formulas::wire::slack::SlackLeft;
use crate::formulas::wire::stranded::WireSource;
use crate::formulas::wire::supply::SupplyLoad;
use crate::words::Severity;

/// What was asked, computed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WireAnswer {
    /// The lead.
    pub lead: Option<LeadAnswer>,
    /// The smallest gauge.
    pub choose: Option<ChosenGauge>,
    /// The supply.
    pub supply: Option<SupplyAnswer>,
    /// The worst contact.
    pub contacts: Option<WorstContact>,
    /// The crimp.
    pub crimp: Option<CrimpAnswer>,
    /// The slack.
    pub slack: Option<SlackAnswer>,
    /// The worst class of all parts; absent: better than all limits.
    pub class: Option<Severity>,
    /// What to mind while doing it.
    pub cautions: Vec<String>,
    /// How it was computed.
    pub method: String,
}

/// A lead under load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LeadAnswer {
    /// Resistance of the wire, mΩ for each metre, at its temperature.
    pub mohm_per_m: f64,
    /// Where that comes from.
    pub source: WireSource,
    /// What is lost on the way.
    pub lost: Drop,
    /// What the consumer gets, V; absent without a supply.
    pub at_load_v: Option<f64>,
}

/// Where a duty comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DutySource {
    /// From a measured stir.
    Measured,
    /// Given by the asker.
    Given,
    /// The usual one, since nothing was measured.
    Assumed,
}

/// A supply and what remains of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SupplyAnswer {
    /// The load.
    pub load: SupplyLoad,
    /// Where the duty comes from.
    pub duty_from: DutySource,
    /// Part that should remain, per cent.
    pub wanted_margin_pct: f64,
    /// Class: restrict where less remains; absent otherwise.
    pub class: Option<Severity>,
}

/// A crimp and what it must hold.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CrimpAnswer {
    /// The limit and its source.
    pub limit: CrimpLimit,
    /// Force of the sample, N; absent where none was pulled.
    pub pulled_n: Option<f64>,
    /// Class of the sample; absent where it held or none was pulled.
    pub class: Option<Severity>,
}

/// Slack and what it allows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SlackAnswer {
    /// Re-terminations left.
    pub left: SlackLeft,
    /// Connector halves that the contacts in stock make; absent where not asked.
    pub halves_from_stock: Option<u32>,
}
