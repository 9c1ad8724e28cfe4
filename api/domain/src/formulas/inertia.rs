//! Moments and products of inertia about the CG from a mass list. Mass and CG themselves live in `balance`, principal
//! axes in `principal`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;
use super::balance::{BalanceError, MassAndCg, PointItem, balance};
use super::swap::{MassChange, SwapError, change_mass};

/// g·mm² in one kg·m².
const G_MM2_PER_KG_M2: f64 = 1e9;

/// Moments and products of inertia about the axes through the CG, kg·m².
///
/// A product is Σm·a·b, positive where mass lies on the same side of both axes; in the tensor it stands with a minus.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Inertia {
    /// About the x axis (roll).
    pub roll_kg_m2: f64,
    /// About the y axis (pitch).
    pub pitch_kg_m2: f64,
    /// About the z axis (yaw).
    pub yaw_kg_m2: f64,
    /// Product Σm·x·y; 0 for a model that is the same left and right.
    pub product_xy_kg_m2: f64,
    /// Product Σm·x·z; tilts the axis about which the model rolls freely.
    pub product_xz_kg_m2: f64,
    /// Product Σm·y·z; 0 for a model that is the same left and right.
    pub product_yz_kg_m2: f64,
}

/// Change of each moment in per cent of what it was before; `None` where it was zero before.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct InertiaChange {
    /// Roll, per cent.
    pub roll_percent: Option<f64>,
    /// Pitch, per cent.
    pub pitch_percent: Option<f64>,
    /// Yaw, per cent.
    pub yaw_percent: Option<f64>,
}

/// Moments and products of inertia of a mass list about its own CG, kg·m².
///
/// Each row is a point, plus what its own spread brings: with span b along y and length l along x it counts as a thin
/// plate, m·b²/12 for roll, m·l²/12 for pitch, m·(b² + l²)/12 for yaw. A long boom without its own length leaves pitch
/// and yaw too low. Own spread adds nothing to the products.
///
/// # Errors
/// As [`balance`].
///
/// # Source
/// Parallel-axis theorem, slender rod and thin plate (textbook mechanics).
///
/// ```
/// use preen_domain::formulas::{balance::PointItem, inertia::inertia};
/// let tip = |y_mm| PointItem { mass_g: 100.0, y_mm, ..PointItem::default() };
/// let about = inertia(&[tip(-1000.0), tip(1000.0)])?;
/// assert_eq!((about.roll_kg_m2, about.pitch_kg_m2, about.yaw_kg_m2), (0.2, 0.0, 0.2));
/// let boom = inertia(&[PointItem { mass_g: 120.0, own_length_mm: 1000.0, ..PointItem::default() }])?;
/// assert_eq!((boom.roll_kg_m2, boom.pitch_kg_m2, boom.yaw_kg_m2), (0.0, 0.01, 0.01));
/// # Ok::<(), preen_domain::formulas::balance::BalanceError>(())
/// ```
pub fn inertia(items: &[PointItem]) -> Result<Inertia, BalanceError> {
    let cg = balance(items)?;
    about(&cg, items.iter().copied())
}

/// Moments and products of inertia of a mass list after changes, about the CG it has then, kg·m². Changes are points;
/// a part taken off is a negative change at its place.
///
/// # Errors
/// As [`change_mass`] for the changes and [`balance`] for the list.
///
/// # Source
/// As [`inertia`].
///
/// ```
/// use preen_domain::formulas::{balance::PointItem, inertia::{inertia, inertia_after}, swap::MassChange};
/// let tip = |y_mm| PointItem { mass_g: 100.0, y_mm, ..PointItem::default() };
/// let off = MassChange { mass_change_g: -100.0, y_mm: 1000.0, ..MassChange::default() };
/// assert_eq!(inertia_after(&[tip(-1000.0), tip(1000.0)], &[off])?, inertia(&[tip(-1000.0)])?);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn inertia_after(items: &[PointItem], changes: &[MassChange]) -> Result<Inertia, InertiaError> {
    let cg = change_mass(&balance(items)?, changes)?.after;
    let points = changes.iter().map(|change| PointItem {
        mass_g: change.mass_change_g,
        x_mm: change.x_mm,
        y_mm: change.y_mm,
        z_mm: change.z_mm,
        ..PointItem::default()
    });
    Ok(about(&cg, items.iter().copied().chain(points))?)
}

