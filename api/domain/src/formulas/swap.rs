//! What changes to a known mass and CG do: parts on, parts off, parts replaced by heavier or lighter ones. The
//! weight that restores a CG lives in `trim`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;
use super::balance::MassAndCg;

/// Unweighed moves of the CG that add up to this much, mm, call for a new weighing. Common practice, no source.
pub const RE_WEIGH_AT_MM: f64 = 1.0;

/// A change of mass at a place: new part minus old part, or a part fitted (positive) or taken off (negative).
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MassChange {
    /// Mass added (positive) or taken away (negative), grams.
    pub mass_change_g: f64,
    /// Place aft of the datum, mm.
    pub x_mm: f64,
    /// Place right of the centreline, mm.
    #[serde(default)]
    pub y_mm: f64,
    /// Place above the datum, mm.
    #[serde(default)]
    pub z_mm: f64,
}

/// Mass and CG after the changes, and how far they moved.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Changed {
    /// Mass and CG after all changes.
    pub after: MassAndCg,
    /// Mass after minus mass before, grams.
    pub mass_change_g: f64,
    /// CG move along x, mm, aft positive.
    pub x_change_mm: f64,
    /// CG move along y, mm, to the right positive.
    pub y_change_mm: f64,
    /// CG move along z, mm, up positive.
    pub z_change_mm: f64,
}

/// Why changes give no new balance. Changes are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SwapError {
    /// The mass before is zero, negative, or a number is not finite.
    #[error("the mass before the changes must be above zero and all its numbers finite")]
    BadBase,
    /// A change holds a number that is not finite.
    #[error("change {change} holds a number that is not finite")]
    NotFinite {
        /// Change, from 1.
        change: usize,
    },
    /// More mass is taken off than there is.
    #[error("the changes take off more mass than there is; check their signs")]
    NothingLeft,
    /// The numbers are too large for the result to be finite.
    #[error("the numbers are too large to add up; check the units (grams and millimetres)")]
    TooLarge,
}

/// Mass and CG after changes: M′ = M + ΣΔm, x′ = (M·x + ΣΔmᵢ·xᵢ)/M′, y and z alike.
///
/// Units g and mm, aft, right and up positive; masses on are positive, masses off negative.
///
/// # Errors
/// A base without mass, numbers that are not finite, changes that leave no mass.
///
/// # Source
/// Law of the lever, FAA-H-8083-1B ch. 2.
///
/// ```
/// use preen_domain::formulas::balance::MassAndCg;
/// use preen_domain::formulas::swap::{MassChange, change_mass};
/// let base = MassAndCg { mass_g: 1202.5, x_mm: 96.5156, ..MassAndCg::default() };
/// let heavier_servo = MassChange { mass_change_g: 8.1 - 6.2, x_mm: 985.0, ..MassChange::default() };
/// let changed = change_mass(&base, &[heavier_servo])?;
/// assert_eq!(format!("{:.2} {:+.2}", changed.after.x_mm, changed.x_change_mm), "97.92 +1.40");
/// # Ok::<(), preen_domain::formulas::swap::SwapError>(())
/// ```
pub fn change_mass(base: &MassAndCg, changes: &[MassChange]) -> Result<Changed, SwapError> {
    if base.mass_g <= 0.0 || !base.is_finite() {
        return Err(SwapError::BadBase);
    }
    for (index, change) in changes.iter().enumerate() {
        if !all_finite(&[change.mass_change_g, change.x_mm, change.y_mm, change.z_mm]) {
            return Err(SwapError::NotFinite { change: index + 1 });
        }
    }
    let mass_change_g: f64 = changes.iter().map(|change| change.mass_change_g).sum();
    let mass_g = base.mass_g + mass_change_g;
    if mass_g <= 0.0 {
        return Err(SwapError::NothingLeft);
    }
    // Moments about the old CG: the move comes out without the rounding of two nearly equal large moments.
    let moved = |from_mm: f64, place: fn(&MassChange) -> f64| {
        changes.iter().map(|change| change.mass_change_g * (place(change) - from_mm)).sum::<f64>() / mass_g
    };
    let x_change_mm = moved(base.x_mm, |change| change.x_mm);
    let y_change_mm = moved(base.y_mm, |change| change.y_mm);
    let z_change_mm = moved(base.z_mm, |change| change.z_mm);
    let after = MassAndCg {
        mass_g,
        x_mm: base.x_mm + x_change_mm,
        y_mm: base.y_mm + y_change_mm,
        z_mm: base.z_mm + z_change_mm,
    };
    if after.is_finite() {
        Ok(Changed { after, mass_change_g, x_change_mm, y_change_mm, z_change_mm })
    } else {
        Err(SwapError::TooLarge)
    }
}

