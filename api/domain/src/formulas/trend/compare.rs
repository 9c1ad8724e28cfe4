//! Does one group of parts wear faster than another? Rates of single parts, compared by ranks and by the typical
//! difference. Failures are compared elsewhere: measured wear says more than counts of failures.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::count;
use super::rank::{RankError, RankTest, rank_tail, rank_test};
use super::theil_sen::median;
use crate::formulas::all_finite;

/// A one-sided chance at most this counts as shown. Common practice.
pub const SHOWN_AT: f64 = 0.05;

/// Most parts of a group.
pub const MAX_GROUP: usize = 1_000;

/// How far one part has worn, over how much use.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartWear {
    /// Last reading less the reading when new, in the unit of the readings.
    pub worn: f64,
    /// Use over which it wore, above 0.
    pub used: f64,
}

/// The rates of one group.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GroupRate {
    /// Parts.
    pub parts: usize,
    /// Mean of the parts' rates, per use.
    pub mean: f64,
    /// Median of the parts' rates, per use.
    pub median: f64,
}

/// Two groups' wear compared.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WearRateComparison {
    /// The first group.
    pub first: GroupRate,
    /// The second group.
    pub second: GroupRate,
    /// Typical difference, first less second, per use: the median over all pairs of parts.
    pub difference: f64,
    /// Interval of that difference; absent when the groups are too small or too large for it to be counted.
    pub difference_interval: Option<DifferenceInterval>,
    /// The rank test of the rates.
    pub test: RankTest,
    /// What may be said.
    pub verdict: RateVerdict,
}

/// Interval of a typical difference, by counting.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DifferenceInterval {
    /// Lower bound.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
    /// Chance to hold the true difference, at least 0.9; equal rates make it larger.
    pub level: f64,
}

/// What a comparison allows to be said, at one-sided 5 %.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RateVerdict {
    /// The first group wears faster.
    FirstFaster,
    /// The second group wears faster.
    SecondFaster,
    /// Neither is shown, which is not the same as equal.
    NotShown,
}

/// Why groups cannot be compared. Parts are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CompareError {
    /// A part without use, or a number that is not finite.
    #[error("part {part} of the {} group needs a finite wear and a use above zero", group_name(*.is_first))]
    BadPart {
        /// Whether it is in the first group.
        is_first: bool,
        /// Part, from 1.
        part: usize,
    },
    /// A group is too large.
    #[error("a group takes at most {MAX_GROUP} parts; draw a sample")]
    TooManyParts,
    /// The ranks cannot be compared.
    #[error(transparent)]
    Rank(#[from] RankError),
}

const fn group_name(is_first: bool) -> &'static str {
    if is_first { "first" } else { "second" }
}

/// Compares two groups by the wear per use of each part.
///
/// The rank test asks whether the first group tends to wear faster; the typical difference is the median of all
/// differences between a part of the first and one of the second, with the interval that inverts the rank test (90 %,
/// two-sided).
///
/// # Errors
/// An empty or too large group, a part without use, numbers that are not finite, all rates alike.
///
/// # Source
/// As [`rank_test`]; the difference and its interval: J. L. Hodges and E. L. Lehmann, *Estimates of location based on
/// rank tests*, Annals of Mathematical Statistics 34 (1963), from memory.
///
/// ```
/// use preen_domain::formulas::trend::compare::{PartWear, RateVerdict, compare_rates};
/// let part = |worn, used| PartWear { worn, used };
/// let fast = [part(0.4, 100.0), part(0.5, 100.0), part(0.9, 150.0)];
/// let slow = [part(0.1, 100.0), part(0.2, 100.0), part(0.3, 100.0)];
/// let compared = compare_rates(&fast, &slow)?;
/// assert_eq!((compared.test.p_larger, compared.verdict), (0.05, RateVerdict::FirstFaster));
/// # Ok::<(), preen_domain::formulas::trend::compare::CompareError>(())
/// ```
pub fn compare_rates(first: &[PartWear], second: &[PartWear]) -> Result<WearRateComparison, CompareError> {
    let (a, b) = (rates(first, true)?, rates(second, false)?);
    let test = rank_test(&a, &b)?;
    let mut differences: Vec<f64> = a.iter().flat_map(|one| b.iter().map(move |other| one - other)).collect();
    differences.sort_by(f64::total_cmp);
    let verdict = if test.p_larger <= SHOWN_AT {
        RateVerdict::FirstFaster
    } else if test.p_smaller <= SHOWN_AT {
        RateVerdict::SecondFaster
    } else {
        RateVerdict::NotShown
    };
    Ok(WearRateComparison {
        first: group(a),
        second: group(b),
        difference: median(&differences),
        difference_interval: interval(&differences, first.len(), second.len()),
        test,
        verdict,
    })
}

