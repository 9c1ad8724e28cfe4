//! The robust slope of Theil and Sen: the median of the slopes of all pairs, with its interval. It stands beside the
//! least-squares line and shows when one odd reading carries that line.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{FitError, Point, check_points, count};
use crate::formulas::all_finite;
use crate::formulas::quantile::two_sided_z;

/// Most points whose pairs are all looked at.
pub const MAX_ROBUST_POINTS: usize = 1_000;

/// Longest list for which the interval is found by counting.
const MAX_COUNTED: usize = 60;

/// The robust line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RobustLine {
    /// Median slope of all pairs of points at different x.
    pub slope: f64,
    /// Median of y − slope · x.
    pub intercept: f64,
    /// Interval of the slope; absent when the points are too few for the level.
    pub interval: Option<RobustInterval>,
    /// Pairs looked at.
    pub pairs: usize,
}

/// Interval of a robust slope.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RobustInterval {
    /// Lower bound.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
    /// Chance to hold the true slope, at least the one asked for when exact.
    pub level: f64,
    /// Found by counting orders (no two x and no two y alike); otherwise by the normal approximation with ties.
    pub is_exact: bool,
}

/// The robust line through the points, with a two-sided interval of the slope at `level`.
///
/// The slopes below the true one are as many as discordant pairs in a random order; the interval runs from the m-th
/// slope from below to the m-th from above, with the largest m for which P(discordant ≤ m − 1) ≤ (1 − level)/2.
/// Up to 60 points without ties that is counted exactly; else the normal approximation of Kendall's S with ties is
/// taken, and said.
///
/// # Errors
/// Fewer than three points or more than [`MAX_ROBUST_POINTS`], numbers that are not finite, all x alike, a level outside
/// (0.5, 1).
///
/// # Source
/// P. K. Sen, *Estimates of the regression coefficient based on Kendall's tau*, Journal of the American Statistical
/// Association 63 (1968), from memory.
///
/// ```
/// use preen_domain::formulas::trend::{Point, theil_sen::theil_sen};
/// // One wild reading: the median slope stays at 1.
/// let points = [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (3.0, 3.0), (4.0, 40.0)].map(|(x, y)| Point::new(x, y));
/// assert_eq!(theil_sen(&points, 0.9)?.slope, 1.0);
/// # Ok::<(), preen_domain::formulas::trend::FitError>(())
/// ```
pub fn theil_sen(points: &[Point], level: f64) -> Result<RobustLine, FitError> {
    check_points(points, 3)?;
    if points.len() > MAX_ROBUST_POINTS {
        return Err(FitError::TooManyPoints);
    }
    if !(level > 0.5 && level < 1.0) {
        return Err(FitError::BadLevel);
    }
    let mut slopes = Vec::new();
    for (index, a) in points.iter().enumerate() {
        let pairs = points.iter().skip(index + 1).filter(|b| b.x != a.x);
        slopes.extend(pairs.map(|b| (b.y - a.y) / (b.x - a.x)));
    }
    if slopes.is_empty() {
        return Err(FitError::NoSpread);
    }
    if !all_finite(&slopes) {
        return Err(FitError::Scale);
    }
    slopes.sort_by(f64::total_cmp);
    let slope = median(&slopes);
    let mut rest: Vec<f64> = points.iter().map(|point| point.y - slope * point.x).collect();
    if !all_finite(&rest) {
        return Err(FitError::Scale);
    }
    rest.sort_by(f64::total_cmp);
    Ok(RobustLine {
        slope,
        intercept: median(&rest),
        interval: interval(points, &slopes, level),
        pairs: slopes.len(),
    })
}

/// Median of a sorted list: the middle one, or the mean of both.
pub(super) fn median(sorted: &[f64]) -> f64 {
    let middle = sorted.len() / 2;
    let at = |index: usize| sorted.get(index).copied().unwrap_or(0.0);
    if sorted.len() % 2 == 1 { at(middle) } else { at(middle.saturating_sub(1)) / 2.0 + at(middle) / 2.0 }
}

