//! The servo arm under its cover: gap at the ends and at the top of its swing, and what helps where there is none —
//! a relief slot, a blister or a thinner sheet. The linkage that swings the arm lives in `linkage`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;

/// Gap between arm and cover that a cover should leave, mm. Common practice, no source.
pub const WANTED_GAP_MM: f64 = 0.3;

/// Longest length taken, mm.
const LONGEST_MM: f64 = 1e4;

/// The swing of the arm: its angles at the ends, deg from the shortest way to the skin.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ArmSwing {
    /// One end.
    pub from_deg: f64,
    /// The other end, not below the first.
    pub to_deg: f64,
}

/// An arm under a cover, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArmUnderCover {
    /// From the servo's axis to the outer face of the skin, at right angles to it.
    pub axis_to_skin_mm: f64,
    /// Thickness of the cover sheet, its outer face flush with the skin.
    pub sheet_mm: f64,
    /// What the arm sweeps: from the axis to the far end of the arm's tip.
    pub swept_mm: f64,
    /// The gap that should remain.
    pub wanted_gap_mm: f64,
    /// How far the arm swings; `None`: over the top and out on both sides.
    pub swing: Option<ArmSwing>,
}

/// A slot in the cover for the arm's tip, along the skin from the foot of the servo's axis, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CoverRelief {
    /// Where it begins, mm; negative on the side of negative angles.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// Its length, mm.
    pub length_mm: f64,
    /// The arm needs it to this angle on either side of the shortest way, deg.
    pub half_swing_deg: f64,
}

/// What lies between an arm and its cover.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CoverFit {
    /// The smallest gap in the whole swing, mm; negative: the arm scrapes.
    pub gap_mm: f64,
    /// Where it is smallest, deg from the shortest way to the skin.
    pub at_deg: f64,
    /// Whether the arm swings over the shortest way, where no look at the ends shows what happens.
    pub is_over_top: bool,
    /// The gap at the first end, mm; absent when the swing is not given.
    pub gap_at_from_mm: Option<f64>,
    /// The gap at the other end, mm.
    pub gap_at_to_mm: Option<f64>,
    /// Whether the wanted gap remains.
    pub is_clear: bool,
    /// The slot that leaves the wanted gap; absent when none is needed.
    pub relief: Option<CoverRelief>,
    /// The bump that leaves the wanted gap, mm above the skin; 0 when none is needed.
    pub blister_mm: f64,
    /// The thickest sheet that leaves the wanted gap without relief, mm; absent when none does.
    pub thickest_sheet_mm: Option<f64>,
}

/// Why a cover cannot be judged.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum CoverError {
    /// A length is not usable.
    #[error("{field} must be a finite number {above} and at most 10000 mm")]
    BadLength {
        /// Which one.
        field: &'static str,
        /// What it must be above.
        above: &'static str,
    },
    /// The swing's ends are not in order or too far out.
    #[error("the swing must run from one angle to one that is not below it, both within -180 to 180°")]
    BadSwing,
    /// There is no room above the axis.
    #[error(
        "sheet and gap together reach down to the servo's axis: the axis must lie deeper under the skin than \
         {needed_mm:.2} mm; check which face the depth was measured from"
    )]
    AxisTooNear {
        /// Sheet and gap together, mm.
        needed_mm: f64,
    },
}

/// Gap between arm and cover: D − t − R·cos φ, smallest where |φ| is smallest in the swing.
///
/// Relief: the arm comes nearer than the wanted gap g for |φ| below arccos((D − t − g)/R); over the whole of it the slot
/// is 2√(R² − (D − t − g)²) long, and shorter where the swing ends earlier. Blister: g less the gap. Thickest sheet:
/// D − g − R·cos φ at the smallest |φ|. Lengths mm, angles deg from the shortest way between axis and skin.
///
/// The ends alone prove nothing: at the ends the tip has swung away from the cover.
///
/// # Errors
/// Lengths that are not above zero (sheet and gap: not below), a swing out of order, an axis above the sheet's gap.
///
/// # Source
/// Geometry of a circle and a chord.
///
/// ```
/// use preen_domain::formulas::cover::{ArmUnderCover, fit_cover};
/// // A 3-4-5 triangle: 5 swept, sheet and gap leave 4, so the slot is 2·3 = 6 mm.
/// let cover = ArmUnderCover { axis_to_skin_mm: 5.5, sheet_mm: 1.0, swept_mm: 5.0, wanted_gap_mm: 0.5, swing: None };
/// let fit = fit_cover(&cover)?;
/// assert_eq!((fit.gap_mm, fit.blister_mm), (-0.5, 1.0));
/// assert_eq!(fit.relief.map(|relief| relief.length_mm), Some(6.0));
/// assert_eq!(fit.thickest_sheet_mm, None);
/// # Ok::<(), preen_domain::formulas::cover::CoverError>(())
/// ```
pub fn fit_cover(cover: &ArmUnderCover) -> Result<CoverFit, CoverError> {
    check(cover)?;
    let room_mm = cover.axis_to_skin_mm - cover.sheet_mm;
    let gap_at = |deg: f64| room_mm - cover.swept_mm * deg.to_radians().cos();
    let (from_deg, to_deg) = cover.swing.map_or((-90.0, 90.0), |swing| (swing.from_deg, swing.to_deg));
    let at_deg = 0.0_f64.clamp(from_deg, to_deg);
    let gap_mm = gap_at(at_deg);
    let is_clear = gap_mm >= cover.wanted_gap_mm - 1e-9;
    let thickest = cover.axis_to_skin_mm - cover.wanted_gap_mm - cover.swept_mm * at_deg.to_radians().cos();
    Ok(CoverFit {
        gap_mm,
        at_deg,
        is_over_top: from_deg < 0.0 && to_deg > 0.0,
        gap_at_from_mm: cover.swing.map(|swing| gap_at(swing.from_deg)),
        gap_at_to_mm: cover.swing.map(|swing| gap_at(swing.to_deg)),
        is_clear,
        relief: if is_clear { None } else { Some(relief(cover, room_mm, from_deg, to_deg)) },
        blister_mm: if is_clear { 0.0 } else { cover.wanted_gap_mm - gap_mm },
        thickest_sheet_mm: (thickest > 0.0).then_some(thickest),
    })
}

