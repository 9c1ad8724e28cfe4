//! Mass and centre of gravity of a list of point items. Weighing on scales lives in `weighing`, changes to a
//! known balance in `swap`, moments of inertia in `inertia`, the weight that moves a CG in `trim`.
//!
//! Axes everywhere in these files: x mm aft of the datum (wing root leading edge on the centreline), y mm to the
//! right, z mm up; masses in grams.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;

/// One row of a mass list: a mass, its place, and how far the mass itself spreads.
///
/// `own_span_mm` and `own_length_mm` matter for [`super::inertia`] alone; 0 is a point.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PointItem {
    /// Mass in grams, not negative.
    pub mass_g: f64,
    /// Place aft of the datum, mm.
    pub x_mm: f64,
    /// Place to the right of the centreline, mm.
    #[serde(default)]
    pub y_mm: f64,
    /// Height above the datum, mm.
    #[serde(default)]
    pub z_mm: f64,
    /// Spread of the item's own mass along y, mm, not negative; 0 for a point.
    #[serde(default)]
    pub own_span_mm: f64,
    /// Spread of the item's own mass along x, mm, not negative; 0 for a point. A long boom has one.
    #[serde(default)]
    pub own_length_mm: f64,
}

/// A mass and the place of its centre of gravity.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MassAndCg {
    /// Mass in grams.
    pub mass_g: f64,
    /// CG aft of the datum, mm.
    pub x_mm: f64,
    /// CG to the right of the centreline, mm.
    #[serde(default)]
    pub y_mm: f64,
    /// CG above the datum, mm.
    #[serde(default)]
    pub z_mm: f64,
}

/// Why a mass list has no balance. Rows are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BalanceError {
    /// The list is empty.
    #[error("the mass list is empty; give at least one item")]
    NoItems,
    /// A number of a row is infinite or not a number.
    #[error("row {row} of the mass list holds a number that is not finite")]
    NotFinite {
        /// Row, from 1.
        row: usize,
    },
    /// A listed mass is negative.
    #[error(
        "row {row} of the mass list has a negative mass; give a part taken off as a change, not as an item"
    )]
    NegativeMass {
        /// Row, from 1.
        row: usize,
    },
    /// An own span or length is negative.
    #[error("row {row} of the mass list has a negative own span or length; give 0 for a point")]
    NegativeSpan {
        /// Row, from 1.
        row: usize,
    },
    /// All masses are zero, so there is no CG.
    #[error("the masses add up to zero, so there is no CG; give at least one mass above zero")]
    NoMass,
    /// The numbers are too large for the sums to be finite.
    #[error("the numbers are too large to add up; check the units (grams and millimetres)")]
    TooLarge,
}

/// Mass and CG of a list: M = Σm, x = Σ(m·x)/M, and y and z alike.
///
/// Units g and mm, signs as at the top of this file.
///
/// # Errors
/// An empty list, a number that is not finite, a negative mass or span, masses that add up to zero.
///
/// # Source
/// Law of the lever, FAA-H-8083-1B ch. 2.
///
/// ```
/// use preen_domain::formulas::balance::{PointItem, balance};
/// let item = |mass_g, x_mm| PointItem { mass_g, x_mm, ..PointItem::default() };
/// let sum = balance(&[item(100.0, 50.0), item(100.0, 90.0), item(200.0, 150.0)])?;
/// assert_eq!((sum.mass_g, sum.x_mm), (400.0, 110.0));
/// # Ok::<(), preen_domain::formulas::balance::BalanceError>(())
/// ```
pub fn balance(items: &[PointItem]) -> Result<MassAndCg, BalanceError> {
    check_items(items)?;
    let mass_g: f64 = items.iter().map(|item| item.mass_g).sum();
    if mass_g <= 0.0 {
        return Err(BalanceError::NoMass);
    }
    let arm = |place: fn(&PointItem) -> f64| {
        items.iter().map(|item| item.mass_g * place(item)).sum::<f64>() / mass_g
    };
    let sum = MassAndCg {
        mass_g,
        x_mm: arm(|item| item.x_mm),
        y_mm: arm(|item| item.y_mm),
        z_mm: arm(|item| item.z_mm),
    };
    if sum.is_finite() { Ok(sum) } else { Err(BalanceError::TooLarge) }
}

fn check_items(items: &[PointItem]) -> Result<(), BalanceError> {
    if items.is_empty() {
        return Err(BalanceError::NoItems);
    }
    for (index, item) in items.iter().enumerate() {
        let row = index + 1;
        if !all_finite(&[item.mass_g, item.x_mm, item.y_mm, item.z_mm, item.own_span_mm, item.own_length_mm])
        {
            return Err(BalanceError::NotFinite { row });
        }
        if item.mass_g < 0.0 {
            return Err(BalanceError::NegativeMass { row });
        }
        if item.own_span_mm < 0.0 || item.own_length_mm < 0.0 {
            return Err(BalanceError::NegativeSpan { row });
        }
    }
    Ok(())
}

impl MassAndCg {
    /// True when all four numbers are finite.
    pub(crate) fn is_finite(&self) -> bool {
        all_finite(&[self.mass_g, self.x_mm, self.y_mm, self.z_mm])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn item(mass_g: f64, x_mm: f64) -> PointItem {
        PointItem { mass_g, x_mm, ..PointItem::default() }
    }

    #[test]
    fn what_has_no_balance_is_refused_with_its_row() {
        let check = |items: &[PointItem], expected| assert_eq!(balance(items), Err(expected));
        check(&[], BalanceError::NoItems);
        check(&[item(0.0, 1.0), item(0.0, 2.0)], BalanceError::NoMass);
        check(&[item(1.0, 1.0), item(-1.0, 2.0)], BalanceError::NegativeMass { row: 2 });
        check(&[item(1.0, f64::NAN)], BalanceError::NotFinite { row: 1 });
        check(&[PointItem { own_span_mm: -1.0, ..item(1.0, 0.0) }], BalanceError::NegativeSpan { row: 1 });
        check(&[item(1e300, 1e300)], BalanceError::TooLarge);
    }
}
