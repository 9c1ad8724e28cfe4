//! Share of parts still good by age, without assuming a distribution: the product-limit estimate with its standard
//! error and bounds. Comparing two groups lives in `log_rank`, a fitted law in `weibull`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Life, LifeEnd, LifeError, check_lives, check_share, count};
use crate::formulas::quantile::two_sided_z;

/// How bounds are laid around the estimate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BoundScale {
    /// S ± z·se, cut at 0 and 1.
    Plain,
    /// exp(ln S ± z·se/S), cut at 1.
    Log,
    /// S^exp(±z·se/(S·ln S)): stays between 0 and 1 by itself; best with few parts.
    #[default]
    LogLog,
}

/// Which end of `(good, found]` a failure found at an inspection is counted at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CountedAt {
    /// The last look that found it good: the darkest reading.
    LastGood,
    /// The look that found it failed: the brightest reading.
    Found,
}

/// The estimate from one age on, until the next step.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SurvivalStep {
    /// Age of the failures.
    pub at: f64,
    /// Parts at risk just before.
    pub at_risk: u32,
    /// Failures at this age.
    pub failed: u32,
    /// Share still good after it.
    pub survival: f64,
    /// Greenwood's standard error; null where the share is 0, which has none.
    pub std_error: Option<f64>,
    /// Lower bound.
    pub low: Option<f64>,
    /// Upper bound.
    pub high: Option<f64>,
}

/// The whole curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SurvivalCurve {
    /// One step an age at which something failed, youngest first.
    pub steps: Vec<SurvivalStep>,
    /// The oldest age watched: beyond it nothing is known.
    pub watched_until: f64,
    /// Two-sided confidence of the bounds.
    pub confidence: f64,
}

/// Age by which a share has failed. Bounds are null where the curve's bound never comes down that far.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AgeReached {
    /// First age at which the share still good is at or below the one asked for; null if it never is.
    pub at: Option<f64>,
    /// The same for the lower bound of the curve.
    pub low: Option<f64>,
    /// The same for the upper bound of the curve.
    pub high: Option<f64>,
}

/// Kaplan–Meier estimate: S(t) = Π (1 − dᵢ/nᵢ) over the ages of failure up to t, with Greenwood's standard error
/// S·√Σ dᵢ/(nᵢ(nᵢ − dᵢ)).
///
/// At risk at t is who came under watch before t (new parts always) and has not ended before t; a part taken off at
/// the age of a failure still counts as at risk then. Late entry is the only difference between a used and a new
/// part. A failure that lies between two looks is counted at the end of the interval that `counted_at` says: compute
/// both and show both. Ages in one unit, shares 0 to 1.
///
/// With late entry, few young parts at risk can bring the estimate to 0 early, where it stays: look at `at_risk`.
///
/// # Errors
/// What [`LifeError`] says of the lives; a confidence not between 0 and 1. Lives without a failure give no step.
///
/// # Source
/// Kaplan & Meier, *Nonparametric estimation from incomplete observations* (1958); standard error: Greenwood (1926);
/// bounds: NIST/SEMATECH e-Handbook 8.2.1.5 and Kalbfleisch & Prentice (from memory) for the log-log scale.
///
/// ```
/// use preen_domain::formulas::life::Life;
/// use preen_domain::formulas::life::kaplan_meier::{BoundScale, CountedAt, kaplan_meier};
/// // Of three one fails at 5; of the two left, one is taken off at 7; the last fails at 9.
/// let lives = [Life::failed(5.0), Life::running(7.0), Life::failed(9.0)];
/// let curve = kaplan_meier(&lives, 0.95, BoundScale::Plain, CountedAt::Found)?;
/// let shares: Vec<f64> = curve.steps.iter().map(|step| (step.survival * 1e3).round() / 1e3).collect();
/// assert_eq!(shares, [0.667, 0.0]);
/// # Ok::<(), preen_domain::formulas::life::LifeError>(())
/// ```
pub fn kaplan_meier(
    lives: &[Life],
    confidence: f64,
    scale: BoundScale,
    counted_at: CountedAt,
) -> Result<SurvivalCurve, LifeError> {
    check_lives(lives)?;
    check_share(confidence)?;
    let z = two_sided_z(confidence).ok_or(LifeError::BadShare)?;
    let risk = RiskSet::new(lives, counted_at);
    let (mut survival, mut greenwood) = (1.0, 0.0);
    let mut steps = Vec::new();
    for (at, failed) in risk.failures() {
        let at_risk = risk.at(at);
        let (d, n) = (count(failed), count(at_risk));
        survival *= 1.0 - d / n;
        greenwood += d / (n * (n - d));
        let std_error = (failed < at_risk && survival > 0.0).then(|| survival * greenwood.sqrt());
        let (low, high) = std_error.map_or((None, None), |error| {
            let (low, high) = bounds(survival, error, z, scale);
            (Some(low), Some(high))
        });
        let (at_risk, failed) =
            (u32::try_from(at_risk).unwrap_or(u32::MAX), u32::try_from(failed).unwrap_or(u32::MAX));
        steps.push(SurvivalStep { at, at_risk, failed, survival, std_error, low, high });
    }
    let watched_until = lives.iter().map(Life::last_age).fold(0.0, f64::max);
    Ok(SurvivalCurve { steps, watched_until, confidence })
}