/// What changes that nobody weighed add up to, and whether the model should be weighed again.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct UnweighedMoves {
    /// Where the CG ends up against where it was weighed, mm, aft positive.
    pub net_x_mm: f64,
    /// The moves of all places added up by size, mm: moves that cancel each other still are not weighed.
    pub total_x_mm: f64,
    /// Whether the total has reached [`RE_WEIGH_AT_MM`].
    pub should_weigh: bool,
}

/// Adds up unweighed changes: those at one place count as one (new part less old part), each place by the size of the
/// move it brings alone, Δm·(x − x₀)/M with the mass M after all of them.
///
/// # Errors
/// As [`change_mass`].
///
/// # Source
/// Common practice, no source: weigh again once small moves add up to a millimetre.
///
/// ```
/// use preen_domain::formulas::balance::MassAndCg;
/// use preen_domain::formulas::swap::{MassChange, unweighed_moves};
/// let base = MassAndCg { mass_g: 1000.0, x_mm: 100.0, ..MassAndCg::default() };
/// let change = |mass_change_g, x_mm| MassChange { mass_change_g, x_mm, ..MassChange::default() };
/// let moves = unweighed_moves(&base, &[change(1.0, 700.0), change(1.0, -500.0), change(-2.0, 100.0)])?;
/// assert_eq!((moves.net_x_mm, moves.total_x_mm, moves.should_weigh), (0.0, 1.2, true));
/// # Ok::<(), preen_domain::formulas::swap::SwapError>(())
/// ```
pub fn unweighed_moves(base: &MassAndCg, changes: &[MassChange]) -> Result<UnweighedMoves, SwapError> {
    let changed = change_mass(base, changes)?;
    let mut by_place: Vec<(f64, f64, f64, f64)> = Vec::new();
    for change in changes {
        let place = (change.x_mm, change.y_mm, change.z_mm);
        match by_place.iter_mut().find(|(x, y, z, _)| (*x, *y, *z) == place) {
            Some((_, _, _, mass_g)) => *mass_g += change.mass_change_g,
            None => by_place.push((place.0, place.1, place.2, change.mass_change_g)),
        }
    }
    let size = |(x_mm, _, _, mass_g): &(f64, f64, f64, f64)| (mass_g * (x_mm - base.x_mm)).abs();
    let total_x_mm = by_place.iter().map(size).sum::<f64>() / changed.after.mass_g;
    if !total_x_mm.is_finite() {
        return Err(SwapError::TooLarge);
    }
    Ok(UnweighedMoves {
        net_x_mm: changed.x_change_mm,
        total_x_mm,
        should_weigh: total_x_mm >= RE_WEIGH_AT_MM,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_change_moves_nothing() {
        let base = MassAndCg { mass_g: 10.0, x_mm: 3.0, y_mm: 2.0, z_mm: 1.0 };
        let changed = change_mass(&base, &[]).expect("computable");
        assert_eq!((changed.after, changed.x_change_mm), (base, 0.0));
    }

    #[test]
    fn what_cannot_be_changed_is_refused() {
        let base = MassAndCg { mass_g: 10.0, x_mm: 3.0, ..MassAndCg::default() };
        let change = |mass_change_g, x_mm| MassChange { mass_change_g, x_mm, ..MassChange::default() };
        assert_eq!(change_mass(&MassAndCg::default(), &[]), Err(SwapError::BadBase));
        assert_eq!(change_mass(&base, &[change(-10.0, 0.0)]), Err(SwapError::NothingLeft));
        assert_eq!(
            change_mass(&base, &[change(1.0, 0.0), change(f64::NAN, 0.0)]),
            Err(SwapError::NotFinite { change: 2 })
        );
        assert_eq!(change_mass(&base, &[change(1e200, 1e200)]), Err(SwapError::TooLarge));
    }
}
