//! Quantiles and tails of the normal and χ² distributions, for the bounds of the other files. Quantiles of χ² are
//! solved here on the incomplete gamma function, because bounds are compared with published ones to seven figures; for
//! many degrees of freedom, where that function loses figures, by expansions about the normal distribution.

use statrs::distribution::{ContinuousCDF, Normal};
use statrs::function::erf::erfc;
use statrs::function::gamma::{checked_gamma_lr, checked_gamma_ur, ln_gamma};

/// From so many degrees of freedom the expansions are taken: what they leave out is below 1e-12 of the value.
const MANY_FREEDOMS: f64 = 1e6;
/// More degrees of freedom than this are refused: one beside them is lost in double precision.
const MAX_FREEDOM: f64 = 1e15;

/// Value below which a share of the standard normal distribution lies.
///
/// `None` when the share is not above 0 and below 1.
///
/// ```
/// use preen_domain::formulas::quantile::normal_quantile;
/// assert_eq!(normal_quantile(0.975).map(|z| format!("{z:.4}")).as_deref(), Some("1.9600"));
/// ```
#[must_use]
pub fn normal_quantile(share: f64) -> Option<f64> {
    (share > 0.0 && share < 1.0).then(|| Normal::standard().inverse_cdf(share)).filter(|z| z.is_finite())
}

/// Share of the standard normal distribution below a value.
///
/// ```
/// use preen_domain::formulas::quantile::normal_below;
/// assert_eq!(format!("{:.4}", normal_below(-1.327)), "0.0923");
/// ```
#[must_use]
pub fn normal_below(z: f64) -> f64 {
    0.5 * erfc(-z / std::f64::consts::SQRT_2)
}

/// Half-width in standard errors of a two-sided interval.
pub(crate) fn two_sided_z(confidence: f64) -> Option<f64> {
    normal_quantile(0.5 * (1.0 + confidence))
}

/// Share of χ² with some degrees of freedom that lies above a value.
///
/// From a million degrees of freedom on by Temme's expansion about the normal distribution (Temme 1979, from memory), to
/// about nine figures of the share.
///
/// `None` for degrees of freedom that are not above 0 and at most 10¹⁵, or a value that is not finite.
///
/// ```
/// use preen_domain::formulas::quantile::chi_square_above;
/// assert_eq!(chi_square_above(3.8415, 1.0).map(|p| format!("{p:.4}")).as_deref(), Some("0.0500"));
/// ```
#[must_use]
pub fn chi_square_above(value: f64, freedom: f64) -> Option<f64> {
    if !(freedom > 0.0 && freedom <= MAX_FREEDOM && value.is_finite()) {
        return None;
    }
    if value <= 0.0 {
        return Some(1.0);
    }
    if freedom == 1.0 {
        return Some(erfc((0.5 * value).sqrt()));
    }
    if freedom >= MANY_FREEDOMS {
        return Some(many_above(0.5 * value, 0.5 * freedom));
    }
    checked_gamma_ur(0.5 * freedom, 0.5 * value).ok()
}

/// Q(a, x) for large a: ½·erfc(η√(a/2)) + e^(−½aη²)/√(2πa)·(c₀(η) + c₁(η)/a) with ½η² = λ − 1 − ln λ, λ = x/a.
fn many_above(x: f64, a: f64) -> f64 {
    let off = (x - a) / a;
    // λ − 1 − ln λ, by its series where the difference would cancel.
    let half_square = if off.abs() < 0.02 {
        let mut power = off * off;
        let mut sum = 0.0;
        for term in 2_u32..14 {
            sum += power / f64::from(term);
            power *= -off;
        }
        sum
    } else {
        off - off.ln_1p()
    };
    let eta = (2.0 * half_square).sqrt().copysign(off);
    let c0 = if eta.abs() < 0.05 {
        -1.0 / 3.0 + eta * (1.0 / 12.0 + eta * (-2.0 / 135.0 + eta * (1.0 / 864.0 + eta / 2835.0)))
    } else {
        1.0 / off - 1.0 / eta
    };
    let c1 = -1.0 / 540.0 - eta / 288.0;
    let near = (-a * half_square).exp() / (std::f64::consts::TAU * a).sqrt() * (c0 + c1 / a);
    (0.5 * erfc(eta * (0.5 * a).sqrt()) + near).clamp(0.0, 1.0)
}