fn bounds(survival: f64, error: f64, z: f64, scale: BoundScale) -> (f64, f64) {
    let (low, high) = match scale {
        BoundScale::Plain => (survival - z * error, survival + z * error),
        BoundScale::Log => {
            let factor = (z * error / survival).exp();
            (survival / factor, survival * factor)
        }
        BoundScale::LogLog => {
            let factor = (z * error / (survival * survival.ln())).exp();
            (survival.powf(1.0 / factor), survival.powf(factor))
        }
    };
    (low.clamp(0.0, survival), high.clamp(survival, 1.0))
}

impl SurvivalCurve {
    /// The step that holds at an age; `None` before the first.
    #[must_use]
    pub fn step_at(&self, age: f64) -> Option<&SurvivalStep> {
        self.steps.get(..self.steps.partition_point(|step| step.at <= age))?.last()
    }

    /// Share still good at an age; `None` beyond the oldest age watched, where nothing is known.
    #[must_use]
    pub fn survival_at(&self, age: f64) -> Option<f64> {
        let known = age <= self.watched_until || self.steps.last().is_some_and(|last| last.survival == 0.0);
        known.then(|| self.step_at(age).map_or(1.0, |step| step.survival))
    }

    /// Age by which a share has failed: 0.5 for the median, 0.1 for B10.
    ///
    /// The bounds are where the bounds of the curve come down to the same share (Brookmeyer & Crowley 1982, from
    /// memory).
    #[must_use]
    pub fn age_reached(&self, share_failed: f64) -> AgeReached {
        // One part in 10^12 of grace: a product such as 0.8 · 0.625 must count as one half.
        let left = 1.0 - share_failed + 1e-12;
        let first = |curve: fn(&SurvivalStep) -> Option<f64>| {
            self.steps.iter().find(|step| curve(step).is_some_and(|share| share <= left)).map(|step| step.at)
        };
        // A share of 0 has no bounds of its own, but lies below whatever is asked for: the lower bound reaches it.
        AgeReached {
            at: first(|step| Some(step.survival)),
            low: first(|step| step.low.or(Some(step.survival))),
            high: first(|step| step.high),
        }
    }
}

/// Entries, ends and failures in order of age.
pub(super) struct RiskSet {
    entries: Vec<f64>,
    ends: Vec<f64>,
    failures: Vec<f64>,
}

