//! The mass list against the scale: how much mass the list misses, and whether its place can be told. Weighing
//! itself lives in `weighing` and `reweigh`, the list's sum in `balance`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::all_finite;
use super::balance::MassAndCg;
use super::combine::{CombineError, Estimate, StandSetUp, combine};
use super::reweigh::{ReweighError, reweigh};
use super::weighing::{Levelling, SupportReading, Weighed};

/// The place of unaccounted mass counts as known when its 2u is at most this: enough to tell one bay of a model
/// (nose, wing, boom, tail) from the next. Common practice, no source.
pub const PLACE_KNOWN_WITHIN_MM: f64 = 50.0;

/// What the comparison of list and scale allows to be said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum UnaccountedVerdict {
    /// The gap is smaller than the scale's 2u: list and scale agree.
    NoUnaccountedMass,
    /// There is a gap and its place can be told.
    PlaceKnown,
    /// There is a gap, but its place is too uncertain to be printed as one number.
    PlaceNotKnown,
}

/// The gap between list and scale.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Reconciliation {
    /// Scale minus list, grams; negative when the list holds more than the scale shows.
    pub mass_gap_g: f64,
    /// 2u of the weighed mass, grams.
    pub mass_2u_g: f64,
    /// Where the gap's mass would have to sit, mm aft of the datum; `None` without a gap.
    pub arm_mm: Option<f64>,
    /// 2u of that place, mm; `None` without a gap.
    pub arm_2u_mm: Option<f64>,
    /// What may be said.
    pub verdict: UnaccountedVerdict,
}

/// Why list and scale cannot be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReconcileError {
    /// The readings give no CG.
    #[error(transparent)]
    Weighing(#[from] ReweighError),
    /// The supports share one x.
    #[error("all supports share one x, so the weighing says nothing about the place of missing mass")]
    NoArm,
    /// The list has no mass, or a number that is not finite.
    #[error("the list's mass must be above zero and all its numbers finite")]
    BadList,
    /// The wanted certainty is not a positive number.
    #[error("the distance within which a place counts as known must be above zero")]
    BadLimit,
    /// The numbers are too large for the result to be finite.
    #[error("the numbers are too large to compare; check the units (grams and millimetres)")]
    TooLarge,
}

