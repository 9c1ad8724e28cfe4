//! Serial numbers compared as people read them: runs of digits as numbers, everything else as letters.

use std::cmp::Ordering;

/// A run of a serial number.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Run {
    /// Digits without leading zeros: the longer is the greater.
    Number(usize, String),
    /// Anything else, in small letters.
    Letters(String),
}

fn runs(serial: &str) -> Vec<Run> {
    let mut list: Vec<(bool, String)> = Vec::new();
    for letter in serial.chars() {
        let is_digit = letter.is_ascii_digit();
        match list.last_mut().filter(|(of_digits, _)| *of_digits == is_digit) {
            Some((_, run)) => run.push(letter),
            None => list.push((is_digit, letter.to_string())),
        }
    }
    list.into_iter()
        .map(|(of_digits, run)| {
            if of_digits {
                let number = run.trim_start_matches('0').to_owned();
                Run::Number(number.len(), number)
            } else {
                Run::Letters(run.to_lowercase())
            }
        })
        .collect()
}

/// Which of two serial numbers comes first: run by run, digits as whole numbers of any length, upper and lower case
/// alike, a number before a letter, and what ends first before what goes on.
///
/// ```
/// use preen_domain::formulas::serial::compare_serials;
/// use std::cmp::Ordering::{Equal, Less};
/// assert_eq!(compare_serials("B99", "B100"), Less);
/// assert_eq!(compare_serials("b0100", "B100"), Equal);
/// assert_eq!(compare_serials("B100", "B100-2"), Less);
/// ```
#[must_use]
pub fn compare_serials(one: &str, other: &str) -> Ordering {
    runs(one).cmp(&runs(other))
}

/// Whether a serial number lies in a range; both ends belong to it, and a missing end is open.
///
/// ```
/// use preen_domain::formulas::serial::is_in_range;
/// assert!(is_in_range("SN0250", Some("SN100"), Some("SN250")));
/// assert!(!is_in_range("SN251", Some("SN100"), Some("SN250")));
/// assert!(!is_in_range("TN150", Some("SN100"), Some("SN250")));
/// ```
#[must_use]
pub fn is_in_range(serial: &str, from: Option<&str>, to: Option<&str>) -> bool {
    from.is_none_or(|from| compare_serials(from, serial) != Ordering::Greater)
        && to.is_none_or(|to| compare_serials(serial, to) != Ordering::Greater)
}

/// Whether two serial numbers are written after one pattern: they begin with the same letters, and letters and numbers
/// take turns alike.
///
/// ```
/// use preen_domain::formulas::serial::reads_alike;
/// assert!(reads_alike("SN0250", "sn7"));
/// assert!(reads_alike("SV08-A001", "SV08-B250"));
/// assert!(!reads_alike("SV08-B001", "B0250"));
/// assert!(!reads_alike("B7", "SN7"));
/// ```
#[must_use]
pub fn reads_alike(one: &str, other: &str) -> bool {
    let (one, other) = (runs(one), runs(other));
    let take_turns_alike = one.len() == other.len()
        && one.iter().zip(&other).all(|(a, b)| matches!(a, Run::Letters(_)) == matches!(b, Run::Letters(_)));
    let begin_alike = match (one.first(), other.first()) {
        (Some(Run::Letters(one)), Some(Run::Letters(other))) => one == other,
        _ => true,
    };
    take_turns_alike && begin_alike
}