impl RiskSet {
    pub(super) fn new(lives: &[Life], counted_at: CountedAt) -> Self {
        let end = |life: &Life| match (life.end, counted_at) {
            (LifeEnd::FailedBetween { good_at, .. }, CountedAt::LastGood) => good_at,
            _ => life.last_age(),
        };
        // New parts are at risk at any age, even at 0; a part counted as failed at its very entry was at risk then.
        let entry = |life: &Life| match end(life) {
            _ if life.entered == 0.0 => f64::NEG_INFINITY,
            end if life.entered >= end => end.next_down(),
            _ => life.entered,
        };
        let mut set = Self {
            entries: lives.iter().map(entry).collect(),
            ends: lives.iter().map(end).collect(),
            failures: lives.iter().filter(|life| life.is_failure()).map(end).collect(),
        };
        for list in [&mut set.entries, &mut set.ends, &mut set.failures] {
            list.sort_by(f64::total_cmp);
        }
        set
    }

    /// How many are at risk at an age: entered before it and not ended before it.
    pub(super) fn at(&self, age: f64) -> usize {
        let entered = self.entries.partition_point(|entry| *entry < age);
        let ended = self.ends.partition_point(|end| *end < age);
        entered.saturating_sub(ended)
    }

    /// How many failed at an age.
    pub(super) fn failed_at(&self, age: f64) -> usize {
        self.failures.partition_point(|at| *at <= age) - self.failures.partition_point(|at| *at < age)
    }

    /// The ages at which something failed, with how many did.
    pub(super) fn failures(&self) -> impl Iterator<Item = (f64, usize)> {
        self.failures.chunk_by(|a, b| a == b).filter_map(|same| Some((*same.first()?, same.len())))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(lives: &[Life], counted_at: CountedAt) -> SurvivalCurve {
        kaplan_meier(lives, 0.9, BoundScale::LogLog, counted_at).expect("computable")
    }

    #[test]
    fn nothing_is_known_beyond_the_oldest_age() {
        let lives = [Life::failed(5.0), Life::running(7.0)];
        let curve = curve(&lives, CountedAt::Found);
        let seen: Vec<_> = [4.9, 5.0, 7.0, 7.1].map(|age| curve.survival_at(age)).into();
        assert_eq!(seen, [Some(1.0), Some(0.5), Some(0.5), None]);
        assert_eq!(curve.age_reached(0.5).at, Some(5.0));
        assert_eq!(curve.age_reached(0.6).at, None);
    }

    #[test]
    fn a_used_part_is_at_risk_from_its_entry_on() {
        let lives = [Life::failed(5.0), Life::failed(8.0), Life::running(9.0).entered_at(6.0)];
        let steps = curve(&lives, CountedAt::Found).steps;
        assert_eq!(steps.iter().map(|step| step.at_risk).collect::<Vec<_>>(), [2, 2]);
        assert_eq!(steps.iter().map(|step| step.survival).collect::<Vec<_>>(), [0.5, 0.25]);
    }

    #[test]
    fn both_ends_of_an_interval_enclose_an_exact_failure() {
        let at = |end| {
            curve(&[Life::failed_between(4.0, 8.0), Life::running(9.0)], end)
                .steps
                .first()
                .map(|step| step.at)
        };
        assert_eq!((at(CountedAt::LastGood), at(CountedAt::Found)), (Some(4.0), Some(8.0)));
        // Never looked at before: counted at its start, where it was at risk.
        let dark = curve(&[Life::failed_between(0.0, 8.0), Life::running(9.0)], CountedAt::LastGood);
        assert_eq!(dark.survival_at(0.0), Some(0.5));
        let used = Life::failed_between(3.0, 8.0).entered_at(3.0);
        let dark = curve(&[used, Life::running(9.0)], CountedAt::LastGood);
        assert_eq!(dark.steps.first().map(|step| (step.at, step.at_risk)), Some((3.0, 2)));
    }

    #[test]
    fn what_cannot_be_asked_is_refused() {
        let refused = kaplan_meier(&[Life::failed(1.0)], 1.0, BoundScale::Log, CountedAt::Found);
        assert_eq!(refused, Err(LifeError::BadShare));
        assert_eq!(kaplan_meier(&[], 0.9, BoundScale::Log, CountedAt::Found), Err(LifeError::Empty));
        assert!(curve(&[Life::running(3.0)], CountedAt::Found).steps.is_empty());
    }
}
