//! Failed items of checks: a reason of their own until somebody follows them up, each way of doing that, and that a
//! check half looked at restarts nothing.

use preen_domain::{
    answers::{DueItem, due_of_model, findings},
    facts::Fact,
    fleet::{Fleet, Place},
    ids::ComponentId,
    words::{Severity, State},
};
use preen_tests::demo_fleet::{add, at, component, demo, member, model, moment, verdict};
use serde_json::{Value, json};
use uuid::Uuid;

fn fresh(number: u32) -> String {
    Uuid::from_u128(0x0197_0a3c_5d00_7000_8000_0001_0000_0000 + u128::from(number)).to_string()
}

fn enter(fleet: &mut Fleet, noun: &str, body: Value) {
    let fact = Fact::from_json(noun.parse().unwrap(), body).unwrap();
    add(fleet, fact);
}

fn check(fleet: &mut Fleet, number: u32, group: &str, minute: u32, result: &str, items: Value) {
    let body = json!({
        "id": fresh(number), "model": model(fleet, "SG-05"), "group": group, "result": result, "is_summary": false,
        "occurred_at": format!("2026-05-21T07:{minute:02}:00Z"), "items": items,
    });
    enter(fleet, "inspections", body);
}

/// Failed items that stand against SG-05: item, class, what clears it.
fn said(fleet: &Fleet) -> Vec<(String, Severity, String)> {
    let reasons = verdict(fleet, "SG-05", "2026-05-23").reasons;
    let failed = reasons.into_iter().filter(|reason| reason.code == "check_item_failed");
    failed.map(|reason| (reason.subject, reason.severity, reason.clear_by)).collect()
}

fn motor_lock_fails(fleet: &mut Fleet) {
    check(
        fleet,
        1,
        "DF",
        10,
        "restrict",
        json!([{"item": "DF-05", "result": "fail", "note": "motor turned"}]),
    );
}

#[test]
fn a_failed_item_of_the_day_check_grounds_until_it_is_passed() {
    let mut fleet = demo();
    assert!(verdict(&fleet, "SG-05", "2026-05-23").may_fly);
    motor_lock_fails(&mut fleet);
    let now = verdict(&fleet, "SG-05", "2026-05-23");
    assert_eq!((now.state, now.may_fly), (State::Grounded, false));
    assert_eq!(
        said(&fleet),
        [("DF-05".to_owned(), Severity::Ground, "pass DF-05 again, or report the defect".to_owned())]
    );
    let audit = findings(&fleet, moment("2026-05-21"));
    let found = audit.findings.iter().find(|found| found.finding.code == "check_item_failed").unwrap();
    assert_eq!((found.model.as_deref(), found.family.as_str()), (Some("SG-05"), "checks"));
    assert!(found.finding.text.contains("motor turned"), "{}", found.finding.text);
    // Other items passed leave it; the item itself passed clears it.
    check(&mut fleet, 2, "DF", 20, "restrict", json!([{"item": "DF-04", "result": "pass"}]));
    assert_eq!(said(&fleet).len(), 1);
    check(&mut fleet, 3, "DF", 30, "restrict", json!([{"item": "DF-05", "result": "pass"}]));
    assert_eq!(said(&fleet), []);
    assert!(verdict(&fleet, "SG-05", "2026-05-23").may_fly);
}

#[test]
fn a_defect_speaks_for_a_failed_item() {
    let mut fleet = demo();
    motor_lock_fails(&mut fleet);
    let defect = |found_at: &str, number: u32| {
        json!({"id": fresh(number), "model": model(&demo(), "SG-05"), "subject": {"model": model(&demo(), "SG-05")},
               "occurred_at": found_at, "severity": "watch", "text": "lock switch loose"})
    };
    // What was found long before is about something else.
    enter(&mut fleet, "defects", defect("2026-05-10T10:00:00Z", 5));
    assert_eq!(said(&fleet).len(), 1);
    enter(&mut fleet, "defects", defect("2026-05-21T07:30:00Z", 6));
    assert_eq!(said(&fleet), []);
}

