//! Laws that hold for every history of a club, and a second, independent opinion on every answer.
//!
//! * [`slow`]: plain loops over the recorded facts; [`compare`]: what it says against what the answers say.
//! * [`demo`]: the comparison on the demo club.
//! * [`history`], [`acts`], [`world`]: random histories of a whole club; [`reach`]: that they are rich.
//! * [`laws`], [`deferrals`], [`changes`]: what holds on all of them; [`large`]: on one of hundreds of models.
//! * [`stored`], [`sending`]: the same large history through the doors of running services on both databases.

mod acts;
mod campaign_acts;
mod changes;
mod check_acts;
mod compare;
mod defect_acts;
mod deferrals;
mod demo;
mod history;
mod large;
mod laws;
mod reach;
mod sending;
mod slow;
mod stored;
mod world;

/// Fails with the first few of all complaints.
#[track_caller]
pub fn expect_none(complaints: &[String]) {
    let first: Vec<&str> = complaints.iter().take(5).map(String::as_str).collect();
    assert!(complaints.is_empty(), "{} in all\n{}\n", complaints.len(), first.join("\n"));
}