fn interval(points: &[Point], slopes: &[f64], level: f64) -> Option<RobustInterval> {
    let ties = |of: fn(&Point) -> f64| -> Vec<usize> {
        let mut values: Vec<f64> = points.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        values.chunk_by(|a, b| a == b).map(<[f64]>::len).collect()
    };
    let (x_ties, y_ties) = (ties(|point| point.x), ties(|point| point.y));
    let n = points.len();
    let is_exact = n <= MAX_COUNTED && x_ties.len() == n && y_ties.len() == n;
    let (rank, level) = if is_exact {
        counted_rank(n, (1.0 - level) / 2.0)?
    } else {
        (approximate_rank(n, slopes.len(), &x_ties, &y_ties, level)?, level)
    };
    let low = *slopes.get(rank.checked_sub(1)?)?;
    let high = *slopes.get(slopes.len().checked_sub(rank)?)?;
    (low <= high).then_some(RobustInterval { low, high, level, is_exact })
}

/// The largest m with P(discordant ≤ m − 1) ≤ tail among n! orders, and the level that it gives.
fn counted_rank(n: usize, tail: f64) -> Option<(usize, f64)> {
    // chances[d]: of d discordant pairs among the first k values; each new one adds 0 … k − 1 with equal chance.
    let mut chances = vec![1.0];
    for k in 2..=n {
        let mut next = vec![0.0; chances.len() + k - 1];
        for (from, chance) in chances.iter().enumerate() {
            for to in next.iter_mut().skip(from).take(k) {
                *to += chance / count(k);
            }
        }
        chances = next;
    }
    let mut below = 0.0;
    let mut rank = 0;
    for chance in &chances {
        // A rounding above the tail, as 1/20 + … in another order, is none.
        if below + chance > tail * (1.0 + 1e-12) {
            break;
        }
        below += chance;
        rank += 1;
    }
    (rank > 0).then_some((rank, 1.0 - 2.0 * below))
}

fn approximate_rank(n: usize, pairs: usize, x_ties: &[usize], y_ties: &[usize], level: f64) -> Option<usize> {
    let term = |size: usize| count(size) * (count(size) - 1.0) * (2.0 * count(size) + 5.0);
    let tied: f64 = x_ties.iter().chain(y_ties).map(|size| term(*size)).sum();
    let spread = ((term(n) - tied) / 18.0).max(0.0).sqrt();
    let z = two_sided_z(level)?;
    let rank = (count(pairs) - z * spread) / 2.0;
    if !(rank >= 1.0 && rank <= count(pairs)) {
        return None;
    }
    #[expect(clippy::as_conversions, reason = "between 1 and the number of pairs: checked above")]
    Some(rank.floor() as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(list: &[(f64, f64)]) -> Vec<Point> {
        list.iter().map(|(x, y)| Point::new(*x, *y)).collect()
    }

    #[test]
    fn few_points_have_a_slope_without_interval_or_with_all_of_them() {
        let three = theil_sen(&points(&[(0.0, 0.0), (1.0, 2.0), (2.0, 3.0)]), 0.9).expect("a slope");
        assert_eq!((three.slope, three.interval), (1.5, None));
        let four = points(&[(0.0, 0.0), (1.0, 2.0), (2.0, 3.0), (3.0, 3.5)]);
        let interval = theil_sen(&four, 0.9).expect("a slope").interval.expect("1/24 a side");
        assert_eq!((interval.low, interval.high, interval.is_exact), (0.5, 2.0, true));
        assert!((interval.level - 22.0 / 24.0).abs() < 1e-12);
    }

    #[test]
    fn the_count_is_that_of_all_orders() {
        // Five values: 1, 4, 9 orders with 0, 1, 2 discordant pairs of 120.
        assert_eq!(counted_rank(5, 5.0 / 120.0), Some((2, 1.0 - 2.0 * 5.0 / 120.0)));
        assert_eq!(counted_rank(5, 13.9 / 120.0).map(|(rank, _)| rank), Some(2));
        assert_eq!(counted_rank(5, 14.0 / 120.0).map(|(rank, _)| rank), Some(3));
    }

    #[test]
    fn ties_are_said() {
        let tied: Vec<Point> =
            (0..12).map(|index| Point::new(f64::from(index / 2), f64::from(index * index % 7))).collect();
        let interval = theil_sen(&tied, 0.9).expect("a slope").interval.expect("enough pairs");
        assert!(!interval.is_exact && interval.low < interval.high);
        assert_eq!(theil_sen(&points(&[(1.0, 0.0); 4]), 0.9), Err(FitError::NoSpread));
    }
}
