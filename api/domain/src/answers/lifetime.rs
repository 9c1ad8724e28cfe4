//! What a group of lives tells, and how two groups compare: shared by the bench calculator and by the answer about the
//! club's own parts. The statistics themselves are in `formulas::life`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::life::kaplan_meier::{AgeReached, BoundScale, CountedAt, SurvivalCurve, kaplan_meier};
use crate::formulas::life::log_rank::{LogRank, log_rank};
use crate::formulas::life::mtbf::{Mtbf, MtbfError, RateComparison, compare_rates, mtbf};
use crate::formulas::life::weibull::{WeibullError, fit_weibull};
use crate::formulas::life::{Bounded, Life, LifeEnd, LifeError, Truncation};

/// A difference counts as shown when chance alone would bring one as large less often than this. Common practice.
pub const SHOWN_BELOW: f64 = 0.05;

/// With fewer failures no shape is fitted, and the bound is said before the estimate. Common practice, no source.
pub const FEWEST_FOR_A_SHAPE: u32 = 3;

/// How the numbers of a group come about, in words.
pub const LIFE_METHOD: &str = "MTBF: exposure over failures, χ² bounds, each one-sided at the confidence told; \
    survival: Kaplan-Meier with Greenwood's error; Weibull: maximum likelihood with censoring and late entry, bounds \
    on the log scale";

/// How two groups are compared, in words.
pub const COMPARISON_METHOD: &str = "exact binomial test of the failures given the exposures (this decides what is \
    shown, two-sided below 0.05); log-rank test beside it, which is an approximation with few failures";

/// How to compute.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LifeTerms<'a> {
    /// Two-sided confidence of all bounds.
    pub confidence: f64,
    /// How bounds of survival are laid.
    pub scale: BoundScale,
    /// Ages at which survival is asked for.
    pub ages: &'a [f64],
    /// Stretches over which survival is asked for, given that the first age was reached.
    pub stretches: &'a [AgeStretch],
    /// Unit of the ages, for sentences.
    pub unit: &'a str,
}

/// From one age to another.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AgeStretch {
    /// Age reached.
    pub from: f64,
    /// Age to be reached.
    pub to: f64,
}

/// What the lives of one group tell. Ages and exposures in the unit of the answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GroupLife {
    /// Name of the group.
    pub group: String,
    /// Lives in it.
    pub lives: u32,
    /// Failures among them.
    pub failures: u32,
    /// The essence in one sentence. With two failures or fewer it begins with the bound.
    pub says: String,
    /// Mean time between failures with bounds, at a constant rate.
    pub mtbf: Mtbf,
    /// Share still good by age, failures counted where they were found.
    pub survival: SurvivalCurve,
    /// The same with failures counted at the last look that found the part good; absent when all ages are exact.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub survival_from_last_good: Option<SurvivalCurve>,
    /// Age by which half has failed, by the first curve.
    pub median: AgeReached,
    /// Share still good at the ages asked for, by the first curve.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub at_ages: Vec<SurvivalAtAge>,
    /// The fitted Weibull law; null when there is none.
    pub weibull: Option<WeibullLife>,
    /// Why there is no Weibull law.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weibull_refused: Option<String>,
}

/// Share still good at an age.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SurvivalAtAge {
    /// The age.
    pub age: f64,
    /// Share still good; null beyond the oldest age watched.
    pub survival: Option<f64>,
    /// Lower bound.
    pub low: Option<f64>,
    /// Upper bound.
    pub high: Option<f64>,
    /// The same by the Weibull law, with bounds.
    pub weibull: Option<Bounded>,
}

/// A fitted Weibull law with bounds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeibullLife {
    /// Scale: age by which 63.2 % have failed.
    pub eta: Bounded,
    /// Shape: above 1 wear, below 1 early failures.
    pub beta: Bounded,
    /// Age by which a tenth has failed.
    pub b10: Bounded,
    /// Age by which half has failed.
    pub b50: Bounded,
    /// Maximum of the log-likelihood.
    pub log_likelihood: f64,
    /// What to keep in mind.
    pub caution: Option<String>,
    /// Share of those that reached the first age that will reach the second.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stretches: Vec<StretchSurvival>,
}

/// Survival over a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StretchSurvival {
    /// Age reached.
    pub from: f64,
    /// Age to be reached.
    pub to: f64,
    /// Share that reaches it, with bounds.
    pub survival: Bounded,
}