#[test]
fn the_class_follows_the_programme() {
    let mut fleet = demo();
    let cases = [
        ("DF-04", Severity::Restrict, State::Restricted),
        ("DF-12", Severity::Watch, State::Fit),
        ("DF-03", Severity::Ground, State::Grounded),
    ];
    for (number, (item, severity, state)) in (10..).zip(cases) {
        let mut fleet = fleet.clone();
        check(&mut fleet, number, "DF", 10, "restrict", json!([{"item": item, "result": "fail"}]));
        assert_eq!(
            (said(&fleet)[0].1, verdict(&fleet, "SG-05", "2026-05-23").state),
            (severity, state),
            "{item}"
        );
    }
    // A reading decides where the programme has limits for it.
    let servo = flap_servo(&fleet);
    for (value, severity) in [(0.8, Severity::Watch), (1.0, Severity::Restrict), (1.2, Severity::Ground)] {
        let mut fleet = fleet.clone();
        let items = json!([{"item": "N25-02", "result": "fail", "value": value, "component": servo}]);
        check(&mut fleet, 20, "N25", 10, "restrict", items);
        assert_eq!(said(&fleet)[0].1, severity, "{value}");
    }
    // A check failed as a whole grounds as well, and names the whole.
    check(&mut fleet, 30, "DF", 10, "fail", json!([{"item": "DF-12", "result": "fail"}]));
    let now = verdict(&fleet, "SG-05", "2026-05-23");
    let whole = now.reasons.iter().find(|reason| reason.code == "check_failed").unwrap();
    assert_eq!((whole.subject.as_str(), whole.clear_by.as_str()), ("DF", "mend what failed, then pass DF"));
    assert!(!now.may_fly);
}

/// The left flap servo of SG-05.
fn flap_servo(fleet: &Fleet) -> ComponentId {
    let fitted = fleet.fitted(model(fleet, "SG-05"), at("2026-05-21T07:00:00Z"));
    fitted.iter().find(|fitted| fitted.path == "W.C/FS.L").unwrap().id
}

#[test]
fn a_failure_goes_with_its_part_and_ends_with_its_repair() {
    let mut fleet = demo();
    let servo = flap_servo(&fleet);
    let items = json!([{"item": "N25-02", "result": "fail", "value": 1.2, "component": servo}]);
    check(&mut fleet, 1, "N25", 10, "restrict", items);
    assert_eq!(said(&fleet).len(), 1);
    // A defect on another part does not answer it.
    let other = component(&fleet, "SV08-B001");
    let (sg_01, sg_05, dr) = (model(&fleet, "SG-01"), model(&fleet, "SG-05"), member(&fleet, "DR"));
    enter(
        &mut fleet,
        "defects",
        json!({"id": fresh(2), "model": sg_01, "subject": {"component": other},
               "occurred_at": "2026-05-21T07:20:00Z", "severity": "ground", "text": "notch"}),
    );
    assert_eq!(said(&fleet).len(), 1);
    // Off the model it is the part's own, and stays a finding.
    let mut bench = fleet.clone();
    let installation =
        bench.component(servo).unwrap().span_at(at("2026-05-21T07:20:00Z")).unwrap().installation;
    enter(
        &mut bench,
        "removals",
        json!({"id": fresh(3), "installation": installation, "component": servo, "reason": "over_limit",
               "occurred_at": "2026-05-21T07:30:00Z"}),
    );
    assert_eq!(bench.place_at(servo, at("2026-05-21T07:40:00Z")), Place::Loose);
    assert_eq!(said(&bench), []);
    let audit = findings(&bench, moment("2026-05-21"));
    let found = audit.findings.iter().find(|found| found.finding.code == "check_item_failed").unwrap();
    assert_eq!((found.model.as_deref(), found.finding.severity), (None, Severity::Ground));
    // Its repair follows it up.
    enter(
        &mut fleet,
        "repairs",
        json!({"id": fresh(4), "model": sg_05, "kind": "R5", "components": [servo],
               "occurred_at": "2026-05-21T07:40:00Z", "text": "gears", "done_by": dr}),
    );
    assert_eq!(said(&fleet), []);
}

#[test]
fn a_partial_check_restarts_nothing() {
    let mut fleet = demo();
    let n25 = |fleet: &Fleet| -> DueItem {
        let due = due_of_model(fleet, model(fleet, "SG-05"), moment("2026-05-21"));
        due.into_iter().find(|item| item.group == "N25").unwrap()
    };
    let before = n25(&fleet);
    check(&mut fleet, 1, "N25", 10, "restrict", json!([{"item": "N25-02", "result": "pass"}]));
    assert_eq!(n25(&fleet), before, "a servo was measured, the group was not done");
    let programme = fleet.programme_of(Some(model(&fleet, "SG-05"))).unwrap().fact.clone();
    let asked = programme.items.iter().filter(|item| item.group.as_str() == "N25");
    let mut items: Vec<Value> = asked.map(|item| json!({"item": item.code, "result": "pass"})).collect();
    items[3] = json!({"item": items[3]["item"], "result": "not_looked_at"});
    check(&mut fleet, 2, "N25", 20, "restrict", json!(items));
    assert_eq!(n25(&fleet), before);
    items[3] = json!({"item": items[3]["item"], "result": "fail"});
    check(&mut fleet, 3, "N25", 30, "restrict", json!(items));
    let after = n25(&fleet);
    assert_eq!(after.done_on.unwrap().to_string(), "2026-05-21");
    assert!(after.due_at_count > before.due_at_count);
}
