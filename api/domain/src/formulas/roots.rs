//! Where a function of one number crosses zero between two bounds: bracketed, so it always ends and never leaves the
//! bounds. No formula of the trade lives here.

/// Steps after which the search gives up; halving alone reaches neighbouring doubles sooner.
const MOST_STEPS: u32 = 200;

/// Why no root was found.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum RootError {
    /// The bounds are not two finite numbers in rising order, or the tolerance is not a finite number ≥ 0.
    #[error("the bounds of the search are not two finite numbers in rising order")]
    BadBounds,
    /// The function has the same sign at both bounds.
    #[error("there is no change of sign between {low} and {high}")]
    NoSignChange {
        /// Lower bound.
        low: f64,
        /// Upper bound.
        high: f64,
    },
    /// The function gave something that is not finite.
    #[error("the function is not finite at {at}")]
    NotFinite {
        /// Where.
        at: f64,
    },
}

/// Finds `x` between `low` and `high` with `function(x)` = 0, where the function changes its sign.
///
/// Interpolates where that helps and halves where it does not (Brent, *Algorithms for Minimization without
/// Derivatives*, 1973, ch. 4). The result lies within `tolerance` plus a few roundings of a change of sign. A function
/// that jumps across zero gives the place of the jump.
///
/// # Errors
/// [`RootError::BadBounds`], [`RootError::NoSignChange`] where both bounds have one sign, and
/// [`RootError::NotFinite`] where the function leaves the finite numbers.
///
/// ```
/// use preen_domain::formulas::roots::find_root;
/// // The square root of two.
/// let root = find_root(|x| x * x - 2.0, 0.0, 2.0, 1e-14)?;
/// assert!((root - 1.414_213_562_373_095).abs() < 1e-14);
/// assert!(find_root(|x| x * x + 1.0, 0.0, 2.0, 1e-14).is_err());
/// # Ok::<(), preen_domain::formulas::roots::RootError>(())
/// ```
pub fn find_root(
    mut function: impl FnMut(f64) -> f64,
    low: f64,
    high: f64,
    tolerance: f64,
) -> Result<f64, RootError> {
    if !(low.is_finite() && high.is_finite() && tolerance.is_finite() && low < high && tolerance >= 0.0) {
        return Err(RootError::BadBounds);
    }
    let mut value_at = |at: f64| match function(at) {
        value if value.is_finite() => Ok(value),
        _ => Err(RootError::NotFinite { at }),
    };
    let (mut other, mut best) = (low, high);
    let (mut f_other, mut f_best) = (value_at(low)?, value_at(high)?);
    if f_other == 0.0 {
        return Ok(low);
    }
    if f_best == 0.0 {
        return Ok(high);
    }
    if f_other.signum() == f_best.signum() {
        return Err(RootError::NoSignChange { low, high });
    }
    // `best` is the latest guess, `other` the bound across zero, `before` the guess before.
    let (mut before, mut f_before) = (other, f_other);
    let mut step = best - before;
    let mut step_before = step;
    for _ in 0..MOST_STEPS {
        if f_best.signum() == f_other.signum() {
            (other, f_other) = (before, f_before);
            step = best - before;
            step_before = step;
        }
        if f_other.abs() < f_best.abs() {
            (before, best, other) = (best, other, best);
            (f_before, f_best, f_other) = (f_best, f_other, f_best);
        }
        let near = 2.0 * f64::EPSILON * best.abs() + 0.5 * tolerance;
        let half = 0.5 * (other - best);
        if half.abs() <= near || f_best == 0.0 {
            return Ok(best);
        }
        match interpolated(best, before, other, f_best, f_before, f_other) {
            Some(guess)
                if step_before.abs() >= near
                    && f_before.abs() > f_best.abs()
                    && guess.abs() < (0.5 * step_before).abs().min((1.5 * half).abs() - 0.5 * near)
                    && guess.signum() == half.signum() =>
            {
                step_before = step;
                step = guess;
            }
            _ => {
                step = half;
                step_before = half;
            }
        }
        (before, f_before) = (best, f_best);
        best += if step.abs() > near { step } else { near.copysign(half) };
        f_best = value_at(best)?;
    }
    Ok(best)
}

/// The step from `best` that a parabola through three points, or a line through two, suggests.
fn interpolated(best: f64, before: f64, other: f64, f_best: f64, f_before: f64, f_other: f64) -> Option<f64> {
    let ratio = f_best / f_before;
    let (numerator, denominator) = if before == other {
        ((other - best) * ratio, ratio - 1.0)
    } else {
        let (far, near) = (f_before / f_other, f_best / f_other);
        (
            ratio * ((other - best) * far * (far - near) - (best - before) * (near - 1.0)),
            -(far - 1.0) * (near - 1.0) * (ratio - 1.0),
        )
    };
    let step = numerator / denominator;
    step.is_finite().then_some(step)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_of_known_functions() {
        // Closed forms: cos x = x (Dottie number), ln 3, and a root of multiplicity nine.
        let dottie = find_root(|x| x.cos() - x, 0.0, 1.0, 1e-15).unwrap();
        assert!((dottie - 0.739_085_133_215_160_6).abs() < 1e-14);
        let ln3 = find_root(|x| x.exp() - 3.0, -700.0, 700.0, 1e-15).unwrap();
        assert!((ln3 - 3_f64.ln()).abs() < 1e-14);
        let flat = find_root(|x| (x - 0.3).powi(9), 0.0, 1.0, 1e-6).unwrap();
        assert!((flat - 0.3).abs() < 1e-2);
    }

    #[test]
    fn interpolation_is_used_where_it_helps() {
        let mut calls = 0;
        let count = |x: f64| {
            calls += 1;
            x.exp() - 3.0
        };
        find_root(count, 0.0, 10.0, 1e-15).unwrap();
        assert!(calls < 20, "halving alone would take some fifty calls; this took {calls}");
    }

    #[test]
    fn a_root_at_a_bound_and_a_jump_are_found() {
        assert_eq!(find_root(|x| x, 0.0, 1.0, 0.0).unwrap(), 0.0);
        assert_eq!(find_root(|x| x - 1.0, 0.0, 1.0, 0.0).unwrap(), 1.0);
        let jump = find_root(|x| if x < 0.7 { -1.0 } else { 1.0 }, 0.0, 1.0, 1e-12).unwrap();
        assert!((jump - 0.7).abs() < 1e-11);
    }

    #[test]
    fn what_has_no_root_says_why() {
        assert_eq!(find_root(|x| x, 1.0, 0.0, 0.0), Err(RootError::BadBounds));
        assert_eq!(find_root(|x| x, f64::NAN, 0.0, 0.0), Err(RootError::BadBounds));
        assert!(matches!(find_root(|x| x, 1.0, 2.0, 0.0), Err(RootError::NoSignChange { .. })));
        assert!(matches!(
            find_root(|x| 1.0 / (x - 0.5) / 0.0, 0.0, 1.0, 0.0),
            Err(RootError::NotFinite { .. })
        ));
    }
}
