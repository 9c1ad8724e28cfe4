//! The two-parameter Weibull law fitted by maximum likelihood, and what follows from it with bounds. The likelihood
//! itself is in `weibull_likelihood`; the straight line on a plot by ranks in `weibull_plot`.

use serde::{Deserialize, Serialize};
use statrs::function::gamma::ln_gamma;
use utoipa::ToSchema;

use super::weibull_likelihood::{Gain, Likelihood, Slope};
use super::{Bounded, Life, LifeEnd, LifeError, check_lives, check_share, count};
use crate::formulas::all_finite;
use crate::formulas::quantile::two_sided_z;

/// Shapes from 1/50 to 200 are searched; ages that ask for less or more say nothing about a shape.
const LOG_SHAPE: (f64, f64) = (-3.912_023_005_428_146, 5.298_317_366_548_036);
const GRID: u32 = 36;
const MAX_STEPS: usize = 100;

/// A fitted Weibull law: S(t) = exp(−(t/η)^β).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeibullFit {
    /// Scale η: 63.2 % have failed by this age. In the unit of the ages.
    pub eta: f64,
    /// Shape β: below 1 early failures, 1 at random, above 1 wear.
    pub beta: f64,
    /// Standard error of ln η.
    pub se_log_eta: f64,
    /// Standard error of ln β.
    pub se_log_beta: f64,
    /// Covariance of ln η and ln β.
    pub cov_log: f64,
    /// Maximum of the log-likelihood.
    pub log_likelihood: f64,
    /// Failures among the lives.
    pub failures: u32,
    /// Lives.
    pub lives: u32,
}

/// Why there is no fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WeibullError {
    /// The lives or a share cannot be used.
    #[error(transparent)]
    Life(#[from] LifeError),
    /// Nothing failed.
    #[error("nothing failed, so there is no law to fit; use the lower bound of the MTBF")]
    AllCensored,
    /// One failure shows no shape.
    #[error("one failure shows no shape; two or more are needed, and the bounds of the MTBF say as much")]
    OneFailure,
    /// All failures at one age, and nothing that got older.
    #[error("all failures lie at one age that nothing outlived, so the shape has no end; look at the ages")]
    NoSpread,
    /// The likelihood rises to the edge of the shapes searched.
    #[error("the likelihood has no maximum for shapes from 0.02 to 200; the lives are too few or too alike")]
    NoMaximum,
    /// The steps did not settle.
    #[error("the fit did not settle; the lives are too few or contradict a Weibull law")]
    NotConverged,
    /// An age asked for is not a number above 0, or the ages are in the wrong order.
    #[error("ages must be numbers above 0, the later one not below the earlier")]
    BadAge,
    /// The result is not finite.
    #[error("the result is too large to be a number; check the unit of the ages")]
    TooLarge,
}

