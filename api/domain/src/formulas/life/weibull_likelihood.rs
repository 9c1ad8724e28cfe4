//! The log-likelihood of the Weibull law with its first and second derivatives, for exact, right censored, interval
//! censored and late-entry lives. Finding its maximum lives in `weibull`.
//!
//! Parameters are u = ln η and k = ln β, so that no step can leave the law's range; ages are divided by the oldest
//! one, so that no power overflows. With z = β(ln t − u):
//!
//! * failed at t: k + z − eᶻ (− ln t) · running at t: −eᶻ · entered at t: +eᶻ
//! * failed in (a, b]: −e^z(a) + ln(1 − e^−D), D = e^z(b) − e^z(a)

use super::{Life, LifeEnd};

/// Value, gradient and second derivatives along (u, k).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Slope {
    pub value: f64,
    pub u: f64,
    pub k: f64,
    pub uu: f64,
    pub uk: f64,
    pub kk: f64,
}

/// One life as the likelihood needs it: logarithms of ages over the oldest age.
#[derive(Clone, Copy, Debug)]
enum Row {
    Failed {
        ln: f64,
    },
    Running {
        ln: f64,
    },
    /// `ln_good` is `None` for an age of 0; `ln_ratio` is ln(found/good), without cancellation.
    Between {
        ln_good: Option<f64>,
        ln_found: f64,
        ln_ratio: f64,
    },
    Entered {
        ln: f64,
    },
}

/// Lives prepared for the likelihood.
pub(super) struct Likelihood {
    rows: Vec<Row>,
    /// ln of the oldest age, by which all were divided.
    pub ln_scale: f64,
    /// Σ ln t over exact failures, scaled: a constant of the likelihood.
    sum_ln_failed: f64,
    /// Exact and interval failures.
    pub failures: usize,
    exact: usize,
}

impl Likelihood {
    pub(super) fn new(lives: &[Life]) -> Self {
        let ln_scale = lives.iter().map(Life::last_age).fold(0.0, f64::max).ln();
        let ln = |age: f64| age.ln() - ln_scale;
        let mut rows = Vec::with_capacity(lives.len());
        for life in lives {
            rows.push(match life.end {
                LifeEnd::Failed { at } => Row::Failed { ln: ln(at) },
                LifeEnd::Running { at } => Row::Running { ln: ln(at) },
                LifeEnd::FailedBetween { good_at, found_at } => Row::Between {
                    ln_good: (good_at > 0.0).then(|| ln(good_at)),
                    ln_found: ln(found_at),
                    ln_ratio: ((found_at - good_at) / good_at).ln_1p(),
                },
            });
            if life.entered > 0.0 {
                rows.push(Row::Entered { ln: ln(life.entered) });
            }
        }
        let failed = |row: &Row| if let Row::Failed { ln } = row { Some(*ln) } else { None };
        Self {
            ln_scale,
            sum_ln_failed: rows.iter().filter_map(failed).sum(),
            failures: lives.iter().filter(|life| life.is_failure()).count(),
            exact: rows.iter().filter_map(failed).count(),
            rows,
        }
    }

    /// The u that is best for a k when each interval failure is taken at its found end: where to start from.
    /// With the shape fixed, t^β is exponential and η^β = Σ(t^β − entered^β)/failures.
    pub(super) fn start_u(&self, k: f64) -> f64 {
        let shape = k.exp();
        let sum: f64 = self
            .rows
            .iter()
            .map(|row| match *row {
                Row::Failed { ln } | Row::Running { ln } | Row::Between { ln_found: ln, .. } => {
                    (shape * ln).exp()
                }
                Row::Entered { ln } => -(shape * ln).exp(),
            })
            .sum();
        (sum.max(f64::MIN_POSITIVE) / super::count(self.failures)).ln() / shape
    }

