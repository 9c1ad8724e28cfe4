//! Whether a value keeps the limit of a contest class, and what a whole check comes to. Which limits a class has is data.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::text_enum;

text_enum! {
    /// How a value stands against a limit.
    LimitVerdict {
        /// It keeps the limit.
        Inside = "inside",
        /// It keeps the limit only with the measuring tolerance that was chosen.
        WithinTolerance = "within_tolerance",
        /// It does not keep the limit.
        Outside = "outside",
        /// The value is not known.
        NotKnown = "not_known",
    }
}

text_enum! {
    /// What a class check comes to: the worst of its rows, and never inside before a person has confirmed the limits.
    ClassResult {
        /// Every limit is kept, and a person has compared them with the edition in force.
        Inside = "inside",
        /// No limit is broken, but some values are not known.
        NotKnown = "not_known",
        /// No limit is broken, but nobody has compared the limits with the edition in force.
        Unconfirmed = "unconfirmed",
        /// A limit is broken.
        Outside = "outside",
    }
}

/// How a value stands against a limit; at the limit it keeps it. The tolerance widens either side, in per cent of the
/// limit.
///
/// # Source
/// Limits of the FAI Sporting Code are inclusive, from memory. That a tolerance may be used in a check beforehand is a
/// choice of who checks: 0 checks against the bare limit.
///
/// ```
/// use preen_domain::formulas::class_limits::{LimitVerdict, judge_limit};
/// assert_eq!(judge_limit(11.9898, Some(12.0), Some(75.0), 0.0), LimitVerdict::Outside);
/// assert_eq!(judge_limit(11.9898, Some(12.0), Some(75.0), 1.0), LimitVerdict::WithinTolerance);
/// ```
#[must_use]
pub fn judge_limit(value: f64, min: Option<f64>, max: Option<f64>, tolerance_pct: f64) -> LimitVerdict {
    if !value.is_finite() {
        return LimitVerdict::NotKnown;
    }
    let keeps = |wider: f64| {
        min.is_none_or(|min| value >= min - min.abs() * wider)
            && max.is_none_or(|max| value <= max + max.abs() * wider)
    };
    if keeps(0.0) {
        LimitVerdict::Inside
    } else if keeps(tolerance_pct.max(0.0) / 100.0) {
        LimitVerdict::WithinTolerance
    } else {
        LimitVerdict::Outside
    }
}

/// What the rows of a check come to.
///
/// ```
/// use preen_domain::formulas::class_limits::{ClassResult, LimitVerdict, result_of};
/// assert_eq!(result_of([LimitVerdict::Inside], false), ClassResult::Unconfirmed);
/// assert_eq!(result_of([LimitVerdict::Inside, LimitVerdict::Outside], false), ClassResult::Outside);
/// ```
#[must_use]
pub fn result_of(verdicts: impl IntoIterator<Item = LimitVerdict>, is_confirmed: bool) -> ClassResult {
    let verdicts: Vec<LimitVerdict> = verdicts.into_iter().collect();
    if verdicts.contains(&LimitVerdict::Outside) {
        ClassResult::Outside
    } else if !is_confirmed {
        ClassResult::Unconfirmed
    } else if verdicts.contains(&LimitVerdict::NotKnown) {
        ClassResult::NotKnown
    } else {
        ClassResult::Inside
    }
}

/// The smallest mass that keeps a smallest loading, g: loading times area.
///
/// ```
/// use preen_domain::formulas::class_limits::least_mass_g;
/// assert!((least_mass_g(12.0, 38.7) - 464.4).abs() < 1e-9);
/// ```
#[must_use]
pub fn least_mass_g(least_loading_g_dm2: f64, area_dm2: f64) -> f64 {
    least_loading_g_dm2 * area_dm2
}