/// Fits a Weibull law by maximum likelihood to exact, right censored, interval censored and late-entry lives.
///
/// Newton steps on (ln η, ln β) with a line search, started at the best point of a grid of shapes; standard errors
/// from the observed information (the negative second derivatives at the maximum). Same lives, same result: nothing
/// is random. Ages in one unit; η in that unit.
///
/// # Errors
/// [`WeibullError`] says which: nothing or only one thing failed, no spread, no maximum. A shape from few failures
/// is biased high: with fewer than about ten, say so.
///
/// # Source
/// NIST/SEMATECH e-Handbook 8.4.1.3 (likelihood with censoring); Meeker & Escobar, *Statistical Methods for
/// Reliability Data* (1998), ch. 8 and 11 (intervals, truncation, observed information), from memory.
///
/// ```
/// use preen_domain::formulas::life::Life;
/// use preen_domain::formulas::life::weibull::fit_weibull;
/// let mut lives: Vec<Life> = [55., 187., 216., 240., 244., 335., 361., 373., 375., 386.].map(Life::failed).into();
/// lives.extend([Life::running(500.0); 10]);
/// let fit = fit_weibull(&lives)?;
/// assert_eq!(format!("{:.2} {:.4}", fit.eta, fit.beta), "606.00 1.7256");
/// # Ok::<(), preen_domain::formulas::life::weibull::WeibullError>(())
/// ```
pub fn fit_weibull(lives: &[Life]) -> Result<WeibullFit, WeibullError> {
    check_lives(lives)?;
    let likelihood = Likelihood::new(lives);
    match likelihood.failures {
        0 => return Err(WeibullError::AllCensored),
        1 => return Err(WeibullError::OneFailure),
        _ if !has_spread(lives) => return Err(WeibullError::NoSpread),
        _ => {}
    }
    let (u, k, slope) = climb(&likelihood, start(&likelihood)?)?;
    let determinant = slope.uu * slope.kk - slope.uk * slope.uk;
    let (var_u, var_k, cov) = (-slope.kk / determinant, -slope.uu / determinant, slope.uk / determinant);
    if !(determinant > 0.0 && var_u > 0.0 && var_k > 0.0) {
        return Err(WeibullError::NotConverged);
    }
    let exact = lives.iter().filter(|life| matches!(life.end, LifeEnd::Failed { .. })).count();
    let fit = WeibullFit {
        eta: (u + likelihood.ln_scale).exp(),
        beta: k.exp(),
        se_log_eta: var_u.sqrt(),
        se_log_beta: var_k.sqrt(),
        cov_log: cov,
        log_likelihood: slope.value - count(exact) * likelihood.ln_scale,
        failures: u32::try_from(likelihood.failures).unwrap_or(u32::MAX),
        lives: u32::try_from(lives.len()).unwrap_or(u32::MAX),
    };
    let is_finite =
        all_finite(&[fit.eta, fit.beta, fit.se_log_eta, fit.se_log_beta, fit.cov_log, fit.log_likelihood]);
    if is_finite && fit.eta > 0.0 { Ok(fit) } else { Err(WeibullError::TooLarge) }
}

/// Whether the ages of failure differ, or something outlived them, so that the shape cannot grow without end.
fn has_spread(lives: &[Life]) -> bool {
    let oldest = lives.iter().map(Life::last_age).fold(0.0, f64::max);
    lives.iter().any(|life| match life.end {
        LifeEnd::Failed { at } => at < oldest,
        LifeEnd::FailedBetween { .. } => true,
        LifeEnd::Running { .. } => false,
    })
}

/// The best point of a grid of shapes, each with its best scale.
fn start(likelihood: &Likelihood) -> Result<(f64, f64), WeibullError> {
    let width = (LOG_SHAPE.1 - LOG_SHAPE.0) / f64::from(GRID);
    (1..GRID)
        .map(|index| LOG_SHAPE.0 + width * f64::from(index))
        .map(|k| (likelihood.start_u(k), k))
        .map(|(u, k)| (likelihood.slope(u, k).value, u, k))
        .filter(|(value, ..)| value.is_finite())
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, u, k)| (u, k))
        .ok_or(WeibullError::NoMaximum)
}

/// Newton steps uphill; each is shortened until the likelihood rises.
fn climb(likelihood: &Likelihood, from: (f64, f64)) -> Result<(f64, f64, Slope), WeibullError> {
    let (mut u, mut k) = from;
    let mut here = likelihood.slope(u, k);
    for _ in 0..MAX_STEPS {
        if !here.is_finite() {
            return Err(WeibullError::NotConverged);
        }
        let (step_u, step_k) = uphill(&here, k.exp());
        // The rise that the step promises; below the rounding of the value there is nothing left to gain.
        let rise = 0.5 * (here.u * step_u + here.k * step_k);
        let mut share = 1.0;
        let next = loop {
            let (next_u, next_k) = (u + share * step_u, k + share * step_k);
            let next = likelihood.slope(next_u, next_k);
            if next.is_finite() && next.value > here.value {
                break Some((next_u, next_k, next));
            }
            share *= 0.5;
            if share < 1e-9 {
                break None;
            }
        };
        let settled = rise <= 1e-13 * here.value.abs().max(1.0);
        match next {
            Some((next_u, next_k, slope)) => (u, k, here) = (next_u, next_k, slope),
            None if settled || rise <= 1e-9 * here.value.abs().max(1.0) => return Ok((u, k, here)),
            None => return Err(WeibullError::NotConverged),
        }
        if !(LOG_SHAPE.0..=LOG_SHAPE.1).contains(&k) {
            return Err(WeibullError::NoMaximum);
        }
        if settled {
            return Ok((u, k, here));
        }
    }
    Err(WeibullError::NotConverged)
}

