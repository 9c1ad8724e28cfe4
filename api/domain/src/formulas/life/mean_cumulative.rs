//! Repairs per system by age over many systems, without assuming a law: the mean cumulative function. One system alone
//! is in `power_law` and `repair_trend`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{LifeError, MAX_AGE, MAX_LIVES, check_share, count};
use crate::formulas::quantile::two_sided_z;

/// Systems times different ages beyond this are refused.
const MAX_CELLS: usize = 10_000_000;

/// One system: when it was repaired and until when it was watched.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RepairedSystem {
    /// Ages at repairs, in any order; equal ages count each.
    pub repaired_at: Vec<f64>,
    /// Age until which it was watched; a system watched until the age of a repair was at risk then.
    pub watched_until: f64,
}

/// Repairs per system by an age.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct MeanCumulative {
    /// Age.
    pub at: f64,
    /// Systems at risk.
    pub at_risk: u32,
    /// Repairs at this age.
    pub repairs: u32,
    /// Mean repairs per system up to this age.
    pub mean: f64,
    /// Standard error between systems.
    pub std_error: f64,
    /// Lower bound, on the log scale.
    pub low: f64,
    /// Upper bound, on the log scale.
    pub high: f64,
}

/// Mean cumulative function: M(t) = Σ dᵢ/nᵢ over the ages of repairs up to t.
///
/// The variance is taken between systems, Σₛ[Σⱼ (Yₛⱼ/nⱼ)(dₛⱼ − dⱼ/nⱼ)]², so it holds also where repairs of one system
/// hang together; bounds M·exp(±z·se/M). Ages in one unit.
///
/// # Errors
/// What [`LifeError`] says, entries being systems: no system, a repair after the end of the watch.
///
/// # Source
/// Nelson (1988, 2003) for the estimate; Lawless & Nadeau (1995) for the variance, from memory.
///
/// ```
/// use preen_domain::formulas::life::mean_cumulative::{RepairedSystem, mean_cumulative};
/// let system = |repaired_at: &[f64], watched_until| RepairedSystem { repaired_at: repaired_at.into(), watched_until };
/// // One repair among two systems, then one in the only system left.
/// let curve = mean_cumulative(&[system(&[5.0, 9.0], 10.0), system(&[], 8.0)], 0.9)?;
/// assert_eq!(curve.iter().map(|point| point.mean).collect::<Vec<_>>(), [0.5, 1.5]);
/// # Ok::<(), preen_domain::formulas::life::LifeError>(())
/// ```
pub fn mean_cumulative(
    systems: &[RepairedSystem],
    confidence: f64,
) -> Result<Vec<MeanCumulative>, LifeError> {
    check_systems(systems)?;
    check_share(confidence)?;
    let z = two_sided_z(confidence).ok_or(LifeError::BadShare)?;
    let mut ages: Vec<f64> = systems.iter().flat_map(|system| system.repaired_at.iter().copied()).collect();
    ages.sort_by(f64::total_cmp);
    let mut ends: Vec<f64> = systems.iter().map(|system| system.watched_until).collect();
    ends.sort_by(f64::total_cmp);
    let steps: Vec<(f64, usize)> =
        ages.chunk_by(|a, b| a == b).filter_map(|same| Some((*same.first()?, same.len()))).collect();
    if steps.len().saturating_mul(systems.len()) > MAX_CELLS {
        return Err(LifeError::TooMany);
    }
    // What each system has gathered beyond the mean so far, and its repairs that are still to come.
    let mut excess = vec![0.0; systems.len()];
    let mut coming: Vec<std::iter::Peekable<std::vec::IntoIter<f64>>> = systems
        .iter()
        .map(|system| {
            let mut own = system.repaired_at.clone();
            own.sort_by(f64::total_cmp);
            own.into_iter().peekable()
        })
        .collect();
    let mut mean = 0.0;
    let mut curve = Vec::with_capacity(steps.len());
    for (at, repairs) in steps {
        let at_risk = ends.len() - ends.partition_point(|end| *end < at);
        let (d, n) = (count(repairs), count(at_risk));
        mean += d / n;
        for ((system, coming), excess) in systems.iter().zip(&mut coming).zip(&mut excess) {
            if system.watched_until >= at {
                let mut own = 0.0;
                while coming.next_if(|age| *age <= at).is_some() {
                    own += 1.0;
                }
                *excess += (own - d / n) / n;
            }
        }
        let std_error = excess.iter().map(|one| one * one).sum::<f64>().sqrt();
        let factor = (z * std_error / mean).exp();
        curve.push(MeanCumulative {
            at,
            at_risk: u32::try_from(at_risk).unwrap_or(u32::MAX),
            repairs: u32::try_from(repairs).unwrap_or(u32::MAX),
            mean,
            std_error,
            low: mean / factor,
            high: (mean * factor).min(f64::MAX),
        });
    }
    Ok(curve)
}

fn check_systems(systems: &[RepairedSystem]) -> Result<(), LifeError> {
    if systems.is_empty() {
        return Err(LifeError::Empty);
    }
    let repairs: usize = systems.iter().map(|system| system.repaired_at.len()).sum();
    if systems.len() > MAX_LIVES || repairs > MAX_LIVES {
        return Err(LifeError::TooMany);
    }
    for (index, system) in systems.iter().enumerate() {
        let life = index + 1;
        if !(system.watched_until > 0.0 && system.watched_until <= MAX_AGE) {
            return Err(LifeError::BadAge { life });
        }
        if system.repaired_at.iter().any(|age| !(0.0..=MAX_AGE).contains(age)) {
            return Err(LifeError::BadAge { life });
        }
        if system.repaired_at.iter().any(|age| *age > system.watched_until) {
            return Err(LifeError::NotAnInterval { life });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn systems_that_cannot_be_are_refused_with_their_number() {
        let check = |repaired_at: &[f64], watched_until, expected| {
            let fine = RepairedSystem { repaired_at: vec![1.0], watched_until: 2.0 };
            let system = RepairedSystem { repaired_at: repaired_at.to_vec(), watched_until };
            assert_eq!(mean_cumulative(&[fine, system], 0.9), Err(expected));
        };
        check(&[], 0.0, LifeError::BadAge { life: 2 });
        check(&[f64::NAN], 5.0, LifeError::BadAge { life: 2 });
        check(&[6.0], 5.0, LifeError::NotAnInterval { life: 2 });
        assert_eq!(mean_cumulative(&[], 0.9), Err(LifeError::Empty));
    }

    #[test]
    fn alike_systems_have_no_error_between_them() {
        let alike = vec![RepairedSystem { repaired_at: vec![3.0, 6.0, 6.0], watched_until: 9.0 }; 4];
        let curve = mean_cumulative(&alike, 0.9).expect("a curve");
        assert_eq!(
            curve.iter().map(|point| (point.mean, point.std_error)).collect::<Vec<_>>(),
            [(1.0, 0.0), (3.0, 0.0)]
        );
    }
}