/// Why a changed list has no moments of inertia.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum InertiaError {
    /// The list has no balance.
    #[error(transparent)]
    Balance(#[from] BalanceError),
    /// The changes give no new balance.
    #[error(transparent)]
    Swap(#[from] SwapError),
}

fn about(cg: &MassAndCg, points: impl Iterator<Item = PointItem>) -> Result<Inertia, BalanceError> {
    let mut sum = Inertia::default();
    for point in points {
        let (x, y, z) = (point.x_mm - cg.x_mm, point.y_mm - cg.y_mm, point.z_mm - cg.z_mm);
        let (span, length) = (point.own_span_mm.powi(2) / 12.0, point.own_length_mm.powi(2) / 12.0);
        let mass = point.mass_g;
        sum.roll_kg_m2 += mass * (y * y + z * z + span);
        sum.pitch_kg_m2 += mass * (x * x + z * z + length);
        sum.yaw_kg_m2 += mass * (x * x + y * y + span + length);
        sum.product_xy_kg_m2 += mass * x * y;
        sum.product_xz_kg_m2 += mass * x * z;
        sum.product_yz_kg_m2 += mass * y * z;
    }
    // Summed in g·mm², where whole numbers stay exact.
    let sum = Inertia {
        roll_kg_m2: sum.roll_kg_m2 / G_MM2_PER_KG_M2,
        pitch_kg_m2: sum.pitch_kg_m2 / G_MM2_PER_KG_M2,
        yaw_kg_m2: sum.yaw_kg_m2 / G_MM2_PER_KG_M2,
        product_xy_kg_m2: sum.product_xy_kg_m2 / G_MM2_PER_KG_M2,
        product_xz_kg_m2: sum.product_xz_kg_m2 / G_MM2_PER_KG_M2,
        product_yz_kg_m2: sum.product_yz_kg_m2 / G_MM2_PER_KG_M2,
    };
    let moments = [sum.roll_kg_m2, sum.pitch_kg_m2, sum.yaw_kg_m2];
    let products = [sum.product_xy_kg_m2, sum.product_xz_kg_m2, sum.product_yz_kg_m2];
    if all_finite(&moments) && all_finite(&products) { Ok(sum) } else { Err(BalanceError::TooLarge) }
}

/// How much each moment grew (positive) or shrank from `before` to `after`, per cent of `before`.
///
/// ```
/// use preen_domain::formulas::inertia::{Inertia, inertia_change};
/// let before = Inertia { roll_kg_m2: 0.5, pitch_kg_m2: 0.5, ..Inertia::default() };
/// let after = Inertia { roll_kg_m2: 0.5, pitch_kg_m2: 0.625, yaw_kg_m2: 0.6, ..Inertia::default() };
/// let change = inertia_change(&before, &after);
/// assert_eq!((change.roll_percent, change.pitch_percent, change.yaw_percent), (Some(0.0), Some(25.0), None));
/// ```
#[must_use]
pub fn inertia_change(before: &Inertia, after: &Inertia) -> InertiaChange {
    let percent = |from: f64, to: f64| Some((to - from) / from * 100.0).filter(|percent| percent.is_finite());
    InertiaChange {
        roll_percent: percent(before.roll_kg_m2, after.roll_kg_m2),
        pitch_percent: percent(before.pitch_kg_m2, after.pitch_kg_m2),
        yaw_percent: percent(before.yaw_kg_m2, after.yaw_kg_m2),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn own_spread_counts_about_the_axes_across_it_only() {
        let plate =
            PointItem { mass_g: 120.0, own_span_mm: 1000.0, own_length_mm: 500.0, ..PointItem::default() };
        let about = inertia(&[plate]).expect("computable");
        assert_eq!((about.roll_kg_m2, about.pitch_kg_m2), (0.01, 0.0025));
        assert!((about.yaw_kg_m2 - 0.0125).abs() < 1e-15);
    }

    #[test]
    fn products_tell_on_which_side_mass_lies() {
        let at = |x_mm, z_mm| PointItem { mass_g: 500.0, x_mm, z_mm, ..PointItem::default() };
        let tilted = inertia(&[at(-100.0, -10.0), at(100.0, 10.0)]).expect("computable");
        assert!((tilted.product_xz_kg_m2 - 0.001).abs() < 1e-15);
        assert_eq!((tilted.product_xy_kg_m2, tilted.product_yz_kg_m2), (0.0, 0.0));
    }

    #[test]
    fn numbers_without_a_finite_sum_are_refused() {
        let far = |x_mm| PointItem { mass_g: 1.0, x_mm, ..PointItem::default() };
        assert_eq!(inertia(&[far(1e200), far(-1e200)]), Err(BalanceError::TooLarge));
        assert_eq!(inertia(&[]), Err(BalanceError::NoItems));
    }
}
