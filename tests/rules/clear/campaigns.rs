//! Reasons from campaigns.

use preen_domain::words::Severity;
use serde_json::json;

use super::{Cleared, Club};

pub const CLEARED: &[Cleared] = &[
    ("campaign_overdue", a_reading_that_was_to_be_taken),
    ("campaign_limit", flights_that_are_counted),
    ("campaign_open", a_look_without_a_deadline),
    ("campaign_limit_reading", a_reading_at_the_limit),
    ("campaign_work_failed", a_look_that_failed),
];

fn a_reading_that_was_to_be_taken() {
    let mut club = Club::of("SG-03");
    club.no("campaign_overdue", "measure servo_free_play of SV08-B005, SV08-B011");
    for servo in ["SV08-B005", "SV08-B011"] {
        club.measure(servo, "servo_free_play", "deg", 0.6);
    }
    club.yes("campaign_overdue");
}

/// Swaps a flap servo of SG-01 for one of the new batch.
fn swap(club: &mut Club, off: &str, on: &str, position: &str) {
    club.take_out(off);
    club.fit(on, Some("PN-C-01"), position);
}

fn flights_that_are_counted() {
    let mut club = Club::of("SG-01");
    club.says("campaign_limit", Severity::Watch, "swap SV08-B002, SV08-B001 for parts of batch C");
    assert_eq!((club.verdict().max_flights, club.verdict().restrictions.len()), (Some(4), 1));
    swap(&mut club, "SV08-B001", "SV08-C004", "FS.L");
    swap(&mut club, "SV08-B002", "SV08-C005", "FS.R");
    club.pass("SW");
    club.yes("campaign_limit");
    assert_eq!((club.verdict().max_flights, club.verdict().restrictions.len()), (None, 0));
}

fn look_at_tail_servos(club: &mut Club) -> String {
    let look = json!([{"number": 1, "task": "inspect", "text": "look for cracks in the case"}]);
    club.enter(
        "campaigns",
        json!({"tag": "CA-900", "part": "#parts:SV06", "text": "cracked cases", "opened_by": "#members:FS",
               "actions": look}),
    )
}

fn servos(club: &Club) -> Vec<String> {
    ["SV06-S001", "SV06-S002", "SV06-S003", "SV06-S004"]
        .into_iter()
        .filter(|tag| club.fleet.id_of_tag("components".parse().unwrap(), &tag.parse().unwrap()).is_some())
        .map(ToOwned::to_owned)
        .collect()
}

fn looked_at(club: &mut Club, servo: &str, result: &str) {
    club.enter(
        "campaign-works",
        json!({"campaign": "#campaigns:CA-900", "action": 1, "component": format!("#components:{servo}"),
               "result": result}),
    );
}

fn a_look_without_a_deadline() {
    let mut club = Club::of("TS-01");
    look_at_tail_servos(&mut club);
    let asked = club.found("campaign_open").unwrap();
    let all = servos(&club);
    for servo in &all {
        assert!(asked.clear_by.contains(servo.as_str()), "{}", asked.clear_by);
    }
    assert!(asked.clear_by.ends_with("and record it for action 1 of CA-900"), "{}", asked.clear_by);
    for servo in &all {
        looked_at(&mut club, servo, "pass");
    }
    club.yes("campaign_open");
}

fn a_reading_at_the_limit() {
    let mut club = Club::of("SG-01");
    club.measure("SV08-B001", "servo_free_play", "deg", 1.2);
    club.no("campaign_limit_reading", "take SV08-B001 out and fit a part that the campaign allows");
    swap(&mut club, "SV08-B001", "SV08-C004", "FS.L");
    club.pass("SW");
    club.yes("campaign_limit_reading");
}

fn a_look_that_failed() {
    let mut club = Club::of("TS-01");
    look_at_tail_servos(&mut club);
    looked_at(&mut club, "SV06-S001", "fail");
    club.no(
        "campaign_work_failed",
        "take SV06-S001 out and fit a part that the campaign allows, or mend it, inspect it again and record a pass",
    );
    looked_at(&mut club, "SV06-S001", "pass");
    club.yes("campaign_work_failed");
}