/// The Newton step, or a bent one where the surface is not curved downwards; never longer than the scale's e-fold.
fn uphill(here: &Slope, shape: f64) -> (f64, f64) {
    let (mut a, b, mut c) = (-here.uu, -here.uk, -here.kk);
    let mut ridge = 1e-3 * (a.abs() + b.abs() + c.abs()).max(1e-12);
    for _ in 0..60 {
        if a > 0.0 && c > 0.0 && a * c - b * b > 1e-12 * a * c {
            break;
        }
        (a, c, ridge) = (a + ridge, c + ridge, ridge * 2.0);
    }
    let determinant = a * c - b * b;
    let (step_u, step_k) = ((c * here.u - b * here.k) / determinant, (a * here.k - b * here.u) / determinant);
    let longest = (step_u.abs() * shape / 3.0).max(step_k.abs());
    if longest > 1.0 { (step_u / longest, step_k / longest) } else { (step_u, step_k) }
}

impl WeibullFit {
    fn bounded(&self, log: f64, variance: f64, confidence: f64) -> Result<Bounded, WeibullError> {
        check_share(confidence)?;
        let z = two_sided_z(confidence).ok_or(LifeError::BadShare)?;
        let width = z * variance.max(0.0).sqrt();
        let bounded = Bounded { value: log.exp(), low: (log - width).exp(), high: (log + width).exp() };
        let is_finite = all_finite(&[bounded.value, bounded.low, bounded.high]);
        if is_finite { Ok(bounded) } else { Err(WeibullError::TooLarge) }
    }

    /// Variance of a·ln η + b·ln β.
    fn variance(&self, a: f64, b: f64) -> f64 {
        a * a * self.se_log_eta.powi(2) + 2.0 * a * b * self.cov_log + b * b * self.se_log_beta.powi(2)
    }

    /// η with bounds on the log scale: η·exp(±z·se).
    ///
    /// # Errors
    /// A confidence not between 0 and 1; a bound too large to be a number.
    pub fn eta_bounds(&self, confidence: f64) -> Result<Bounded, WeibullError> {
        self.bounded(self.eta.ln(), self.variance(1.0, 0.0), confidence)
    }

    /// β with bounds on the log scale.
    ///
    /// # Errors
    /// As [`Self::eta_bounds`].
    pub fn beta_bounds(&self, confidence: f64) -> Result<Bounded, WeibullError> {
        self.bounded(self.beta.ln(), self.variance(0.0, 1.0), confidence)
    }

    /// Age by which a share has failed, with bounds on the log scale: 0.1 for B10, 0.5 for B50.
    /// t = η·(−ln(1 − share))^(1/β).
    ///
    /// # Errors
    /// As [`Self::eta_bounds`]; a share not between 0 and 1.
    pub fn b_life(&self, share_failed: f64, confidence: f64) -> Result<Bounded, WeibullError> {
        check_share(share_failed)?;
        let lift = (-(-share_failed).ln_1p()).ln() / self.beta;
        self.bounded(self.eta.ln() + lift, self.variance(1.0, -lift), confidence)
    }

    /// Share still good at an age, with bounds on the log-log scale.
    ///
    /// # Errors
    /// An age not above 0; a confidence not between 0 and 1.
    pub fn survival(&self, age: f64, confidence: f64) -> Result<Bounded, WeibullError> {
        self.conditional_survival(0.0, age, confidence)
    }

