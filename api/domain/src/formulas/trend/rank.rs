//! Whether one sample tends to lie above another: the rank test of Mann and Whitney, exact by counting. It asks
//! nothing of the shape of the values. How *large* the difference is lives elsewhere.

use std::cmp::Ordering;

use serde::{Deserialize, Serialize};
use statrs::function::erf::erfc;
use utoipa::ToSchema;

use crate::formulas::all_finite;

/// Longest sample that is taken.
pub const MAX_SAMPLE: usize = 10_000;

/// Largest product of the smaller sample and both together that is still counted out: about 20 million steps.
const MAX_COUNTED: usize = 3_200;

/// What the ranks of two samples show.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RankTest {
    /// Values in the first sample.
    pub first_count: usize,
    /// Values in the second sample.
    pub second_count: usize,
    /// U: pairs in which the first sample's value is larger, an equal pair counting one half.
    pub u: f64,
    /// Share of pairs in which the first sample's value is larger: U / (n·m), 0.5 when neither lies above.
    pub share_larger: f64,
    /// One-sided: chance of a U at least as large if both samples came from one population.
    pub p_larger: f64,
    /// One-sided the other way: chance of a U at most as large.
    pub p_smaller: f64,
    /// Twice the smaller of both, at most 1.
    pub p_two_sided: f64,
    /// Whether the values hold equal ones across or within the samples.
    pub has_ties: bool,
    /// The count behind the chances; absent when the samples are too long to count out.
    pub counted: Option<CountedWays>,
    /// How the chances were found.
    pub method: RankMethod,
}

/// Ways to deal the pooled values into two samples of these sizes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CountedWays {
    /// All ways.
    pub ways: u64,
    /// Ways with a U at least as large as the one seen.
    pub at_least: u64,
    /// Ways with a U at most as large as the one seen.
    pub at_most: u64,
}

/// How the chances of a rank test were found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RankMethod {
    /// All ways counted; no two values are equal.
    Exact,
    /// All ways counted over mid-ranks: exact for the ties seen, but not the figure of a table for untied values.
    ExactGivenTies,
    /// Normal approximation with continuity and tie correction: not exact.
    NormalApproximation,
}

impl RankMethod {
    /// The method in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Exact => "Mann-Whitney rank test, exact by counting",
            Self::ExactGivenTies => {
                "Mann-Whitney rank test, exact by counting over mid-ranks, given the equal values seen"
            }
            Self::NormalApproximation => {
                "Mann-Whitney rank test by the normal approximation with continuity and tie correction, not exact"
            }
        }
    }
}

/// Why two samples cannot be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RankError {
    /// A sample is empty.
    #[error("a rank test needs at least one value in each sample")]
    Empty,
    /// A sample is too long.
    #[error("a sample holds more than {MAX_SAMPLE} values; split it")]
    TooLong,
    /// A value is infinite or not a number.
    #[error("every value must be a finite number")]
    NotFinite,
    /// All values are equal.
    #[error("all values are equal, so there is nothing to compare")]
    NoSpread,
}

