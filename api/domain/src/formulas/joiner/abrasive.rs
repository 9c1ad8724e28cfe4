//! Grades of sanding paper by the mean size of their grain, and the guard that keeps coarse paper off carbon.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::range::OutOfRange;

/// P-grades and their mean grain size, µm. Source: FEPA 43 / ISO 6344; P12 to P120 from a secondary table, P180 to
/// P2000 from memory.
pub const GRADES_UM: [(u32, f64); 27] = [
    (12, 1815.0),
    (16, 1324.0),
    (20, 1000.0),
    (24, 764.0),
    (30, 642.0),
    (36, 538.0),
    (40, 425.0),
    (50, 336.0),
    (60, 269.0),
    (80, 201.0),
    (100, 162.0),
    (120, 125.0),
    (180, 82.0),
    (220, 68.0),
    (240, 58.5),
    (280, 52.2),
    (320, 46.2),
    (360, 40.5),
    (400, 35.0),
    (500, 30.2),
    (600, 25.8),
    (800, 21.8),
    (1000, 18.3),
    (1200, 15.3),
    (1500, 12.6),
    (2000, 10.3),
    (2500, 8.4),
];

/// Nothing coarser goes on a carbon joiner, and this only where the joiner will not enter at all. Common practice,
/// no source.
pub const CARBON_GUARD_GRADE: u32 = 400;

/// The grade sanding of a joiner starts with. Common practice, no source.
pub const START_GRADE: u32 = 600;

/// The grade it ends with, before a short polish. Common practice, no source.
pub const FINISH_GRADE: u32 = 800;

/// Whether paper may go on a carbon joiner.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum AbrasiveVerdict {
    /// As fine as sanding starts with, or finer.
    Usual,
    /// Coarser than usual, at or finer than the guard: only where the joiner will not enter at all.
    OnlyToEnter,
    /// Coarser than the guard.
    TooCoarse,
}

/// Paper for carbon, judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Abrasive {
    /// P-grade.
    pub grade: u32,
    /// Mean size of its grain, µm.
    pub grain_um: f64,
    /// Coarsest grade permitted.
    pub guard_grade: u32,
    /// Mean size of the guard's grain, µm.
    pub guard_grain_um: f64,
    /// The verdict.
    pub verdict: AbrasiveVerdict,
    /// What to know before starting; absent for usual paper.
    pub caution: Option<String>,
}

/// Why paper cannot be judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AbrasiveError {
    /// No such grade.
    #[error(
        "there is no grade P{0} in the table; give the number printed on the back of the paper, such as 600"
    )]
    UnknownGrade(u32),
}

/// Mean size of the grain of a grade, µm.
///
/// # Errors
/// A grade that the table does not hold.
///
/// # Source
/// See [`GRADES_UM`].
///
/// ```
/// use preen_domain::formulas::joiner::abrasive::grain_um;
/// assert_eq!(grain_um(600), Ok(25.8));
/// ```
pub fn grain_um(grade: u32) -> Result<f64, AbrasiveError> {
    GRADES_UM
        .iter()
        .find(|(known, _)| *known == grade)
        .map(|(_, um)| *um)
        .ok_or(AbrasiveError::UnknownGrade(grade))
}

/// Judges paper for a carbon joiner against a guard (usually [`CARBON_GUARD_GRADE`]): the mean grain decides.
///
/// # Errors
/// A grade that the table does not hold.
///
/// # Source
/// Common practice, no source.
///
/// ```
/// use preen_domain::formulas::joiner::abrasive::{AbrasiveVerdict, CARBON_GUARD_GRADE, judge_on_carbon};
/// let coarse = judge_on_carbon(240, CARBON_GUARD_GRADE)?;
/// assert_eq!((coarse.verdict, coarse.grain_um), (AbrasiveVerdict::TooCoarse, 58.5));
/// assert_eq!(judge_on_carbon(600, CARBON_GUARD_GRADE)?.caution, None);
/// # Ok::<(), preen_domain::formulas::joiner::abrasive::AbrasiveError>(())
/// ```
pub fn judge_on_carbon(grade: u32, guard_grade: u32) -> Result<Abrasive, AbrasiveError> {
    let (grain_um, guard_grain_um) = (grain_um(grade)?, grain_um(guard_grade)?);
    let (verdict, caution) = if grain_um > guard_grain_um {
        let text = format!(
            "P{grade} has a mean grain of {grain_um} µm, coarser than P{guard_grade} ({guard_grain_um} µm): one \
             stroke can take more than a joiner's whole life allows; take P{START_GRADE} or finer"
        );
        (AbrasiveVerdict::TooCoarse, Some(text))
    } else if grade < START_GRADE {
        let text = format!(
            "P{grade} has a mean grain of {grain_um} µm: only while the joiner will not enter at all, then \
             P{START_GRADE}, finish P{FINISH_GRADE}"
        );
        (AbrasiveVerdict::OnlyToEnter, Some(text))
    } else {
        (AbrasiveVerdict::Usual, None)
    };
    Ok(Abrasive { grade, grain_um, guard_grade, guard_grain_um, verdict, caution })
}

/// The grade from the table whose mean grain is nearest to a size, µm: for paper sold by grain size.
///
/// # Errors
/// A size outside 1 to 5000 µm.
///
/// ```
/// use preen_domain::formulas::joiner::abrasive::nearest_grade;
/// assert_eq!(nearest_grade(25.0), Ok(600));
/// ```
pub fn nearest_grade(grain_um: f64) -> Result<u32, OutOfRange> {
    let outside = OutOfRange { input: "grain_um", least: 1.0, most: 5000.0 };
    crate::formulas::range::within(outside.input, grain_um, outside.least, outside.most)?;
    GRADES_UM
        .iter()
        .min_by(|(_, one), (_, other)| (one - grain_um).abs().total_cmp(&(other - grain_um).abs()))
        .map(|(grade, _)| *grade)
        .ok_or(outside)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_finer_the_grade_the_smaller_its_grain() {
        assert!(GRADES_UM.is_sorted_by(|one, next| one.0 < next.0 && one.1 > next.1));
    }

    #[test]
    fn paper_is_judged_by_its_grain() {
        let verdict = |grade| judge_on_carbon(grade, CARBON_GUARD_GRADE).map(|paper| paper.verdict);
        assert_eq!(verdict(360), Ok(AbrasiveVerdict::TooCoarse));
        assert_eq!(verdict(400), Ok(AbrasiveVerdict::OnlyToEnter));
        assert_eq!(verdict(500), Ok(AbrasiveVerdict::OnlyToEnter));
        assert_eq!(verdict(800), Ok(AbrasiveVerdict::Usual));
        assert_eq!(verdict(555), Err(AbrasiveError::UnknownGrade(555)));
        assert_eq!(nearest_grade(f64::NAN).map_err(|why| why.input), Err("grain_um"));
    }
}