fn rates(parts: &[PartWear], is_first: bool) -> Result<Vec<f64>, CompareError> {
    if parts.len() > MAX_GROUP {
        return Err(CompareError::TooManyParts);
    }
    let rate = |(index, part): (usize, &PartWear)| {
        let rate = part.worn / part.used;
        let is_good =
            part.used > 0.0 && all_finite(&[part.worn, part.used, rate]) && rate.abs() < f64::MAX / 4.0;
        if is_good { Ok(rate) } else { Err(CompareError::BadPart { is_first, part: index + 1 }) }
    };
    parts.iter().enumerate().map(rate).collect()
}

fn group(mut rates: Vec<f64>) -> GroupRate {
    rates.sort_by(f64::total_cmp);
    let parts = rates.len();
    let mean = rates.iter().map(|rate| rate / count(parts)).sum();
    GroupRate { parts, mean, median: median(&rates) }
}

fn interval(sorted: &[f64], first: usize, second: usize) -> Option<DifferenceInterval> {
    let (rank, tail) = rank_tail(first, second, SHOWN_AT)?;
    let low = *sorted.get(rank.checked_sub(1)?)?;
    let high = *sorted.get(sorted.len().checked_sub(rank)?)?;
    (low <= high).then_some(DifferenceInterval { low, high, level: 1.0 - 2.0 * tail })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn swapped_groups_say_the_reverse() {
        let part = |worn| PartWear { worn, used: 10.0 };
        let (fast, slow) = ([7.0, 8.0, 9.0, 6.5].map(part), [1.0, 2.0, 6.0, 5.0].map(part));
        let (one, other) =
            (compare_rates(&fast, &slow).expect("compared"), compare_rates(&slow, &fast).expect("compared"));
        assert_eq!((one.verdict, other.verdict), (RateVerdict::FirstFaster, RateVerdict::SecondFaster));
        assert_eq!((one.difference, one.test.p_larger), (-other.difference, other.test.p_smaller));
        let (one, other) =
            (one.difference_interval.expect("1/70 a side"), other.difference_interval.expect("as well"));
        assert_eq!((one.low, one.high), (-other.high, -other.low));
    }

    #[test]
    fn parts_at_fault_are_named() {
        let part = |worn, used| PartWear { worn, used };
        let good = [part(1.0, 1.0)];
        let check = |first: &[PartWear], expected| assert_eq!(compare_rates(first, &good), Err(expected));
        check(&[part(1.0, 2.0), part(1.0, 0.0)], CompareError::BadPart { is_first: true, part: 2 });
        check(&[part(f64::NAN, 2.0)], CompareError::BadPart { is_first: true, part: 1 });
        check(&[part(2.0, 2.0)], CompareError::Rank(RankError::NoSpread));
        check(&[], CompareError::Rank(RankError::Empty));
        let bad = CompareError::BadPart { is_first: false, part: 3 };
        assert_eq!(bad.to_string(), "part 3 of the second group needs a finite wear and a use above zero");
    }
}