/// Compares two samples by ranks: does the first tend to be larger?
///
/// U = Σ over pairs of [first > second] + ½·[first = second]. Under "one population" every way of dealing the pooled
/// values into samples of these sizes is as likely, so p is a count: ways with a U at least as large / all ways.
/// Equal values get mid-ranks and the ways are counted over those ([`RankMethod::ExactGivenTies`]). Samples too long
/// to count out get the normal approximation, and say so.
///
/// # Errors
/// An empty or too long sample, values that are not finite, all values equal.
///
/// # Source
/// H. B. Mann and D. R. Whitney, *On a test of whether one of two random variables is stochastically larger than the
/// other*, Annals of Mathematical Statistics 18 (1947); tie correction: E. L. Lehmann, *Nonparametrics* (1975),
/// section 1.4; both from memory.
///
/// ```
/// use preen_domain::formulas::trend::rank::rank_test;
/// // Three values all above three others: 1 of the 20 ways to deal six values.
/// let test = rank_test(&[4.0, 5.0, 6.0], &[1.0, 2.0, 3.0])?;
/// assert_eq!((test.u, test.p_larger, test.p_two_sided), (9.0, 0.05, 0.1));
/// # Ok::<(), preen_domain::formulas::trend::rank::RankError>(())
/// ```
pub fn rank_test(first: &[f64], second: &[f64]) -> Result<RankTest, RankError> {
    if first.is_empty() || second.is_empty() {
        return Err(RankError::Empty);
    }
    if first.len() > MAX_SAMPLE || second.len() > MAX_SAMPLE {
        return Err(RankError::TooLong);
    }
    if !all_finite(first) || !all_finite(second) {
        return Err(RankError::NotFinite);
    }
    let pool = Pool::of(first, second);
    if pool.ties.len() < 2 {
        return Err(RankError::NoSpread);
    }
    let (n, m) = (count(first.len()), count(second.len()));
    // Ranks are doubled so that mid-ranks are whole numbers.
    let u = (count(pool.first_sum) - n * (n + 1.0)) / 2.0;
    let has_ties = pool.ties.iter().any(|ties| *ties > 1);
    let counted = pool.counted_ways(first.len(), second.len());
    let (p_larger, p_smaller, method) = match counted {
        Some(ways) if has_ties => (ways.share_at_least(), ways.share_at_most(), RankMethod::ExactGivenTies),
        Some(ways) => (ways.share_at_least(), ways.share_at_most(), RankMethod::Exact),
        None => {
            let spread = pool.normal_spread(n, m);
            let above = |distance: f64| 0.5 * erfc(distance / spread / std::f64::consts::SQRT_2);
            let middle = n * m / 2.0;
            (
                above(u - middle - 0.5).min(1.0),
                above(middle - u - 0.5).min(1.0),
                RankMethod::NormalApproximation,
            )
        }
    };
    Ok(RankTest {
        first_count: first.len(),
        second_count: second.len(),
        u,
        share_larger: u / (n * m),
        p_larger,
        p_smaller,
        p_two_sided: (2.0 * p_larger.min(p_smaller)).min(1.0),
        has_ties,
        counted,
        method,
    })
}

impl CountedWays {
    fn share_at_least(&self) -> f64 {
        share(self.at_least, self.ways)
    }

    fn share_at_most(&self) -> f64 {
        share(self.at_most, self.ways)
    }
}

/// Both samples in one order.
struct Pool {
    /// Doubled mid-ranks of all values, in order.
    ranks: Vec<usize>,
    /// How many values share each distinct value.
    ties: Vec<usize>,
    /// Sum of the first sample's doubled ranks.
    first_sum: usize,
}

impl Pool {
    fn of(first: &[f64], second: &[f64]) -> Self {
        let mut values: Vec<(f64, bool)> = first.iter().map(|value| (*value, true)).collect();
        values.extend(second.iter().map(|value| (*value, false)));
        values.sort_by(|a, b| a.0.partial_cmp(&b.0).unwrap_or(Ordering::Equal));
        let (mut ranks, mut ties, mut first_sum) = (Vec::new(), Vec::new(), 0);
        #[expect(clippy::float_cmp, reason = "ties are values written alike")]
        for group in values.chunk_by(|a, b| a.0 == b.0) {
            // Ranks below+1 ..= below+len, their mean doubled.
            let doubled = 2 * ranks.len() + group.len() + 1;
            first_sum += doubled * group.iter().filter(|(_, is_first)| *is_first).count();
            ranks.extend(std::iter::repeat_n(doubled, group.len()));
            ties.push(group.len());
        }
        Self { ranks, ties, first_sum }
    }

