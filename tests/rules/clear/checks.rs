//! Reasons from checks: by interval, failed, and opened by what happened.

use preen_domain::words::Severity;
use serde_json::json;

use super::{Cleared, Club};

pub const CLEARED: &[Cleared] = &[
    ("check_failed", a_failed_check),
    ("check_failed", a_pack_that_failed_and_another_that_passed),
    ("check_item_failed", an_item_that_failed),
    ("check_overdue", a_check_that_is_late),
    ("check_never_done", a_pack_that_was_never_checked),
    ("check_due", a_check_inside_its_tolerance),
    ("check_soon", a_check_that_comes_within_days),
    ("hard_landing_unchecked", a_hard_landing),
    ("swap_unchecked", a_servo_taken_out_and_fitted),
    ("radio_change_unchecked", a_change_of_the_radio),
    ("transport_unchecked", a_case_that_fell),
    ("return_unchecked", a_return_to_flying),
];

fn a_failed_check() {
    let mut club = Club::of("TS-01");
    let check = json!({"model": "#model", "group": "N25", "result": "fail", "is_summary": true,
                       "inspected_by": "#members:QS"});
    club.enter("inspections", check);
    club.no("check_failed", "mend what failed, then pass N25");
    club.pass("N25");
    club.yes("check_failed");
}

fn a_pack_that_failed_and_another_that_passed() {
    // TS-02's own pack failed and is in quarantine; another one passes and comes in.
    let mut club = Club::of("TS-02");
    let pack = json!("#components:PK-SP-04");
    let check = json!({"component": pack, "group": "PK20", "result": "pass", "is_summary": true});
    club.enter("inspections", check);
    club.enter("conditions", json!({"component": pack, "state": "serviceable", "reason": "passed PK20"}));
    club.fit("PK-SP-04", None, "PK");
    club.yes("check_failed");
}

fn an_item_that_failed() {
    let mut club = Club::of("TS-01");
    let check = |result: &str| {
        json!({"model": "#model", "group": "N25", "result": "restrict", "is_summary": false,
               "inspected_by": "#members:QS", "items": [{"item": "N25-05", "result": result, "note": "hinge"}]})
    };
    club.enter("inspections", check("fail"));
    let asked = club.found("check_item_failed").unwrap();
    assert!(asked.clear_by.starts_with("pass N25-05 again"), "{}", asked.clear_by);
    club.enter("inspections", check("pass"));
    club.yes("check_item_failed");
}

fn a_check_that_is_late() {
    let mut club = Club::of("MP-02");
    let asked = club.found("check_overdue").unwrap();
    club.no("check_overdue", &asked.clear_by);
    assert!(asked.clear_by.starts_with("do N25 ("), "{}", asked.clear_by);
    club.pass("N25");
    club.yes("check_overdue");
}

fn a_pack_that_was_never_checked() {
    let mut club = Club::of("TS-01");
    club.take_out("PK-TS-01");
    club.fit("PK-TS-01", None, "PK");
    let asked = club.found("check_never_done").unwrap();
    club.no("check_never_done", &asked.clear_by);
    assert!(asked.clear_by.starts_with("do PK20 ("), "{}", asked.clear_by);
    club.pass("PK20");
    club.yes("check_never_done");
}

fn a_check_inside_its_tolerance() {
    let mut club = Club::of("SG-03");
    let asked = club.found("check_due").unwrap();
    assert!(asked.clear_by.starts_with("do RF30 ("), "{}", asked.clear_by);
    assert_eq!(asked.severity, Severity::Watch);
    club.pass("RF30");
    club.is_gone("check_due");
}

fn a_check_that_comes_within_days() {
    let mut club = Club::of("SG-06");
    let asked = club.found("check_soon").unwrap();
    assert!(asked.clear_by.starts_with("do S12 ("), "{}", asked.clear_by);
    assert_eq!(asked.severity, Severity::Watch);
    club.pass("S12");
    club.yes("check_soon");
}

fn a_hard_landing() {
    let mut club = Club::of("TS-01");
    let flight = json!({"model": "#model", "pilot": "#members:HT", "airtime_min": 0.0, "landing": "hard",
                        "is_post_flight_logged": true});
    club.enter("flights", flight);
    opened(&mut club, "hard_landing_unchecked", "HL");
}

fn a_servo_taken_out_and_fitted() {
    let mut club = Club::of("TS-01");
    club.take_out("SV06-S001");
    club.fit("SV06-S001", None, "AS.L");
    opened(&mut club, "swap_unchecked", "SW");
}

fn a_change_of_the_radio() {
    let mut club = Club::of("TS-01");
    club.enter("events", json!({"model": "#model", "kind": "radio_change", "note": "new firmware"}));
    opened(&mut club, "radio_change_unchecked", "RF30");
}

fn a_case_that_fell() {
    let mut club = Club::of("TS-01");
    club.enter("events", json!({"model": "#model", "kind": "case_fallen"}));
    opened(&mut club, "transport_unchecked", "TR");
}

fn a_return_to_flying() {
    let mut club = Club::of("TS-01");
    club.enter("events", json!({"model": "#model", "kind": "laid_up"}));
    club.enter("events", json!({"model": "#model", "kind": "returned_to_flying"}));
    let groups: Vec<String> = club
        .verdict()
        .reasons
        .into_iter()
        .filter(|one| one.code == "return_unchecked")
        .map(|one| group_of(&one.clear_by))
        .collect();
    assert_eq!(groups, ["N25", "PK20"]);
    assert!(!club.verdict().may_fly);
    for group in &groups {
        club.pass(group);
    }
    club.yes("return_unchecked");
}

/// The group that "pass HL (Hard landing)" names.
fn group_of(clear_by: &str) -> String {
    let named = clear_by.strip_prefix("pass ").unwrap_or_else(|| panic!("{clear_by}"));
    named.split(" (").next().unwrap().to_owned()
}

fn opened(club: &mut Club, code: &str, group: &str) {
    let asked = club.found(code).unwrap_or_else(|| panic!("no {code}: {:#?}", club.verdict().reasons));
    assert_eq!((asked.severity, group_of(&asked.clear_by).as_str()), (Severity::Ground, group));
    assert!(!club.verdict().may_fly);
    club.pass(group);
    club.yes(code);
}
