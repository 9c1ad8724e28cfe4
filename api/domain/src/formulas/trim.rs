//! Weight at a place that brings a CG where it is wanted: nose or tail weight, the tip weight that levels a wing,
//! the load a station takes before a limit is met. Ballast in tubes is another subject and not here.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;

/// Why no trim weight can be given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TrimError {
    /// The mass is zero or negative, or a number is not finite.
    #[error("the mass must be above zero and all numbers finite")]
    BadInput,
    /// The weight would sit at the wanted CG and move nothing.
    #[error("weight at the wanted CG moves nothing; choose another place")]
    PlaceAtTarget,
    /// Taking weight off at this place would have to take off the whole mass or more.
    #[error("no weight at this place brings the CG there; choose a place on the other side of the wanted CG")]
    OutOfReach,
    /// The CG lies beyond the limit already.
    #[error("the CG is beyond the limit already; nothing may be added here")]
    BeyondLimit,
}

/// Mass that has to sit at `place_mm` so that the CG moves from `cg_mm` to `target_mm`:
/// m = M·(target − cg)/(place − target), grams.
///
/// Positive: add; negative: that much has to come off at the place. `mass_g` is the mass before. Works along any
/// one axis: nose or tail weight along x, a tip weight that levels the wing along y with target 0.
///
/// # Errors
/// No mass, numbers that are not finite, a place at the target, a target no weight at this place reaches.
///
/// # Source
/// FAA-H-8083-1B ch. 7 (ballast).
///
/// ```
/// use preen_domain::formulas::trim::trim_weight_g;
/// let nose_g = trim_weight_g(1204.4, 97.9172, 96.5156, -335.0)?;
/// assert_eq!(format!("{nose_g:.2}"), "3.91");
/// # Ok::<(), preen_domain::formulas::trim::TrimError>(())
/// ```
pub fn trim_weight_g(mass_g: f64, cg_mm: f64, target_mm: f64, place_mm: f64) -> Result<f64, TrimError> {
    if mass_g <= 0.0 || !all_finite(&[mass_g, cg_mm, target_mm, place_mm]) {
        return Err(TrimError::BadInput);
    }
    if cg_mm == target_mm {
        return Ok(0.0);
    }
    if place_mm == target_mm {
        return Err(TrimError::PlaceAtTarget);
    }
    let weight_g = mass_g * (target_mm - cg_mm) / (place_mm - target_mm);
    if !weight_g.is_finite() || mass_g + weight_g <= 0.0 {
        return Err(TrimError::OutOfReach);
    }
    Ok(weight_g)
}

/// Which end of the permitted CG range a limit is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LimitSide {
    /// The CG must not lie in front of it.
    Front,
    /// The CG must not lie behind it.
    Rear,
}

/// How much a station takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Addable {
    /// At most this much, grams.
    UpToG(f64),
    /// Any mass: this station never moves the CG over this limit.
    Unlimited,
}

/// Largest mass that may be added at `station_mm` before the CG meets `limit_mm`: M·(limit − cg)/(station − limit).
///
/// Units g and mm, x aft positive.
///
/// # Errors
/// No mass, numbers that are not finite, a CG beyond the limit already.
///
/// # Source
/// FAA-H-8083-1B ch. 7 (ballast), solved for a limit.
///
/// ```
/// use preen_domain::formulas::trim::{Addable, LimitSide, mass_to_limit};
/// let Addable::UpToG(mass) = mass_to_limit(2900.0, 115.0, 116.0, LimitSide::Rear, 130.0)? else { panic!() };
/// assert_eq!(format!("{mass:.1}"), "207.1");
/// # Ok::<(), preen_domain::formulas::trim::TrimError>(())
/// ```
pub fn mass_to_limit(
    mass_g: f64,
    cg_mm: f64,
    limit_mm: f64,
    side: LimitSide,
    station_mm: f64,
) -> Result<Addable, TrimError> {
    if mass_g <= 0.0 || !all_finite(&[mass_g, cg_mm, limit_mm, station_mm]) {
        return Err(TrimError::BadInput);
    }
    let sign = match side {
        LimitSide::Front => -1.0,
        LimitSide::Rear => 1.0,
    };
    let room_mm = sign * (limit_mm - cg_mm);
    let beyond_mm = sign * (station_mm - limit_mm);
    if room_mm < 0.0 {
        return Err(TrimError::BeyondLimit);
    }
    if beyond_mm <= 0.0 {
        return Ok(Addable::Unlimited);
    }
    let most_g = mass_g * room_mm / beyond_mm;
    Ok(if most_g.is_finite() { Addable::UpToG(most_g) } else { Addable::Unlimited })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_that_cannot_trim_are_refused() {
        assert_eq!(trim_weight_g(0.0, 1.0, 2.0, 3.0), Err(TrimError::BadInput));
        assert_eq!(trim_weight_g(1.0, 1.0, 2.0, f64::NAN), Err(TrimError::BadInput));
        assert_eq!(trim_weight_g(100.0, 1.0, 2.0, 2.0), Err(TrimError::PlaceAtTarget));
        // Target behind the CG and the place between them: even taking all of it off would not do.
        assert_eq!(trim_weight_g(100.0, 0.0, 10.0, 5.0), Err(TrimError::OutOfReach));
        assert_eq!(trim_weight_g(100.0, 2.0, 2.0, 2.0), Ok(0.0));
    }

    #[test]
    fn weight_comes_off_when_the_place_is_on_the_wrong_side() {
        assert_eq!(trim_weight_g(100.0, 10.0, 12.0, -8.0), Ok(-10.0));
    }

    #[test]
    fn a_limit_holds_from_its_own_side_only() {
        let to = |limit_mm, side, station_mm| mass_to_limit(100.0, 96.0, limit_mm, side, station_mm);
        assert_eq!(to(99.0, LimitSide::Rear, 129.0), Ok(Addable::UpToG(10.0)));
        assert_eq!(to(92.0, LimitSide::Front, 52.0), Ok(Addable::UpToG(10.0)));
        assert_eq!(to(99.0, LimitSide::Rear, 99.0), Ok(Addable::Unlimited));
        assert_eq!(to(95.0, LimitSide::Rear, 129.0), Err(TrimError::BeyondLimit));
        assert_eq!(to(97.0, LimitSide::Front, 52.0), Err(TrimError::BeyondLimit));
        assert_eq!(mass_to_limit(0.0, 1.0, 2.0, LimitSide::Rear, 3.0), Err(TrimError::BadInput));
    }
}
