//! Reasons from defects and repairs.

use preen_domain::words::{RestrictionKind, Severity};
use serde_json::{Value, json};

use super::{Cleared, Club};

pub const CLEARED: &[Cleared] = &[
    ("defect_open", a_defect_that_grounds),
    ("defect_open", a_restriction_that_goes_with_its_defect),
    ("repair_curing", a_repair_that_cures),
    ("repair_unreleased", a_repair_that_is_not_released),
    ("reinspection_after_repair", a_cover_that_asks_for_another_look),
    ("first_flight_after_repair", the_first_flight_after_a_repair),
];

fn defect(club: &mut Club, more: &Value) -> String {
    let mut body = json!({"tag": "DE-900", "model": "#model", "subject": {"model": "#models:TS-01"},
                          "severity": "ground", "text": "rudder hinge loose", "found_by": "#members:HT"});
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    club.enter("defects", body)
}

fn a_defect_that_grounds() {
    let mut club = Club::of("TS-01");
    let defect = defect(&mut club, &json!({}));
    club.no("defect_open", "repair and release DE-900, or close it with what was found");
    let repair = repair(&mut club, "R8", &json!({"defect": defect}));
    club.pass("RP");
    club.enter(
        "releases",
        json!({"repair": repair, "released_by": "#members:QS", "second_person": "#members:QS"}),
    );
    club.yes("defect_open");
}

fn a_restriction_that_goes_with_its_defect() {
    let mut club = Club::of("TS-01");
    let kinds = |club: &Club| -> Vec<RestrictionKind> {
        club.verdict().restrictions.iter().map(|one| one.kind).collect()
    };
    let terms = json!({"severity": "restrict", "restriction": {"kind": "no_landing_flap"}});
    let defect = defect(&mut club, &terms);
    assert_eq!(kinds(&club), [RestrictionKind::NoLandingFlap]);
    club.says(
        "defect_open",
        Severity::Restrict,
        "repair and release DE-900, or close it with what was found",
    );
    let gap =
        json!({"subject": {"model": "#models:TS-01"}, "quantity": "gap", "unit": "mm", "values": [0.0]});
    club.enter("measurements", gap);
    club.enter(
        "closures",
        json!({"defect": defect, "kind": "found_wrong", "text": "it was the horn of TS-02"}),
    );
    club.yes("defect_open");
    assert_eq!(kinds(&club), []);
    assert_eq!(club.verdict().state.as_str(), "fit");
}

fn repair(club: &mut Club, kind: &str, more: &Value) -> String {
    let mut body = json!({"tag": "RE-900", "model": "#model", "kind": kind, "text": "mended",
                          "done_by": "#members:HT"});
    for (key, value) in more.as_object().unwrap() {
        body[key] = value.clone();
    }
    club.enter("repairs", body)
}

fn release(club: &mut Club, repair: &str) {
    club.enter(
        "releases",
        json!({"repair": repair, "released_by": "#members:QS", "second_person": "#members:QS"}),
    );
}

fn a_repair_that_cures() {
    let mut club = Club::of("TS-01");
    let repair = repair(&mut club, "R9", &json!({"cure_until_at": "2026-05-22T06:00:00Z"}));
    let asked = club.found("repair_curing").unwrap();
    let expected = "wait until 2026-05-22T06:00:00Z, then pass RP (";
    assert!(asked.clear_by.starts_with(expected), "{}", asked.clear_by);
    assert!(asked.clear_by.ends_with(") and release RE-900"), "{}", asked.clear_by);
    assert!(asked.severity == Severity::Ground && !club.verdict().may_fly);
    club.at("2026-05-22T06:00:00Z");
    club.is_gone("repair_curing");
    club.pass("RP");
    release(&mut club, &repair);
    club.yes("repair_curing");
}

fn a_repair_that_is_not_released() {
    let mut club = Club::of("TS-01");
    let repair = repair(&mut club, "R9", &json!({}));
    let asked = club.found("repair_unreleased").unwrap();
    assert!(asked.clear_by.starts_with("pass RP ("), "{}", asked.clear_by);
    assert!(asked.clear_by.ends_with(") and release RE-900"), "{}", asked.clear_by);
    assert!(asked.severity == Severity::Ground && !club.verdict().may_fly);
    club.pass("RP");
    release(&mut club, &repair);
    club.yes("repair_unreleased");
}

fn a_cover_that_asks_for_another_look() {
    let mut club = Club::of("TS-01");
    let repair = repair(&mut club, "R4", &json!({}));
    let sheet = preen_domain::worksheets::worksheet("R4".parse().unwrap());
    let ticks: Vec<Value> =
        sheet.steps.iter().map(|step| json!({"number": step.number, "result": "done"})).collect();
    club.enter(
        "repair-steps",
        json!({"repair": repair, "done_by": "#members:HT", "steps": ticks,
               "cover": {"material": "sheet", "thickness_mm": 0.5, "relief": "slot"}}),
    );
    club.pass("RP");
    release(&mut club, &repair);
    let asked = club.found("reinspection_after_repair").unwrap();
    assert!(asked.clear_by.starts_with("pass SW-06 ("), "{}", asked.clear_by);
    assert!(asked.severity == Severity::Ground && !club.verdict().may_fly);
    club.pass("SW");
    club.yes("reinspection_after_repair");
}

fn the_first_flight_after_a_repair() {
    let mut club = Club::of("TS-01");
    let repair = repair(&mut club, "R9", &json!({}));
    club.pass("RP");
    release(&mut club, &repair);
    club.says(
        "first_flight_after_repair",
        Severity::Restrict,
        "fly it once like that, and pass the after-flight check of that flight",
    );
    let held: Vec<RestrictionKind> = club.verdict().restrictions.iter().map(|one| one.kind).collect();
    assert_eq!(held, [RestrictionKind::LightLaunchOnly]);
    club.now = club.now.plus_seconds(3600);
    let flight = json!({"model": "#model", "pilot": "#members:HT", "airtime_min": 0.0, "landing": "soft",
                        "is_post_flight_logged": true});
    club.enter("flights", flight);
    club.yes("first_flight_after_repair");
    assert_eq!(club.verdict().restrictions, []);
}
