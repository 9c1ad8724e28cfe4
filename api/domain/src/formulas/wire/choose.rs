//! The smallest wire that keeps a drop within its limit. The drop itself lives in `drop`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::gauge::{THICKEST_AWG, THINNEST_AWG, awg_area_mm2, copper_mohm_per_m};
use super::stranded::{TINNED_STRANDED, WireResistance, WireSource, stranded_awg};
use crate::formulas::range::{OutOfRange, within};

/// What gauges may be chosen from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Stranding {
    /// Solid wire, or stranded wire taken by its copper area: every gauge.
    Solid,
    /// Tin-plated stranded wire: the even gauges 4 to 24 of the published table.
    Stranded,
}

/// What a wire must carry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    /// Length one way, m.
    pub length_m: f64,
    /// Current, A.
    pub current_a: f64,
    /// Drop permitted in all, V.
    pub max_drop_v: f64,
    /// What the contacts take of it, V.
    pub contacts_v: f64,
    /// Conductors the current passes: 2 out and back, 1 where the structure carries it back.
    pub conductors: u32,
    /// Temperature of the conductor, °C.
    pub temperature_c: f64,
}

/// The smallest wire within the limit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ChosenGauge {
    /// Gauge; −3 is 4/0.
    pub awg: i32,
    /// Its resistance, mΩ for each metre, at the temperature asked for.
    pub mohm_per_m: f64,
    /// The resistance at which the limit would be reached, mΩ for each metre.
    pub limit_mohm_per_m: f64,
    /// The drop with it, contacts included, V.
    pub drop_v: f64,
    /// Where its resistance comes from.
    pub source: WireSource,
}

/// Why there is no wire.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ChooseError {
    /// An input outside its range.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
    /// The contacts alone reach the limit.
    #[error(
        "the contacts alone drop {0:.3} V, so no wire keeps the limit; renew the contacts or shorten the way"
    )]
    ContactsAlone(f64),
    /// No gauge is thick enough.
    #[error("no gauge is thick enough; shorten the lead, lower the current or permit a larger drop")]
    NoneThickEnough,
}

/// The thinnest gauge whose drop does not pass the limit: R′ ≤ (U_max − U_contacts)/(k·l·I), k conductors.
///
/// # Errors
/// Inputs outside their ranges, contacts that take the whole limit, no gauge thick enough.
///
/// # Source
/// FAA AC 43.13-1B, para 11-66c (method).
///
/// ```
/// use preen_domain::formulas::wire::choose::{Demand, Stranding, smallest_gauge};
/// // AC 43.13-1B, example 1: 28 V, 1 V permitted, 50 ft, 20 A, structure as return.
/// let demand = Demand { length_m: 15.24, current_a: 20.0, max_drop_v: 1.0, contacts_v: 0.0, conductors: 1,
///     temperature_c: 20.0 };
/// assert_eq!(smallest_gauge(&demand, Stranding::Stranded).map(|gauge| gauge.awg), Ok(8));
/// ```
pub fn smallest_gauge(demand: &Demand, stranding: Stranding) -> Result<ChosenGauge, ChooseError> {
    within("length_m", demand.length_m, 0.001, 1000.0)?;
    within("current_a", demand.current_a, 0.001, 1000.0)?;
    within("max_drop_v", demand.max_drop_v, 0.001, 1000.0)?;
    within("contacts_v", demand.contacts_v, 0.0, 1e5)?;
    within("conductors", f64::from(demand.conductors), 1.0, 2.0)?;
    let left_v = demand.max_drop_v - demand.contacts_v;
    if left_v <= 0.0 {
        return Err(ChooseError::ContactsAlone(demand.contacts_v));
    }
    let metres = f64::from(demand.conductors) * demand.length_m;
    let limit_mohm_per_m = 1000.0 * left_v / (metres * demand.current_a);
    for awg in thinnest_first(stranding) {
        let wire = match stranding {
            Stranding::Solid => WireResistance {
                mohm_per_m: copper_mohm_per_m(awg_area_mm2(awg)?, demand.temperature_c)?,
                source: WireSource::CopperArea,
            },
            Stranding::Stranded => stranded_awg(awg, demand.temperature_c)?,
        };
        // A hair of rounding must not make a wire one size thicker.
        if wire.mohm_per_m <= limit_mohm_per_m * (1.0 + 1e-12) {
            let drop_v = demand.contacts_v + demand.current_a * metres * wire.mohm_per_m / 1000.0;
            let WireResistance { mohm_per_m, source } = wire;
            return Ok(ChosenGauge { awg, mohm_per_m, limit_mohm_per_m, drop_v, source });
        }
    }
    Err(ChooseError::NoneThickEnough)
}

fn thinnest_first(stranding: Stranding) -> Vec<i32> {
    match stranding {
        Stranding::Solid => (THICKEST_AWG..=THINNEST_AWG).rev().collect(),
        Stranding::Stranded => TINNED_STRANDED.iter().map(|(awg, ..)| *awg).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMAND: Demand = Demand {
        length_m: 1.35,
        current_a: 1.8,
        max_drop_v: 0.3,
        contacts_v: 0.054,
        conductors: 2,
        temperature_c: 20.0,
    };

    #[test]
    fn the_next_thinner_gauge_would_pass_the_limit() {
        let chosen = smallest_gauge(&DEMAND, Stranding::Solid).expect("a gauge");
        assert_eq!(chosen.awg, 21);
        assert!(chosen.drop_v <= 0.3);
        let thinner = copper_mohm_per_m(awg_area_mm2(22).expect("a gauge"), 20.0).expect("a resistance");
        assert!(thinner > chosen.limit_mohm_per_m);
    }

    #[test]
    fn where_there_is_no_wire_the_reason_is_named() {
        let refused = |demand: &Demand| smallest_gauge(demand, Stranding::Stranded).unwrap_err();
        assert_eq!(refused(&Demand { contacts_v: 0.3, ..DEMAND }), ChooseError::ContactsAlone(0.3));
        let far = Demand { length_m: 1000.0, current_a: 100.0, ..DEMAND };
        assert_eq!(refused(&far), ChooseError::NoneThickEnough);
        let short = Demand { length_m: 0.0, ..DEMAND };
        assert!(matches!(refused(&short), ChooseError::OutOfRange(why) if why.input == "length_m"));
        let many = Demand { conductors: 3, ..DEMAND };
        assert!(matches!(refused(&many), ChooseError::OutOfRange(why) if why.input == "conductors"));
    }
}