    /// Counts the ways by the sum of ranks of the smaller sample.
    fn counted_ways(&self, first: usize, second: usize) -> Option<CountedWays> {
        let taken = first.min(second);
        let sums = self.sums_of(taken)?;
        let ways = binomial(self.ranks.len(), taken)?;
        let all: usize = self.ranks.iter().sum();
        let seen = if first <= second { self.first_sum } else { all - self.first_sum };
        let at_most: u64 = sums.iter().take(seen + 1).sum();
        let at_least: u64 = sums.iter().skip(seen).sum();
        let (at_least, at_most) = if first <= second { (at_least, at_most) } else { (at_most, at_least) };
        Some(CountedWays { ways, at_least, at_most })
    }

    /// `sums[s]`: ways to take `taken` values whose doubled ranks add up to s; `None` when there are too many.
    fn sums_of(&self, taken: usize) -> Option<Vec<u64>> {
        let total = self.ranks.len();
        if taken.checked_mul(total)? > MAX_COUNTED {
            return None;
        }
        binomial(total, taken)?;
        let most: usize = self.ranks.iter().rev().take(taken).sum();
        let mut table = vec![vec![0u64; most + 1]; taken + 1];
        *table.first_mut()?.first_mut()? = 1;
        for rank in &self.ranks {
            for k in (1..=taken).rev() {
                let (below, from) = table.split_at_mut(k);
                let (Some(fewer), Some(more)) = (below.last(), from.first_mut()) else { continue };
                for (to, ways) in more.iter_mut().skip(*rank).zip(fewer) {
                    *to += ways;
                }
            }
        }
        table.pop()
    }

    /// Standard deviation of U by the normal approximation, mended for ties.
    fn normal_spread(&self, n: f64, m: f64) -> f64 {
        let total = n + m;
        let tied: f64 = self.ties.iter().map(|ties| count(*ties).powi(3) - count(*ties)).sum();
        (n * m / 12.0 * (total + 1.0 - tied / (total * (total - 1.0)))).sqrt()
    }
}

/// For samples without ties: the largest m with P(U ≤ m − 1) ≤ `tail`, and that chance. `None` when even U = 0 is
/// likelier than the tail, or the samples are too long to count out.
pub(super) fn rank_tail(first: usize, second: usize, tail: f64) -> Option<(usize, f64)> {
    let taken = first.min(second);
    let (ranks, ties) = ((1..=first + second).map(|rank| 2 * rank).collect(), vec![1; first + second]);
    let ways = binomial(first + second, taken)?;
    let pool = Pool { ranks, ties, first_sum: 0 };
    let sums = pool.sums_of(taken)?;
    let (mut below, mut rank) = (0, 0);
    // Doubled ranks of m untied values add up to even numbers from taken·(taken + 1) on, one step a U.
    for sum in sums.iter().skip(taken * (taken + 1)).step_by(2) {
        if share(below + sum, ways) > tail {
            break;
        }
        below += sum;
        rank += 1;
    }
    (rank > 0).then(|| (rank, share(below, ways)))
}

/// Ways to choose `k` of `n`; `None` past the range of the count.
fn binomial(n: usize, k: usize) -> Option<u64> {
    let mut ways: u128 = 1;
    for step in 0..k {
        // Always whole: a product of step+1 neighbours divides by (step+1)!.
        ways = ways.checked_mul(u128::try_from(n - step).ok()?)? / (u128::try_from(step).ok()? + 1);
        if ways > u128::from(u64::MAX) {
            return None;
        }
    }
    u64::try_from(ways).ok()
}

#[expect(
    clippy::as_conversions,
    reason = "counts far below 2^53 in exactness that matters: a ratio of counts"
)]
fn share(part: u64, whole: u64) -> f64 {
    part as f64 / whole as f64
}

