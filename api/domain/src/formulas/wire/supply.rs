//! What the servos together ask of their supply: all stalled at once, and at a stated duty. Drop on the way to one
//! servo lives in `drop`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::range::{OutOfRange, within};

/// Part of the supply's peak that should remain unused, per cent. Common practice, no source.
pub const WANTED_MARGIN_PCT: f64 = 25.0;

/// Part of the stall currents that a hard stir of all sticks draws, per cent, where nothing was measured. Common
/// practice, no source: measure the stir current.
pub const USUAL_DUTY_PCT: f64 = 40.0;

/// Most rows of servos taken.
pub const MOST_ROWS: usize = 100;

/// Servos of one kind.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ServoDraw {
    /// How many.
    pub count: u32,
    /// Stall current of each, A.
    pub stall_a: f64,
}

impl ServoDraw {
    /// Refuses a count or a current outside its range.
    pub(crate) fn check(&self) -> Result<(), OutOfRange> {
        within("count", f64::from(self.count), 1.0, 100.0)?;
        within("stall_a", self.stall_a, 0.0, 1000.0)
    }
}

/// What is asked of a supply.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SupplyLoad {
    /// All servos stalled and the steady draw, A.
    pub all_stalled_a: f64,
    /// Whether the supply's peak holds all of that.
    pub holds_all_stalled: bool,
    /// The servos at the duty and the steady draw, A.
    pub demand_a: f64,
    /// What remains of the peak then, per cent of it; negative: overloaded.
    pub margin_pct: f64,
    /// Whether the wanted margin remains; exactly on it counts as enough.
    pub is_enough: bool,
    /// The duty assumed, per cent of the stall currents.
    pub duty_pct: f64,
}

/// Load on a supply: Σ(count·stall)·duty + steady, and the margin (peak − demand)/peak.
///
/// # Errors
/// No servos or more than [`MOST_ROWS`] rows, more than 100 of a kind, currents outside 0 to 1000 A (peak: above 0),
/// a duty or wanted margin outside 0 to 100 %.
///
/// # Source
/// Sum of currents; margin and duty are common practice, no source.
///
/// ```
/// use preen_domain::formulas::wire::supply::{ServoDraw, load_supply};
/// let kind = |count, stall_a| ServoDraw { count, stall_a };
/// let load = load_supply(&[kind(2, 1.8), kind(2, 1.8), kind(2, 0.9)], 0.15, 5.0, 40.0, 25.0)?;
/// assert_eq!(format!("{:.2} {:.2} {:.0} %", load.all_stalled_a, load.demand_a, load.margin_pct), "9.15 3.75 25 %");
/// assert!(load.is_enough && !load.holds_all_stalled);
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn load_supply(
    servos: &[ServoDraw],
    steady_a: f64,
    peak_a: f64,
    duty_pct: f64,
    wanted_margin_pct: f64,
) -> Result<SupplyLoad, OutOfRange> {
    if servos.is_empty() || servos.len() > MOST_ROWS {
        return Err(OutOfRange { input: "servos (rows)", least: 1.0, most: 100.0 });
    }
    for servo in servos {
        servo.check()?;
    }
    within("steady_a", steady_a, 0.0, 1000.0)?;
    within("peak_a", peak_a, 0.001, 1000.0)?;
    within("duty_pct", duty_pct, 0.0, 100.0)?;
    within("wanted_margin_pct", wanted_margin_pct, 0.0, 100.0)?;
    let stalled_a: f64 = servos.iter().map(|servo| f64::from(servo.count) * servo.stall_a).sum();
    let all_stalled_a = stalled_a + steady_a;
    let demand_a = stalled_a * duty_pct / 100.0 + steady_a;
    let margin_pct = 100.0 * (peak_a - demand_a) / peak_a;
    Ok(SupplyLoad {
        all_stalled_a,
        holds_all_stalled: all_stalled_a <= peak_a,
        demand_a,
        margin_pct,
        // Sums of decimal currents carry a hair of rounding; exactly on the margin is enough.
        is_enough: margin_pct >= wanted_margin_pct - 1e-9,
        duty_pct,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const TWO: [ServoDraw; 1] = [ServoDraw { count: 2, stall_a: 2.0 }];

    #[test]
    fn an_overloaded_supply_has_a_negative_margin() {
        let load = load_supply(&TWO, 0.0, 2.0, 100.0, 25.0).expect("computable");
        assert_eq!((load.margin_pct, load.is_enough), (-100.0, false));
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        let refused = |servos: &[ServoDraw], peak, duty| {
            load_supply(servos, 0.0, peak, duty, 25.0).map_err(|why| why.input)
        };
        assert_eq!(refused(&[], 5.0, 40.0), Err("servos (rows)"));
        assert_eq!(refused(&[TWO[0]; 101], 5.0, 40.0), Err("servos (rows)"));
        assert_eq!(refused(&[ServoDraw { count: 0, stall_a: 1.0 }], 5.0, 40.0), Err("count"));
        assert_eq!(refused(&TWO, 0.0, 40.0), Err("peak_a"));
        assert_eq!(refused(&TWO, 5.0, 101.0), Err("duty_pct"));
    }
}