/// Two groups compared by their failures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GroupComparison {
    /// First group.
    pub first: String,
    /// Second group.
    pub second: String,
    /// Whether the failures show a difference.
    pub is_shown: bool,
    /// The result in one sentence.
    pub says: String,
    /// Whether the bounds of both MTBF overlap.
    pub is_bounds_overlap: bool,
    /// The exact test of the counts; null when nothing failed in either group.
    pub rates: Option<RateComparison>,
    /// The log-rank test; null when the groups were never at risk together.
    pub log_rank: Option<LogRank>,
    /// How the groups were compared.
    pub method: String,
}

/// Judges one group.
pub(crate) fn judge_group(
    group: &str,
    lives: &[Life],
    terms: &LifeTerms<'_>,
) -> Result<GroupLife, LifeError> {
    let curve = |end| kaplan_meier(lives, terms.confidence, terms.scale, end);
    let survival = curve(CountedAt::Found)?;
    let has_intervals = lives.iter().any(|life| matches!(life.end, LifeEnd::FailedBetween { .. }));
    let survival_from_last_good = has_intervals.then(|| curve(CountedAt::LastGood)).transpose()?;
    let failures = whole(lives.iter().filter(|life| life.is_failure()).count());
    let exposure: f64 = lives.iter().map(Life::exposure).sum();
    let mtbf = mtbf(exposure, failures, terms.confidence, Truncation::Time).map_err(|why| match why {
        MtbfError::Share(why) => why,
        _ => LifeError::BadAge { life: 1 },
    })?;
    let (fit, refused) = match failures {
        few if few < FEWEST_FOR_A_SHAPE => (None, Some(too_few(few))),
        _ => match fit_weibull(lives) {
            Ok(fit) => (Some(fit), None),
            Err(why) => (None, Some(why.to_string())),
        },
    };
    let weibull = |age: f64| fit.and_then(|fit| fit.survival(age, terms.confidence).ok());
    let at_ages = terms.ages.iter().map(|age| at_age(&survival, *age, weibull(*age))).collect();
    let (weibull, weibull_refused) = match fit.map(|fit| weibull_life(&fit, terms)).transpose() {
        Ok(law) => (law, refused),
        Err(why) => (None, Some(why.to_string())),
    };
    Ok(GroupLife {
        group: group.to_owned(),
        lives: whole(lives.len()),
        failures,
        says: say(group, &mtbf, terms.unit),
        mtbf,
        median: survival.age_reached(0.5),
        survival,
        survival_from_last_good,
        at_ages,
        weibull,
        weibull_refused,
    })
}

fn too_few(failures: u32) -> String {
    format!(
        "{}: fewer than {FEWEST_FOR_A_SHAPE} show no shape; go by the lower bound of the MTBF",
        counted(failures, "failure")
    )
}

fn at_age(curve: &SurvivalCurve, age: f64, weibull: Option<Bounded>) -> SurvivalAtAge {
    let survival = curve.survival_at(age);
    let step = survival.and_then(|_| curve.step_at(age));
    SurvivalAtAge {
        age,
        survival,
        low: step.and_then(|step| step.low),
        high: step.and_then(|step| step.high),
        weibull,
    }
}

fn weibull_life(
    fit: &crate::formulas::life::weibull::WeibullFit,
    terms: &LifeTerms<'_>,
) -> Result<WeibullLife, WeibullError> {
    let confidence = terms.confidence;
    let stretches = terms
        .stretches
        .iter()
        .map(|stretch| {
            let survival = fit.conditional_survival(stretch.from, stretch.to, confidence)?;
            Ok(StretchSurvival { from: stretch.from, to: stretch.to, survival })
        })
        .collect::<Result<_, WeibullError>>()?;
    let caution = (fit.failures < 10)
        .then(|| format!("the shape rests on {} and is biased high", counted(fit.failures, "failure")));
    Ok(WeibullLife {
        eta: fit.eta_bounds(confidence)?,
        beta: fit.beta_bounds(confidence)?,
        b10: fit.b_life(0.1, confidence)?,
        b50: fit.b_life(0.5, confidence)?,
        log_likelihood: fit.log_likelihood,
        caution,
        stretches,
    })
}

