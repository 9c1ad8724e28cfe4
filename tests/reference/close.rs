//! Comparing numbers with the tolerance a source gives.

/// Fails unless `computed` lies within `tolerance` of `expected`, naming the case.
#[track_caller]
pub fn close(case: &str, computed: f64, expected: f64, tolerance: f64) {
    assert!(
        (computed - expected).abs() <= tolerance,
        "{case}: computed {computed}, expected {expected} within {tolerance}"
    );
}
