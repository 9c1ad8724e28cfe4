//! Laws that hold for every history of a club, and a second, independent opinion on every answer.
//!
//! * [`slow`]: plain loops over the recorded facts; [`compare`]: what it says against what the answers say.
//! * [`demo`]: the comparison on the demo club.

mod compare;
mod demo;
mod slow;

/// Fails with the first few of all complaints.
#[track_caller]
pub fn expect_none(complaints: &[String]) {
    let first: Vec<&str> = complaints.iter().take(5).map(String::as_str).collect();
    assert!(complaints.is_empty(), "{} in all\n{}\n", complaints.len(), first.join("\n"));
}