    /// The log-likelihood in the unit of the scaled ages, with derivatives.
    pub(super) fn slope(&self, u: f64, k: f64) -> Slope {
        let shape = k.exp();
        let exact = super::count(self.exact);
        // Constants and linear parts of the exact failures, then the hazards row by row.
        let mut sum = Slope { value: exact * k - self.sum_ln_failed, k: exact, ..Slope::default() };
        for row in &self.rows {
            match *row {
                Row::Failed { ln } => {
                    let z = shape * (ln - u);
                    let hazard = z.exp();
                    sum.value += z - hazard;
                    sum.chain(z, shape, 1.0 - hazard, -hazard);
                }
                Row::Running { ln } => {
                    let z = shape * (ln - u);
                    let hazard = z.exp();
                    sum.value -= hazard;
                    sum.chain(z, shape, -hazard, -hazard);
                }
                Row::Entered { ln } => {
                    let z = shape * (ln - u);
                    let hazard = z.exp();
                    sum.value += hazard;
                    sum.chain(z, shape, hazard, hazard);
                }
                Row::Between { ln_good, ln_found, ln_ratio } => {
                    if let Some(ln) = ln_good {
                        let z = shape * (ln - u);
                        let hazard = z.exp();
                        sum.value -= hazard;
                        sum.chain(z, shape, -hazard, -hazard);
                    }
                    let gain = Gain::new(
                        ln_good.map(|ln| shape * (ln - u)),
                        shape * (ln_found - u),
                        shape * ln_ratio,
                        shape,
                    );
                    gain.add_log_failed(&mut sum);
                }
            }
        }
        sum
    }
}

impl Slope {
    /// Adds the derivatives of g(z) where z = β(ln t − u): ∂z/∂u = −β, ∂z/∂k = z, ∂²z/∂u∂k = −β, ∂²z/∂k² = z.
    fn chain(&mut self, z: f64, shape: f64, first: f64, second: f64) {
        self.u -= first * shape;
        self.k += first * z;
        self.uu += second * shape * shape;
        self.uk -= (second * z + first) * shape;
        self.kk += (second * z + first) * z;
    }

    pub(super) fn is_finite(&self) -> bool {
        super::super::all_finite(&[self.value, self.u, self.k, self.uu, self.uk, self.kk])
    }
}

/// D = H(b) − H(a), the cumulative hazard gained between two ages, with its derivatives along (u, k).
#[derive(Clone, Copy, Debug)]
pub(super) struct Gain {
    pub d: f64,
    pub u: f64,
    pub k: f64,
    uu: f64,
    uk: f64,
    kk: f64,
}

impl Gain {
    /// From z at both ages (`None`: from age 0) and z(b) − z(a).
    pub(super) fn new(z_from: Option<f64>, z_to: f64, z_step: f64, shape: f64) -> Self {
        let to = z_to.exp();
        let (d, k, kk) = match z_from {
            None => (to, z_to * to, (z_to * z_to + z_to) * to),
            Some(z_from) => {
                let d = z_from.exp() * z_step.exp_m1();
                let k = z_from * d + to * z_step;
                (d, k, z_from * (d + k) + to * z_step * (1.0 + z_to))
            }
        };
        Self { d, u: -shape * d, k, uu: shape * shape * d, uk: -shape * (d + k), kk }
    }

    /// Adds ln(1 − e^−D).
    fn add_log_failed(&self, sum: &mut Slope) {
        // 1/(e^D − 1), the derivative of ln(1 − e^−D).
        let odds = 1.0 / self.d.exp_m1();
        let curve = odds * (1.0 + odds);
        sum.value += (-(-self.d).exp_m1()).ln();
        sum.u += odds * self.u;
        sum.k += odds * self.k;
        sum.uu += odds * self.uu - curve * self.u * self.u;
        sum.uk += odds * self.uk - curve * self.u * self.k;
        sum.kk += odds * self.kk - curve * self.k * self.k;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn derivatives_agree_with_differences() {
        let lives = [
            Life::failed(50.0),
            Life::failed(120.0).entered_at(30.0),
            Life::running(90.0),
            Life::failed_between(40.0, 70.0),
            Life::failed_between(0.0, 65.0),
            Life::failed_between(80.0, 80.001).entered_at(10.0),
        ];
        let likelihood = Likelihood::new(&lives);
        for (u, k) in [(-0.3, 0.2), (0.4, 1.1), (-0.6, -0.7)] {
            let here = likelihood.slope(u, k);
            let step = 1e-5;
            let (up, down) = (likelihood.slope(u + step, k), likelihood.slope(u - step, k));
            let (over, under) = (likelihood.slope(u, k + step), likelihood.slope(u, k - step));
            let by = 2.0 * step;
            let pairs = [
                (here.u, (up.value - down.value) / by),
                (here.k, (over.value - under.value) / by),
                (here.uu, (up.u - down.u) / by),
                (here.uk, (up.k - down.k) / by),
                (here.uk, (over.u - under.u) / by),
                (here.kk, (over.k - under.k) / by),
            ];
            for (index, (exact, difference)) in pairs.into_iter().enumerate() {
                assert!(
                    (exact - difference).abs() <= 2e-6 * exact.abs().max(1.0),
                    "{index} at {u} {k}: {exact} {difference}"
                );
            }
        }
    }
}
