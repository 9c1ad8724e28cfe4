//! Capacity against rated, and how many launches one charge holds. What a pack loses at rest lives in `rest`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::class::ClassLimits;
use crate::formulas::range::{OutOfRange, within};
use crate::words::Severity;

/// Capacity in per cent of rated: starting values of a club, common practice, no source.
pub const CAPACITY_LIMITS_PCT: ClassLimits = ClassLimits::new(85.0, 80.0, 70.0);

/// Part of the capacity that stays in the pack, per cent. Common practice, no source.
pub const USUAL_RESERVE_PCT: f64 = 20.0;

/// Launches counted at most.
pub const MOST_LAUNCHES: u32 = 1000;

/// Capacity against rated.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CapacityLeft {
    /// Per cent of rated.
    pub of_rated_pct: f64,
    /// Class of that; absent: better than all limits.
    pub class: Option<Severity>,
}

/// Measured capacity in per cent of rated, and its class.
///
/// # Errors
/// Capacities outside 1 to 1e6 mAh.
///
/// ```
/// use preen_domain::formulas::pack::capacity::{CAPACITY_LIMITS_PCT, capacity_left};
/// use preen_domain::words::Severity;
/// let left = capacity_left(742.0, 900.0, &CAPACITY_LIMITS_PCT)?;
/// assert_eq!((format!("{:.1}", left.of_rated_pct), left.class), ("82.4".to_owned(), Some(Severity::Watch)));
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn capacity_left(
    measured_mah: f64,
    rated_mah: f64,
    limits: &ClassLimits,
) -> Result<CapacityLeft, OutOfRange> {
    within("measured_mah", measured_mah, 1.0, 1e6)?;
    within("rated_mah", rated_mah, 1.0, 1e6)?;
    let of_rated_pct = 100.0 * measured_mah / rated_mah;
    Ok(CapacityLeft { of_rated_pct, class: limits.falling(of_rated_pct) })
}

/// What one launch takes of a pack.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LaunchDraw {
    /// Motor run, s.
    pub motor_s: f64,
    /// Motor current in it, A.
    pub motor_a: f64,
    /// What receiver and servos take in one flight from the same pack, mAh.
    #[serde(default)]
    pub avionics_mah: f64,
}

/// Launches one charge holds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Launches {
    /// What may be used, mAh.
    pub usable_mah: f64,
    /// What the motor takes each time, mAh.
    pub motor_mah: f64,
    /// What each launch takes in all, mAh.
    pub each_mah: f64,
    /// Usable over each, a fraction.
    pub exact: f64,
    /// Whole launches: the fraction cut off, never rounded up; counted to 1000 at most.
    pub launches: u32,
}

/// Launches for each charge: ⌊C·(1 − reserve)/(I·t/3.6 + avionics)⌋, mAh, A, s. Never rounded up.
///
/// # Errors
/// A capacity outside 1 to 1e6 mAh, a reserve outside 0 to 99 %, a run outside 0 to 3600 s, a current outside 0 to
/// 1000 A, avionics outside 0 to 1e6 mAh, a launch that takes less than 0.01 mAh.
///
/// ```
/// use preen_domain::formulas::pack::capacity::{LaunchDraw, launches};
/// let each = LaunchDraw { motor_s: 30.0, motor_a: 32.0, avionics_mah: 70.0 };
/// let charge = launches(742.0, 20.0, &each)?;
/// assert_eq!(format!("{:.0} {:.0} {:.2} -> {}", charge.usable_mah, charge.motor_mah, charge.exact, charge.launches),
///     "594 267 1.76 -> 1");
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn launches(capacity_mah: f64, reserve_pct: f64, draw: &LaunchDraw) -> Result<Launches, OutOfRange> {
    within("capacity_mah", capacity_mah, 1.0, 1e6)?;
    within("reserve_pct", reserve_pct, 0.0, 99.0)?;
    within("motor_s", draw.motor_s, 0.0, 3600.0)?;
    within("motor_a", draw.motor_a, 0.0, 1000.0)?;
    within("avionics_mah", draw.avionics_mah, 0.0, 1e6)?;
    let usable_mah = capacity_mah * (100.0 - reserve_pct) / 100.0;
    let motor_mah = draw.motor_a * draw.motor_s / 3.6;
    let each_mah = motor_mah + draw.avionics_mah;
    within("motor_a × motor_s and avionics_mah together, mAh,", each_mah, 0.01, 2e6)?;
    let exact = usable_mah / each_mah;
    // The largest whole number not above the fraction; counting needs no conversion.
    let launches = (1..=MOST_LAUNCHES).take_while(|count| f64::from(*count) <= exact).last().unwrap_or(0);
    Ok(Launches { usable_mah, motor_mah, each_mah, exact, launches })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn launches_are_cut_off_never_rounded_up() {
        let count = |usable: f64| {
            let each = LaunchDraw { motor_s: 36.0, motor_a: 10.0, avionics_mah: 0.0 };
            launches(usable, 0.0, &each).map(|charge| charge.launches)
        };
        assert_eq!(count(99.9), Ok(0));
        assert_eq!(count(100.0), Ok(1));
        assert_eq!(count(299.999), Ok(2));
        assert_eq!(count(1e6), Ok(MOST_LAUNCHES));
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        let each = LaunchDraw { motor_s: 30.0, motor_a: 32.0, avionics_mah: 70.0 };
        let refused = |capacity, reserve, draw: &LaunchDraw| {
            launches(capacity, reserve, draw).map_err(|why| why.input).unwrap_err()
        };
        assert_eq!(refused(0.0, 20.0, &each), "capacity_mah");
        assert_eq!(refused(900.0, 100.0, &each), "reserve_pct");
        assert_eq!(refused(900.0, 20.0, &LaunchDraw { motor_s: f64::NAN, ..each }), "motor_s");
        let nothing = LaunchDraw { motor_s: 0.0, motor_a: 0.0, avionics_mah: 0.0 };
        assert!(refused(900.0, 20.0, &nothing).starts_with("motor_a"));
        assert_eq!(
            capacity_left(742.0, 0.0, &CAPACITY_LIMITS_PCT).map_err(|why| why.input),
            Err("rated_mah")
        );
    }
}