/// One sentence about a group's MTBF: with few failures the bound comes first.
fn say(group: &str, mtbf: &Mtbf, unit: &str) -> String {
    let base = format!("{group}: {} in {} {unit}", counted(mtbf.failures, "failure"), short(mtbf.exposure));
    let sure = format!("{:.0} %", 100.0 * mtbf.one_sided_confidence);
    match (mtbf.mtbf, mtbf.high) {
        (Some(mean), Some(high)) if mtbf.failures >= FEWEST_FOR_A_SHAPE => {
            format!(
                "{base}; MTBF {} ({} to {}, each bound {sure})",
                short(mean),
                short(mtbf.low),
                short(high)
            )
        }
        (Some(mean), Some(high)) => format!(
            "{base}; MTBF at least {} and at most {} (each {sure}), {} by the count alone",
            short(mtbf.low),
            short(high),
            short(mean)
        ),
        _ => format!(
            "{base}; MTBF at least {} ({sure}); nothing failed, so there is no estimate",
            short(mtbf.low)
        ),
    }
}

/// Compares two groups by their failures.
pub(crate) fn compare_groups(first: (&GroupLife, &[Life]), second: (&GroupLife, &[Life])) -> GroupComparison {
    let ((one, of_one), (two, of_two)) = (first, second);
    let rates = compare_rates((one.mtbf.exposure, one.failures), (two.mtbf.exposure, two.failures)).ok();
    let test = log_rank(of_one, of_two).ok();
    let is_shown = rates.is_some_and(|rates| rates.p_two_sided < SHOWN_BELOW);
    let reaches = |a: &Mtbf, b: &Mtbf| a.high.is_none_or(|high| high >= b.low);
    let is_bounds_overlap = reaches(&one.mtbf, &two.mtbf) && reaches(&two.mtbf, &one.mtbf);
    let names = format!("{} against {}", one.group, two.group);
    let says = match (rates, is_shown) {
        (None, _) => format!("{names}: nothing failed in either, so the failures show nothing"),
        (Some(rates), false) => {
            format!("{names}: the failures show no difference (p {:.2}, two-sided)", rates.p_two_sided)
        }
        (Some(rates), true) => {
            let worse = if rates.p_first_worse < rates.p_first_better { one } else { two };
            format!("{names}: {} fails more often (p {:.4}, two-sided)", worse.group, rates.p_two_sided)
        }
    };
    GroupComparison {
        first: one.group.clone(),
        second: two.group.clone(),
        is_shown,
        says,
        is_bounds_overlap,
        rates,
        log_rank: test,
        method: COMPARISON_METHOD.to_owned(),
    }
}

/// Every pair of groups, in order; none when there are more than six groups, where pairs only confuse.
pub(crate) fn pairs<T>(groups: &[T]) -> impl Iterator<Item = (&T, &T)> {
    let all = if groups.len() <= 6 { groups } else { &[] };
    all.iter().enumerate().flat_map(move |(index, one)| all.iter().skip(index + 1).map(move |two| (one, two)))
}

pub(crate) fn whole(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

/// Such as "1 failure" and "2 failures".
pub(crate) fn counted(number: u32, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}

/// A number for a sentence: whole from 100 on, else to three figures at most.
pub(crate) fn short(number: f64) -> String {
    let text = match number.abs() {
        big if big >= 100.0 => return format!("{number:.0}"),
        middle if middle >= 1.0 => format!("{number:.1}"),
        _ => format!("{number:.3}"),
    };
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    const TERMS: LifeTerms<'_> =
        LifeTerms { confidence: 0.9, scale: BoundScale::LogLog, ages: &[], stretches: &[], unit: "flights" };

    fn judged(lives: &[Life]) -> GroupLife {
        judge_group("A", lives, &TERMS).expect("lives")
    }

    #[test]
    fn with_few_failures_the_bound_is_said_first() {
        let none = judged(&[Life::running(214.0)]);
        assert_eq!(
            none.says,
            "A: 0 failures in 214 flights; MTBF at least 71.4 (95 %); nothing failed, so there is no estimate"
        );
        let one = judged(&[Life::running(1193.0), Life::failed(100.0)]);
        assert!(
            one.says.starts_with("A: 1 failure in 1293 flights; MTBF at least 273 and at most 25208"),
            "{}",
            one.says
        );
        assert!(
            one.weibull.is_none() && one.weibull_refused.is_some_and(|why| why.starts_with("1 failure:"))
        );
    }

    #[test]
    fn pairs_are_told_only_among_few_groups() {
        assert_eq!(pairs(&[1, 2, 3]).collect::<Vec<_>>(), [(&1, &2), (&1, &3), (&2, &3)]);
        assert_eq!(pairs(&[0; 7]).count(), 0);
    }

    #[test]
    fn numbers_are_said_short() {
        let said: Vec<String> = [1172.4, 71.43, 80.0, 0.32, 0.0].map(short).into();
        assert_eq!(said, ["1172", "71.4", "80", "0.32", "0"]);
    }
}