#[expect(clippy::as_conversions, reason = "sizes and rank sums of capped samples are below 2^53")]
fn count(number: usize) -> f64 {
    number as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every way dealt out one by one.
    fn by_brute_force(first: &[f64], second: &[f64]) -> (u64, u64, u64) {
        let all: Vec<f64> = first.iter().chain(second).copied().collect();
        let u_of = |mask: u32| -> f64 {
            let dealt = |index: usize| mask >> index & 1 == 1;
            let pairs = (0..all.len()).flat_map(|a| (0..all.len()).map(move |b| (a, b)));
            pairs
                .filter(|(a, b)| dealt(*a) && !dealt(*b))
                .map(|(a, b)| match all[a].partial_cmp(&all[b]).expect("finite") {
                    Ordering::Greater => 1.0,
                    Ordering::Equal => 0.5,
                    Ordering::Less => 0.0,
                })
                .sum()
        };
        let seen = u_of((1 << first.len()) - 1);
        let of_size = u32::try_from(first.len()).expect("short");
        let deals = (0..1u32 << all.len()).filter(|mask| mask.count_ones() == of_size);
        deals.fold((0, 0, 0), |(ways, least, most), mask| {
            let u = u_of(mask);
            (ways + 1, least + u64::from(u >= seen), most + u64::from(u <= seen))
        })
    }

    #[test]
    fn the_count_is_that_of_dealing_out_every_way() {
        let check = |first: &[f64], second: &[f64]| {
            let counted = rank_test(first, second).expect("comparable").counted.expect("counted");
            let expected = by_brute_force(first, second);
            assert_eq!((counted.ways, counted.at_least, counted.at_most), expected, "{first:?} {second:?}");
        };
        check(&[1.1, 2.5, 9.0], &[0.3, 4.0, 5.0, 7.0]);
        check(&[1.1, 2.5, 9.0, 3.3, 8.0], &[0.3, 4.0]);
        check(&[1.0, 2.0, 2.0], &[2.0, 3.0, 1.0, 4.0]);
        check(&[5.0], &[1.0, 1.0, 5.0]);
        check(&[0.0, -0.0, 1.0, 2.0], &[-0.0, 3.0]);
    }

    #[test]
    fn ties_are_said() {
        let method = |first: &[f64], second: &[f64]| rank_test(first, second).map(|test| test.method);
        assert_eq!(method(&[1.0, 2.0], &[3.0]), Ok(RankMethod::Exact));
        assert_eq!(method(&[1.0, 3.0], &[3.0]), Ok(RankMethod::ExactGivenTies));
        let long: Vec<f64> = (0..200).map(f64::from).collect();
        assert_eq!(method(&long, &long), Ok(RankMethod::NormalApproximation));
    }

    #[test]
    fn the_approximation_meets_the_count_where_both_can_be_had() {
        let first: Vec<f64> = (0..40).map(|index| f64::from(index) + 3.4).collect();
        let second: Vec<f64> = (0..39).map(f64::from).collect();
        let pool = Pool::of(&first, &second);
        assert_eq!(binomial(79, 39), None);
        let (first, second) = (&first[..28], &second[..28]);
        let test = rank_test(first, second).expect("comparable");
        let spread = Pool::of(first, second).normal_spread(28.0, 28.0);
        let z = (test.u - 392.0 - 0.5) / spread;
        assert!((0.5 * erfc(z / 2f64.sqrt()) - test.p_larger).abs() < 1e-3);
        assert_eq!(pool.ranks.len(), 79);
    }

    #[test]
    fn what_cannot_be_compared_is_refused() {
        assert_eq!(rank_test(&[], &[1.0]), Err(RankError::Empty));
        assert_eq!(rank_test(&[1.0], &[f64::NAN]), Err(RankError::NotFinite));
        assert_eq!(rank_test(&[1.0, 1.0], &[1.0]), Err(RankError::NoSpread));
        assert_eq!(rank_test(&vec![1.0; MAX_SAMPLE + 1], &[2.0]), Err(RankError::TooLong));
    }
}
