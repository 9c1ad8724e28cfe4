//! Defects, repairs, releases and loans.

use serde_json::{Value, json};

use crate::said::{allowed, fact, fresh, refused};
use preen_tests::demo_fleet::{NOW, add, at, demo};

fn release(changes: Value) -> Value {
    let mut release = json!({
        "id": fresh(1), "repair": "#repairs:RE-013", "occurred_at": "2026-05-21T07:30:00Z", "second_person": "#members:FS",
    });
    for (key, value) in changes.as_object().unwrap() {
        release[key] = value.clone();
    }
    release
}

#[test]
fn releasing_what_still_cures() {
    let fleet = demo();
    allowed(&fleet, "releases", release(json!({})));
    refused(
        &fleet,
        "releases",
        release(json!({"occurred_at": "2026-05-20T18:59:59Z"})),
        "still_curing",
        "/occurred_at",
    );
    allowed(&fleet, "releases", release(json!({"occurred_at": "2026-05-20T19:00:00Z"})));
}

#[test]
fn the_worker_is_never_the_second_person() {
    refused(
        &demo(),
        "releases",
        release(json!({"second_person": "#members:QS"})),
        "worker_as_second_person",
        "/second_person",
    );
}

#[test]
fn releasing_twice() {
    let mut fleet = demo();
    let first = fact(&fleet, "releases", release(json!({"id": fresh(2)})));
    assert_eq!(preen_domain::rules::check(&fleet, &first, at(NOW)), []);
    add(&mut fleet, first);
    refused(&fleet, "releases", release(json!({})), "already_released", "/repair");
}

#[test]
fn a_ground_defect_is_never_flown_with() {
    let fleet = demo();
    let defect = |severity: &str, restriction: Value| {
        json!({
            "id": fresh(1), "model": "#models:SG-01", "subject": {"model": "#models:SG-01"}, "severity": severity,
            "occurred_at": "2026-05-21T07:30:00Z", "text": "flap hinge stiff", "restriction": restriction,
        })
    };
    allowed(&fleet, "defects", defect("restrict", json!({"kind": "max_flights", "value": 5})));
    refused(
        &fleet,
        "defects",
        defect("ground", json!({"kind": "no_contest"})),
        "ground_is_never_deferred",
        "/restriction",
    );
    refused(
        &fleet,
        "defects",
        defect("restrict", json!({"kind": "max_flights"})),
        "value_missing",
        "/restriction/value",
    );
    refused(
        &fleet,
        "defects",
        defect("restrict", json!({"kind": "until_date"})),
        "value_missing",
        "/restriction/until_on",
    );
}

#[test]
fn a_loan_of_what_is_lent() {
    let fleet = demo();
    let loan = |from: &str, to: &str| {
        json!({
            "id": fresh(1), "item": {"model": "#models:TS-03"}, "lent_to": "#members:EL",
            "occurred_at": "2026-05-21T07:30:00Z", "from_on": from, "due_back_on": to,
        })
    };
    refused(&fleet, "loans", loan("2026-05-22", "2026-05-24"), "lent_already", "/item");
    refused(&fleet, "loans", loan("2026-06-05", "2026-06-01"), "due_before_start", "/due_back_on");
    allowed(&fleet, "loans", loan("2026-06-01", "2026-06-05"));
}