    /// Share of those good at `from` that will be good at `to`: S(to)/S(from), with bounds on the log-log scale.
    ///
    /// # Errors
    /// Ages that are not `0 ≤ from < to`; a confidence not between 0 and 1.
    pub fn conditional_survival(&self, from: f64, to: f64, confidence: f64) -> Result<Bounded, WeibullError> {
        check_share(confidence)?;
        let z = two_sided_z(confidence).ok_or(LifeError::BadShare)?;
        if !(from >= 0.0 && to > from && to.is_finite()) {
            return Err(WeibullError::BadAge);
        }
        let at = |age: f64| self.beta * (age / self.eta).ln();
        let step = self.beta * ((to - from) / from).ln_1p();
        let gain = Gain::new((from > 0.0).then(|| at(from)), at(to), step, self.beta);
        // Nothing gained, or everything lost, within the figures of a number: the bounds have no room.
        if gain.d <= f64::MIN_POSITIVE || !gain.d.is_finite() {
            let value = if gain.d.is_finite() { 1.0 } else { 0.0 };
            return Ok(Bounded { value, low: value, high: value });
        }
        let width = z * self.variance(gain.u / gain.d, gain.k / gain.d).max(0.0).sqrt();
        let share = |shift: f64| (-(gain.d.ln() + shift).exp()).exp();
        let bounded = Bounded { value: share(0.0), low: share(width), high: share(-width) };
        let is_finite = all_finite(&[bounded.value, bounded.low, bounded.high]);
        if is_finite { Ok(bounded) } else { Err(WeibullError::TooLarge) }
    }

    /// Mean age at failure and its standard deviation in the population: η·Γ(1 + 1/β), √(η²·Γ(1 + 2/β) − mean²).
    ///
    /// # Errors
    /// A shape so small that they are too large to be numbers.
    pub fn mean_and_deviation(&self) -> Result<(f64, f64), WeibullError> {
        let ln_mean = ln_gamma(1.0 + 1.0 / self.beta);
        let spread = (ln_gamma(1.0 + 2.0 / self.beta) - 2.0 * ln_mean).exp_m1().max(0.0).sqrt();
        let mean = self.eta * ln_mean.exp();
        let deviation = mean * spread;
        if all_finite(&[mean, deviation]) { Ok((mean, deviation)) } else { Err(WeibullError::TooLarge) }
    }

    /// Akaike's information criterion, 2·2 − 2·ln L: smaller is better among laws fitted to the same lives.
    #[must_use]
    pub fn aic(&self) -> f64 {
        4.0 - 2.0 * self.log_likelihood
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_shows_no_shape_is_refused_by_name() {
        let check = |lives: &[Life], expected| assert_eq!(fit_weibull(lives), Err(expected));
        check(&[], WeibullError::Life(LifeError::Empty));
        check(&[Life::running(3.0), Life::running(5.0)], WeibullError::AllCensored);
        check(&[Life::failed(3.0), Life::running(5.0)], WeibullError::OneFailure);
        check(&[Life::failed(3.0), Life::failed(3.0), Life::running(2.0)], WeibullError::NoSpread);
        check(&[Life::failed_between(2.0, 4.0), Life::failed_between(2.5, 4.0)], WeibullError::NoMaximum);
    }

    #[test]
    fn odd_lives_settle_or_are_refused() {
        let tiny = [Life::failed(1e-9), Life::failed(1e12), Life::running(5.0)];
        assert!(fit_weibull(&tiny).is_ok_and(|fit| fit.beta < 0.1));
        let near = [Life::failed(100.0), Life::failed(100.0 + 1e-9), Life::running(100.0)];
        assert_eq!(fit_weibull(&near), Err(WeibullError::NoMaximum));
    }

    #[test]
    fn a_law_answers_only_for_ages_in_order() {
        let fit = fit_weibull(&[Life::failed(3.0), Life::failed(5.0), Life::running(6.0)]).expect("a fit");
        for (from, to) in [(5.0, 5.0), (6.0, 5.0), (-1.0, 5.0), (0.0, f64::NAN), (0.0, 0.0)] {
            assert_eq!(fit.conditional_survival(from, to, 0.9), Err(WeibullError::BadAge), "{from} {to}");
        }
        assert_eq!(fit.b_life(1.0, 0.9), Err(WeibullError::Life(LifeError::BadShare)));
        let far = fit.survival(1e300, 0.9).expect("nothing left");
        assert_eq!((far.value, far.low), (0.0, 0.0));
    }
}