/// Compares a mass list with weighings: gap Δm = M_w − M_l at arm a = (M_w·x_w − M_l·x_l)/Δm.
///
/// Mass and CG of the scale come from the same readings, so they are not independent. For one weighing
/// u(a) = √[Σ(xᵢ − a)²·u²(Wᵢ) + ΣWᵢ²·u²(xᵢ) + (M·h·tan u(φ))²]/|Δm|, the list taken as exact; of several the moments
/// about a are taken together by [`combine`], scatter beside instrument. A gap below 2u(M) is none; a place whose 2u
/// exceeds `known_within_mm` (usually [`PLACE_KNOWN_WITHIN_MM`]) is not known. Units g and mm.
///
/// # Errors
/// Readings without a CG along x, a list without mass, a limit that is not positive.
///
/// # Source
/// JCGM 100:2008, 5.1.2, applied to the moment equation.
///
/// ```
/// use preen_domain::formulas::balance::MassAndCg;
/// use preen_domain::formulas::combine::StandSetUp;
/// use preen_domain::formulas::reconcile::{PLACE_KNOWN_WITHIN_MM, UnaccountedVerdict, reconcile};
/// use preen_domain::formulas::weighing::{Levelling, SupportReading};
/// let on = |x_mm, reading_g| SupportReading { reading_g, x_mm, y_mm: 0.0, u_reading_g: 0.5, u_place_mm: 0.5 };
/// let list = MassAndCg { mass_g: 1195.7, x_mm: 96.0738, ..MassAndCg::default() };
/// let once = [vec![on(-60.0, 878.0), on(520.0, 324.5)]];
/// let gap = reconcile(&list, &once, Levelling::default(), StandSetUp::Kept, PLACE_KNOWN_WITHIN_MM)?;
/// assert_eq!(format!("{:.1} g", gap.mass_gap_g), "6.8 g");
/// assert_eq!((gap.arm_mm.map(f64::round), gap.arm_2u_mm.map(f64::round)), (Some(174.0), Some(151.0)));
/// assert_eq!(gap.verdict, UnaccountedVerdict::PlaceNotKnown);
/// # Ok::<(), preen_domain::formulas::reconcile::ReconcileError>(())
/// ```
pub fn reconcile(
    list: &MassAndCg,
    weighings: &[Vec<SupportReading>],
    levelling: Levelling,
    set_up: StandSetUp,
    known_within_mm: f64,
) -> Result<Reconciliation, ReconcileError> {
    if list.mass_g <= 0.0 || !list.is_finite() {
        return Err(ReconcileError::BadList);
    }
    if known_within_mm <= 0.0 || !known_within_mm.is_finite() {
        return Err(ReconcileError::BadLimit);
    }
    let weighed = reweigh(weighings, levelling, set_up)?;
    let x_mm = weighed.x.as_ref().ok_or(ReconcileError::NoArm)?.value;
    let mass_g = weighed.mass.value;
    let mass_gap_g = mass_g - list.mass_g;
    let mass_2u_g = 2.0 * weighed.mass.u;
    if mass_gap_g == 0.0 || mass_gap_g.abs() < mass_2u_g {
        let verdict = UnaccountedVerdict::NoUnaccountedMass;
        return Ok(Reconciliation { mass_gap_g, mass_2u_g, arm_mm: None, arm_2u_mm: None, verdict });
    }
    let arm_mm = (mass_g * x_mm - list.mass_g * list.x_mm) / mass_gap_g;
    let moments: Vec<Estimate> = weighings
        .iter()
        .zip(&weighed.each)
        .filter_map(|(supports, one)| moment_about(arm_mm, supports, one))
        .collect();
    let moment = combine(&moments, set_up).map_err(|why| match why {
        CombineError::BadEstimate { .. } => ReconcileError::TooLarge,
        other => ReconcileError::Weighing(other.into()),
    })?;
    let arm_2u_mm = 2.0 * moment.u / mass_gap_g.abs();
    if !all_finite(&[arm_mm, arm_2u_mm]) {
        return Err(ReconcileError::TooLarge);
    }
    let verdict = if arm_2u_mm <= known_within_mm {
        UnaccountedVerdict::PlaceKnown
    } else {
        UnaccountedVerdict::PlaceNotKnown
    };
    Ok(Reconciliation { mass_gap_g, mass_2u_g, arm_mm: Some(arm_mm), arm_2u_mm: Some(arm_2u_mm), verdict })
}

