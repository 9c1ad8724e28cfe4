//! The one error of formulas whose inputs must lie between two bounds: it names the input and the bounds. Formulas
//! with other ways to fail have errors of their own.

/// An input outside the range in which a formula holds, infinite, or not a number.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{input} must be from {least} to {most}")]
pub struct OutOfRange {
    /// The input's name, with its unit.
    pub input: &'static str,
    /// Smallest value taken.
    pub least: f64,
    /// Largest value taken.
    pub most: f64,
}

/// Refuses what does not lie from `least` to `most`, both included.
pub(crate) fn within(input: &'static str, given: f64, least: f64, most: f64) -> Result<(), OutOfRange> {
    // A number that is none lies nowhere.
    if given >= least && given <= most { Ok(()) } else { Err(OutOfRange { input, least, most }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bounds_belong_to_the_range_and_nothing_else_does() {
        assert_eq!(within("length_m", 0.0, 0.0, 9.5), Ok(()));
        assert_eq!(within("length_m", 9.5, 0.0, 9.5), Ok(()));
        for given in [-0.1, 9.6, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            let refused = within("length_m", given, 0.0, 9.5).unwrap_err();
            assert_eq!(refused.to_string(), "length_m must be from 0 to 9.5", "{given}");
        }
    }
}
