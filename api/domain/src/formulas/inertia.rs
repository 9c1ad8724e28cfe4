//! Moments of inertia about the CG from a mass list. Mass and CG themselves live in `balance`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;
use super::balance::{BalanceError, MassAndCg, PointItem, balance};
use super::swap::{MassChange, SwapError, change_mass};

/// g·mm² in one kg·m².
const G_MM2_PER_KG_M2: f64 = 1e9;

/// Moments of inertia about the axes through the CG, kg·m².
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Inertia {
    /// About the x axis (roll).
    pub roll_kg_m2: f64,
    /// About the y axis (pitch).
    pub pitch_kg_m2: f64,
    /// About the z axis (yaw).
    pub yaw_kg_m2: f64,
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

/// Moments of inertia of a mass list about its own CG, kg·m².
///
/// Each row is a point, plus m·b²/12 of its own span b for roll and yaw (a slender rod along y). Own length along x
/// is not counted: a long boom should be split into rows, else pitch and yaw come out low.
///
/// # Errors
/// As [`balance`].
///
/// # Source
/// Parallel-axis theorem, slender rod (textbook mechanics).
///
/// ```
/// use preen_domain::formulas::{balance::PointItem, inertia::inertia};
/// let tip = |y_mm| PointItem { mass_g: 100.0, y_mm, ..PointItem::default() };
/// let about = inertia(&[tip(-1000.0), tip(1000.0)])?;
/// assert_eq!((about.roll_kg_m2, about.pitch_kg_m2, about.yaw_kg_m2), (0.2, 0.0, 0.2));
/// # Ok::<(), preen_domain::formulas::balance::BalanceError>(())
/// ```
pub fn inertia(items: &[PointItem]) -> Result<Inertia, BalanceError> {
    let cg = balance(items)?;
    about(&cg, items.iter().copied())
}

/// Moments of inertia of a mass list after changes, about the CG it has then, kg·m². Changes are points; a part taken
/// off is a negative change at its place.
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
        own_span_mm: 0.0,
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
    let (mut roll, mut pitch, mut yaw) = (0.0, 0.0, 0.0);
    for point in points {
        let x2 = (point.x_mm - cg.x_mm).powi(2);
        let y2 = (point.y_mm - cg.y_mm).powi(2);
        let z2 = (point.z_mm - cg.z_mm).powi(2);
        let own = point.own_span_mm.powi(2) / 12.0;
        roll += point.mass_g * (y2 + z2 + own);
        pitch += point.mass_g * (x2 + z2);
        yaw += point.mass_g * (x2 + y2 + own);
    }
    if !all_finite(&[roll, pitch, yaw]) {
        return Err(BalanceError::TooLarge);
    }
    Ok(Inertia {
        roll_kg_m2: roll / G_MM2_PER_KG_M2,
        pitch_kg_m2: pitch / G_MM2_PER_KG_M2,
        yaw_kg_m2: yaw / G_MM2_PER_KG_M2,
    })
}

/// How much each moment grew (positive) or shrank from `before` to `after`, per cent of `before`.
///
/// ```
/// use preen_domain::formulas::inertia::{Inertia, inertia_change};
/// let before = Inertia { roll_kg_m2: 0.5, pitch_kg_m2: 0.5, yaw_kg_m2: 0.0 };
/// let after = Inertia { roll_kg_m2: 0.5, pitch_kg_m2: 0.625, yaw_kg_m2: 0.6 };
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
    fn own_span_counts_for_roll_and_yaw_only() {
        let rod = PointItem { mass_g: 120.0, own_span_mm: 1000.0, ..PointItem::default() };
        let about = inertia(&[rod]).expect("computable");
        assert_eq!((about.roll_kg_m2, about.pitch_kg_m2, about.yaw_kg_m2), (0.01, 0.0, 0.01));
    }

    #[test]
    fn numbers_without_a_finite_sum_are_refused() {
        let far = |x_mm| PointItem { mass_g: 1.0, x_mm, ..PointItem::default() };
        assert_eq!(inertia(&[far(1e200), far(-1e200)]), Err(BalanceError::TooLarge));
        assert_eq!(inertia(&[]), Err(BalanceError::NoItems));
    }
}