fn relief(cover: &ArmUnderCover, room_mm: f64, from_deg: f64, to_deg: f64) -> CoverRelief {
    let free_mm = room_mm - cover.wanted_gap_mm;
    let half_swing_deg = (free_mm / cover.swept_mm).min(1.0).acos().to_degrees();
    // The root keeps its digits where the sine of an arccosine would not.
    let half_mm = (cover.swept_mm * cover.swept_mm - free_mm * free_mm).max(0.0).sqrt();
    let along = |deg: f64| {
        if deg.abs() >= half_swing_deg {
            half_mm.copysign(deg)
        } else {
            cover.swept_mm * deg.to_radians().sin()
        }
    };
    let (from_mm, to_mm) = (along(from_deg), along(to_deg));
    CoverRelief { from_mm, to_mm, length_mm: to_mm - from_mm, half_swing_deg }
}

fn check(cover: &ArmUnderCover) -> Result<(), CoverError> {
    let lengths = [
        ("axis_to_skin_mm", cover.axis_to_skin_mm, true),
        ("swept_mm", cover.swept_mm, true),
        ("sheet_mm", cover.sheet_mm, false),
        ("wanted_gap_mm", cover.wanted_gap_mm, false),
    ];
    for (field, mm, is_above) in lengths {
        let is_good = mm <= LONGEST_MM && if is_above { mm > 0.0 } else { mm >= 0.0 };
        if !is_good {
            let above = if is_above { "above zero" } else { "of 0 or more" };
            return Err(CoverError::BadLength { field, above });
        }
    }
    if let Some(swing) = cover.swing {
        let is_good = all_finite(&[swing.from_deg, swing.to_deg])
            && swing.from_deg <= swing.to_deg
            && swing.from_deg >= -180.0
            && swing.to_deg <= 180.0;
        if !is_good {
            return Err(CoverError::BadSwing);
        }
    }
    let needed_mm = cover.sheet_mm + cover.wanted_gap_mm;
    if cover.axis_to_skin_mm <= needed_mm { Err(CoverError::AxisTooNear { needed_mm }) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COVER: ArmUnderCover = ArmUnderCover {
        axis_to_skin_mm: 7.0,
        sheet_mm: 1.0,
        swept_mm: 6.4,
        wanted_gap_mm: WANTED_GAP_MM,
        swing: None,
    };

    fn swinging(from_deg: f64, to_deg: f64) -> CoverFit {
        fit_cover(&ArmUnderCover { swing: Some(ArmSwing { from_deg, to_deg }), ..COVER }).expect("a cover")
    }

    #[test]
    fn the_top_of_the_swing_decides_where_the_ends_look_free() {
        let fit = swinging(-40.0, 48.0);
        assert!(fit.is_over_top && !fit.is_clear);
        assert!(fit.gap_at_from_mm.expect("an end") > 1.0 && fit.gap_at_to_mm.expect("an end") > 1.0);
        assert_eq!((fit.at_deg, fit.gap_mm), (0.0, fit_cover(&COVER).expect("a cover").gap_mm));
    }

    #[test]
    fn a_swing_on_one_side_is_judged_at_its_nearer_end() {
        let fit = swinging(30.0, 80.0);
        assert!(!fit.is_over_top && fit.is_clear);
        assert_eq!((fit.at_deg, fit.relief, fit.blister_mm), (30.0, None, 0.0));
        let half = swinging(-90.0, 0.0).relief.expect("a slot");
        let whole = fit_cover(&COVER).expect("a cover").relief.expect("a slot");
        assert!((2.0 * half.length_mm - whole.length_mm).abs() < 1e-12);
        assert_eq!(half.to_mm, 0.0);
    }

    #[test]
    fn what_is_no_cover_is_refused() {
        let check = |cover: ArmUnderCover, expected| assert_eq!(fit_cover(&cover), Err(expected));
        let above = "above zero";
        check(
            ArmUnderCover { axis_to_skin_mm: f64::NAN, ..COVER },
            CoverError::BadLength { field: "axis_to_skin_mm", above },
        );
        check(ArmUnderCover { swept_mm: 0.0, ..COVER }, CoverError::BadLength { field: "swept_mm", above });
        check(
            ArmUnderCover { sheet_mm: -1.0, ..COVER },
            CoverError::BadLength { field: "sheet_mm", above: "of 0 or more" },
        );
        check(ArmUnderCover { sheet_mm: 6.7, ..COVER }, CoverError::AxisTooNear { needed_mm: 7.0 });
        let swing = Some(ArmSwing { from_deg: 10.0, to_deg: -10.0 });
        check(ArmUnderCover { swing, ..COVER }, CoverError::BadSwing);
    }
}