/// The moment of a weighing about a place, g·mm, whose uncertainty is what makes that place uncertain.
fn moment_about(arm_mm: f64, supports: &[SupportReading], weighed: &Weighed) -> Option<Estimate> {
    let x = weighed.x?;
    let scale: f64 = supports.iter().map(|on| ((on.x_mm - arm_mm) * on.u_reading_g).powi(2)).sum();
    let touch: f64 = supports.iter().map(|on| (on.reading_g * on.u_place_mm).powi(2)).sum();
    let parts = vec![scale.sqrt(), touch.sqrt(), weighed.mass_g * x.u_level_mm];
    Some(Estimate { value: weighed.mass_g * (x.at_mm - arm_mm), parts })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formulas::weighing::WeighingError;

    fn on(x_mm: f64, reading_g: f64) -> SupportReading {
        SupportReading { reading_g, x_mm, y_mm: 0.0, u_reading_g: 0.5, u_place_mm: 0.5 }
    }

    fn compare(list: &MassAndCg, supports: &[SupportReading]) -> Result<Reconciliation, ReconcileError> {
        let level = Levelling::default();
        reconcile(list, &[supports.to_vec()], level, StandSetUp::Kept, PLACE_KNOWN_WITHIN_MM)
    }

    #[test]
    fn the_verdict_follows_the_size_of_the_gap() {
        let supports = [on(-60.0, 878.0), on(520.0, 324.5)];
        let check = |mass_g, expected| {
            let list = MassAndCg { mass_g, x_mm: 96.0, ..MassAndCg::default() };
            assert_eq!(compare(&list, &supports).map(|gap| gap.verdict), Ok(expected));
        };
        check(1202.5, UnaccountedVerdict::NoUnaccountedMass);
        check(1201.2, UnaccountedVerdict::NoUnaccountedMass);
        check(1203.8, UnaccountedVerdict::NoUnaccountedMass);
        check(1200.9, UnaccountedVerdict::PlaceNotKnown);
        check(1204.1, UnaccountedVerdict::PlaceNotKnown);
        check(1150.0, UnaccountedVerdict::PlaceKnown);
    }

    #[test]
    fn a_perfect_scale_that_agrees_has_no_gap_and_no_arm() {
        let exact = |x_mm, reading_g| SupportReading {
            reading_g,
            x_mm,
            y_mm: 0.0,
            u_reading_g: 0.0,
            u_place_mm: 0.0,
        };
        let list = MassAndCg { mass_g: 3.0, ..MassAndCg::default() };
        let gap = compare(&list, &[exact(0.0, 1.0), exact(9.0, 2.0)]).expect("computable");
        assert_eq!((gap.mass_gap_g, gap.arm_mm), (0.0, None));
    }

    #[test]
    fn what_cannot_be_compared_is_refused() {
        let supports = [on(-60.0, 878.0), on(520.0, 324.5)];
        let list = MassAndCg { mass_g: 1195.7, x_mm: 96.0, ..MassAndCg::default() };
        let empty = MassAndCg::default();
        assert_eq!(compare(&empty, &supports), Err(ReconcileError::BadList));
        let level = Levelling::default();
        let within = |mm| reconcile(&list, &[supports.to_vec()], level, StandSetUp::Kept, mm);
        assert_eq!(within(0.0), Err(ReconcileError::BadLimit));
        let beside = |y_mm| SupportReading { y_mm, ..on(0.0, 600.0) };
        assert_eq!(compare(&list, &[beside(-9.0), beside(9.0)]), Err(ReconcileError::NoArm));
        let why = WeighingError::TooFewSupports;
        assert_eq!(
            compare(&list, &[on(0.0, 1.0)]),
            Err(ReconcileError::Weighing(ReweighError::Weighing { weighing: 1, why }))
        );
    }

    #[test]
    fn levelling_makes_the_place_less_sure_and_weighings_set_up_anew_surer() {
        let supports = vec![on(-60.0, 878.0), on(520.0, 324.5)];
        let list = MassAndCg { mass_g: 1195.7, x_mm: 96.0738, ..MassAndCg::default() };
        let of = |weighings: &[Vec<SupportReading>], level, set_up| {
            reconcile(&list, weighings, level, set_up, 50.0).expect("comparable").arm_2u_mm.expect("a gap")
        };
        let level = Levelling::default();
        let once = of(std::slice::from_ref(&supports), level, StandSetUp::Kept);
        let twice = [supports.clone(), supports.clone()];
        assert!((of(&twice, level, StandSetUp::Kept) - once).abs() < 1e-9);
        assert!((of(&twice, level, StandSetUp::Anew) - once / 2f64.sqrt()).abs() < 1e-9);
        let tilted = of(&[supports], Levelling { u_angle_deg: 1.0, cg_height_mm: 40.0 }, StandSetUp::Kept);
        let share = 2.0 * 1202.5 * 40.0 * 1f64.to_radians().tan() / 6.8;
        assert!((tilted - once.hypot(share)).abs() < 1e-6, "{tilted}");
    }
}
