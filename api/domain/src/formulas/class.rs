//! Watch, restrict and ground: the three limits of a reading, and the worst one it has reached. Which limits a club
//! holds for which quantity is recorded elsewhere; the values beside the formulas are starting values.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::words::Severity;

/// Limits of one quantity, each where there is one. A reading at a limit has reached it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassLimits {
    /// Watch it from here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub watch: Option<f64>,
    /// Fly with a restriction from here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub restrict: Option<f64>,
    /// Do not fly from here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ground: Option<f64>,
}

impl ClassLimits {
    /// All three limits.
    #[must_use]
    pub const fn new(watch: f64, restrict: f64, ground: f64) -> Self {
        Self { watch: Some(watch), restrict: Some(restrict), ground: Some(ground) }
    }

    /// The class of a quantity that gets worse as it rises; `None`: better than all limits.
    ///
    /// ```
    /// use preen_domain::{formulas::class::ClassLimits, words::Severity};
    /// let limits = ClassLimits::new(10.0, 20.0, 40.0);
    /// assert_eq!(limits.rising(20.0), Some(Severity::Restrict));
    /// assert_eq!(limits.rising(9.9), None);
    /// ```
    #[must_use]
    pub fn rising(&self, reading: f64) -> Option<Severity> {
        self.worst(|limit| reading >= limit)
    }

    /// The class of a quantity that gets worse as it falls; `None`: better than all limits.
    ///
    /// ```
    /// use preen_domain::{formulas::class::ClassLimits, words::Severity};
    /// let limits = ClassLimits::new(85.0, 80.0, 70.0);
    /// assert_eq!(limits.falling(82.4), Some(Severity::Watch));
    /// assert_eq!(limits.falling(85.1), None);
    /// ```
    #[must_use]
    pub fn falling(&self, reading: f64) -> Option<Severity> {
        self.worst(|limit| reading <= limit)
    }

    fn worst(&self, is_reached: impl Fn(f64) -> bool) -> Option<Severity> {
        [(self.ground, Severity::Ground), (self.restrict, Severity::Restrict), (self.watch, Severity::Watch)]
            .into_iter()
            .find_map(|(limit, class)| limit.filter(|at| is_reached(*at)).map(|_| class))
    }

    /// Whether all limits given are finite and stand in their order, watch first.
    #[must_use]
    pub fn is_in_order(&self, is_rising: bool) -> bool {
        let given: Vec<f64> = [self.watch, self.restrict, self.ground].into_iter().flatten().collect();
        given.iter().all(|limit| limit.is_finite())
            && given.is_sorted_by(|one, next| if is_rising { one <= next } else { one >= next })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_limit_reached_counts_and_an_absent_one_is_passed_over() {
        let limits = ClassLimits { watch: Some(1.0), restrict: None, ground: Some(3.0) };
        assert_eq!(limits.rising(2.9), Some(Severity::Watch));
        assert_eq!(limits.rising(3.0), Some(Severity::Ground));
        assert_eq!(ClassLimits::default().rising(1e9), None);
        assert!(limits.is_in_order(true) && !limits.is_in_order(false));
        assert!(!ClassLimits::new(1.0, f64::NAN, 2.0).is_in_order(true));
    }
}