/// Value below which a share of χ² with some degrees of freedom lies, to about twelve figures.
///
/// Newton steps on the logarithm of the value inside a bracket that halves when a step would leave it; the smaller
/// tail is matched, so that shares near 1 keep their figures.
///
/// From a million degrees of freedom on by the Cornish–Fisher expansion in powers of 1/√ν (Goldberg & Levine 1946, from
/// memory), whose rest is below 1e-12 of the value for shares from 1e-9 to 1 − 1e-9.
///
/// `None` for a share that is not above 0 and below 1, or degrees of freedom not from 2 to 10¹⁵ (bounds on counts need
/// no fewer).
///
/// ```
/// use preen_domain::formulas::quantile::chi_square_quantile;
/// // Two degrees of freedom: -2 ln(1 - share).
/// let half = chi_square_quantile(0.5, 2.0).ok_or("in range")?;
/// assert!((half - 2.0 * 2f64.ln()).abs() < 1e-12);
/// # Ok::<(), &str>(())
/// ```
#[must_use]
pub fn chi_square_quantile(share: f64, freedom: f64) -> Option<f64> {
    if !(share > 0.0 && share < 1.0 && (2.0..=MAX_FREEDOM).contains(&freedom)) {
        return None;
    }
    if freedom == 2.0 {
        return Some(-2.0 * (-share).ln_1p());
    }
    if freedom >= MANY_FREEDOMS {
        return Some(many_quantile(normal_quantile(share)?, freedom));
    }
    let shape = 0.5 * freedom;
    let is_upper = share > 0.5;
    // Positive while the value is too small.
    let lack = |half: f64| -> Option<f64> {
        if is_upper {
            checked_gamma_ur(shape, half).ok().map(|above| above - (1.0 - share))
        } else {
            checked_gamma_lr(shape, half).ok().map(|below| share - below)
        }
    };
    // Wilson and Hilferty's cube as the first guess, then doubling or halving until the root is enclosed.
    let spread = 2.0 / (9.0 * freedom);
    let cube = 1.0 - spread + normal_quantile(share)? * spread.sqrt();
    let guess = (shape * cube.powi(3)).max(shape * 1e-3).max(1e-280);
    let (mut low, mut high) = (guess, guess);
    for _ in 0..1100 {
        if lack(low)? >= 0.0 || low < 1e-290 {
            break;
        }
        low *= 0.5;
    }
    for _ in 0..1100 {
        if lack(high)? <= 0.0 {
            break;
        }
        high *= 2.0;
    }
    let (mut low, mut high) = (low.ln(), high.ln());
    let mut at = guess.ln().clamp(low, high);
    for _ in 0..200 {
        let half = at.exp();
        let miss = lack(half)?;
        if miss > 0.0 {
            low = at;
        } else {
            high = at;
        }
        // d(share)/d(ln half) = half^shape · e^(-half) / Γ(shape).
        let slope = (shape * at - half - ln_gamma(shape)).exp();
        let newton = at + miss / slope;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if (next - at).abs() <= 1e-15 * at.abs().max(1.0) || high - low <= 1e-15 * at.abs().max(1.0) {
            return Some(2.0 * next.exp());
        }
        at = next;
    }
    Some(2.0 * at.exp())
}

fn many_quantile(z: f64, freedom: f64) -> f64 {
    let root = (2.0 * freedom).sqrt();
    let square = z * z;
    freedom + root * z + 2.0 / 3.0 * (square - 1.0) + z * (square - 7.0) / (9.0 * root)
        - (square * (6.0 * square + 14.0) - 32.0) / (405.0 * freedom)
        + z * (square * (9.0 * square + 256.0) - 433.0) / (4860.0 * root * freedom)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantile_gives_its_share_back() {
        for freedom in [2.0, 3.0, 6.0, 22.0, 101.0, 5000.0, 9e5, 1.1e6, 2e6, 1e9] {
            for share in [1e-6, 0.025, 0.05, 0.3, 0.5, 0.9, 0.975, 1.0 - 1e-6] {
                let value = chi_square_quantile(share, freedom).expect("in range");
                let above = chi_square_above(value, freedom).expect("in range");
                let miss = ((1.0 - share) - above).abs() / share.min(1.0 - share);
                assert!(miss < 1e-8, "{share} of {freedom}: {value} leaves {above}");
            }
        }
    }

    #[test]
    fn both_ways_agree_where_they_meet() {
        // Just below a million degrees of freedom by the incomplete gamma function, from there on by the expansions.
        for share in [1e-6, 0.05, 0.5, 0.95, 1.0 - 1e-6] {
            let below = MANY_FREEDOMS * (1.0 - 1e-15);
            let solved = chi_square_quantile(share, below).expect("in range");
            let expanded = many_quantile(normal_quantile(share).expect("a share"), below);
            assert!((solved / expanded - 1.0).abs() < 1e-10, "{share}: {solved} and {expanded}");
            let by_gamma = chi_square_above(solved, below).expect("in range");
            let by_expansion = many_above(0.5 * solved, 0.5 * below);
            assert!((by_gamma / by_expansion - 1.0).abs() < 1e-8, "{share}: {by_gamma} and {by_expansion}");
        }
    }

    #[test]
    fn what_has_no_quantile_is_none() {
        for (share, freedom) in [(0.0, 2.0), (1.0, 2.0), (0.5, 0.0), (0.5, 1.0), (0.5, 1e16), (f64::NAN, 2.0)]
        {
            assert_eq!(chi_square_quantile(share, freedom), None, "{share} of {freedom}");
        }
        assert_eq!(normal_quantile(1.0), None);
        assert_eq!(chi_square_above(f64::NAN, 1.0), None);
        assert_eq!(chi_square_above(-1.0, 1.0), Some(1.0));
    }
}
