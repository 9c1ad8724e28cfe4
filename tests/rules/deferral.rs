//! Putting defects off, and closing them without a repair.

use preen_domain::{
    facts::{Correction, Noun, Recorded},
    fleet::Fleet,
    ids::CorrectionId,
    rules::{check_by, check_correction},
    words::DefectCause,
};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::said::{allowed, fact, fresh, refused, said};
use preen_tests::demo_fleet::{NOW, add, at, demo, member};

/// A deferral of DE-007, which QS restricted when it was found: its extension, by FS if nothing else is said.
fn deferral(changes: Value) -> Value {
    let mut deferral = json!({
        "id": fresh(1), "defect": "#defects:DE-007", "occurred_at": NOW, "fix_by_on": "2026-06-11",
        "restrictions": [{"kind": "no_contest"}], "reason": "new lead ordered", "deferred_by": "#members:FS",
    });
    for (key, value) in changes.as_object().unwrap() {
        deferral[key] = value.clone();
    }
    deferral
}

/// A fresh defect of class restrict on SG-01, with nothing said of how it may be flown.
fn with_defect(fleet: &mut Fleet, number: u32, tag: &str, more: Value) {
    let mut defect = json!({
        "id": fresh(number), "tag": tag, "model": "#models:SG-01", "subject": {"model": "#models:SG-01"},
        "severity": "restrict", "occurred_at": "2026-05-20T19:00:00Z", "text": "flap hinge stiff",
        "found_by": "#members:AV",
    });
    for (key, value) in more.as_object().unwrap() {
        defect[key] = value.clone();
    }
    let defect = fact(fleet, "defects", defect);
    add(fleet, defect);
}

fn defer_refused(fleet: &Fleet, changes: Value, code: &str, pointer: &str) {
    refused(fleet, "deferrals", deferral(changes), code, pointer);
}

#[test]
fn what_grounds_is_never_deferred() {
    let fleet = demo();
    let broken = preen_domain::rules::check(
        &fleet,
        &fact(&fleet, "deferrals", deferral(json!({"defect": "#defects:DE-008", "fix_by_on": "2026-05-30"}))),
        at(NOW),
    );
    let [rule] = broken.as_slice() else { panic!("{broken:?}") };
    assert_eq!((rule.code, rule.pointer.as_str()), ("ground_is_never_deferred", "/defect"));
    assert_eq!(rule.text, "DE-008 grounds, and what grounds is never deferred: repair and release it");
}

#[test]
fn a_defect_nobody_knows() {
    defer_refused(&demo(), json!({"defect": fresh(9)}), "unknown_reference", "/defect");
}

#[test]
fn causes_that_always_ground() {
    let fleet = demo();
    for cause in DefectCause::ALL {
        let defect = |severity: &str| {
            json!({
                "id": fresh(1), "model": "#models:SG-01", "subject": {"model": "#models:SG-01"}, "cause": cause,
                "severity": severity, "occurred_at": NOW, "text": "not as it was",
            })
        };
        allowed(&fleet, "defects", defect("ground"));
        if cause.is_never_deferred() {
            refused(&fleet, "defects", defect("restrict"), "cause_is_never_deferred", "/severity");
            refused(&fleet, "defects", defect("watch"), "cause_is_never_deferred", "/severity");
        } else {
            allowed(&fleet, "defects", defect("restrict"));
        }
    }
    assert_eq!(DefectCause::ALL.iter().filter(|cause| cause.is_never_deferred()).count(), 9);
    let mut fleet = demo();
    with_defect(&mut fleet, 2, "DE-900", json!({"severity": "ground", "cause": "swollen_pack"}));
    defer_refused(&fleet, json!({"defect": "#defects:DE-900"}), "cause_is_never_deferred", "/defect");
}

#[test]
fn terms_are_complete() {
    let fleet = demo();
    allowed(&fleet, "deferrals", deferral(json!({})));
    allowed(&fleet, "deferrals", deferral(json!({"fix_by_on": null, "within_flights": 6})));
    let counted = json!([{"kind": "max_flights", "value": 4}, {"kind": "no_contest"}]);
    allowed(&fleet, "deferrals", deferral(json!({"fix_by_on": null, "restrictions": counted})));
    defer_refused(&fleet, json!({"restrictions": []}), "restriction_missing", "/restrictions");
    defer_refused(&fleet, json!({"fix_by_on": null}), "limit_missing", "/fix_by_on");
    defer_refused(&fleet, json!({"within_flights": 0}), "out_of_range", "/within_flights");
    defer_refused(
        &fleet,
        json!({"restrictions": [{"kind": "no_contest"}, {"kind": "max_wind"}]}),
        "value_missing",
        "/restrictions/1/value",
    );
    defer_refused(
        &fleet,
        json!({"restrictions": [{"kind": "until_date", "until_on": "2026-05-20"}]}),
        "last_day_past",
        "/restrictions/0/until_on",
    );
    defer_refused(&fleet, json!({"fix_by_on": "2026-05-20"}), "last_day_past", "/fix_by_on");
    allowed(&fleet, "deferrals", deferral(json!({"fix_by_on": "2026-05-21"})));
}

#[test]
fn a_watched_defect_needs_no_restriction() {
    let mut fleet = demo();
    with_defect(&mut fleet, 2, "DE-900", json!({"severity": "watch"}));
    allowed(&fleet, "deferrals", deferral(json!({"defect": "#defects:DE-900", "restrictions": []})));
}

#[test]
fn deferring_before_it_was_found() {
    let changes = json!({"occurred_at": "2026-05-02T21:14:59Z"});
    defer_refused(&demo(), changes, "deferred_before_found", "/occurred_at");
}

#[test]
fn nobody_extends_what_they_signed_first() {
    let fleet = demo();
    defer_refused(&fleet, json!({"deferred_by": "#members:QS"}), "extension_by_first_signer", "/deferred_by");
    // Who records signs, where nobody else is named.
    let mut unsigned = deferral(json!({}));
    unsigned.as_object_mut().unwrap().remove("deferred_by");
    let unsigned = fact(&fleet, "deferrals", unsigned);
    let by = |tag: &str| {
        let broken = check_by(&fleet, &unsigned, member(&fleet, tag), at(NOW));
        broken.into_iter().map(|rule| rule.code).collect::<Vec<_>>()
    };
    assert_eq!((by("QS"), by("FS")), (vec!["extension_by_first_signer"], vec![]));
}

#[test]
fn it_is_extended_once() {
    let mut fleet = demo();
    let first = fact(&fleet, "deferrals", deferral(json!({"id": fresh(2)})));
    add(&mut fleet, first);
    defer_refused(&fleet, json!({"deferred_by": "#members:AV"}), "already_extended", "/defect");
    // An entry for the time before would make the one on record the second extension.
    defer_refused(
        &fleet,
        json!({"deferred_by": "#members:AV", "occurred_at": "2026-05-10T19:00:00Z"}),
        "already_extended",
        "/defect",
    );
}

#[test]
fn an_earlier_deferral_by_the_same_person_comes_too_late() {
    let mut fleet = demo();
    with_defect(&mut fleet, 2, "DE-900", json!({}));
    let changes = json!({"id": fresh(3), "defect": "#defects:DE-900"});
    let first = fact(&fleet, "deferrals", deferral(changes));
    add(&mut fleet, first);
    let earlier = json!({"defect": "#defects:DE-900", "occurred_at": "2026-05-20T20:00:00Z"});
    defer_refused(&fleet, earlier, "extension_by_first_signer", "/deferred_by");
}

#[test]
fn what_ran_out_undeferred_grounds_and_stays_so() {
    let mut fleet = demo();
    with_defect(&mut fleet, 2, "DE-900", json!({"occurred_at": "2026-04-20T19:00:00Z"}));
    defer_refused(&fleet, json!({"defect": "#defects:DE-900"}), "time_is_over", "/defect");
    with_defect(&mut fleet, 3, "DE-901", json!({"occurred_at": "2026-04-21T19:00:00Z"}));
    allowed(&fleet, "deferrals", deferral(json!({"defect": "#defects:DE-901"})));
    // A deferral that ran out can still be extended by another: that is what the extension is for.
    let late = json!({"occurred_at": "2026-05-20T19:00:00Z"});
    with_defect(
        &mut fleet,
        4,
        "DE-902",
        json!({"occurred_at": "2026-04-10T19:00:00Z", "fix_by_on": "2026-04-30", "restriction": {"kind": "no_contest"}}),
    );
    let mut extension = deferral(late);
    extension["defect"] = json!("#defects:DE-902");
    allowed(&fleet, "deferrals", extension);
}

#[test]
fn what_is_closed_is_not_deferred() {
    defer_refused(&demo(), json!({"defect": "#defects:DE-006"}), "not_open", "/defect");
}

#[test]
fn corrections_take_no_ground_from_a_deferral() {
    let mut fleet = demo();
    with_defect(&mut fleet, 2, "DE-900", json!({}));
    let first = json!({"id": fresh(3), "defect": "#defects:DE-900"});
    let first = fact(&fleet, "deferrals", deferral(first));
    add(&mut fleet, first.clone());
    let second = json!({
        "id": fresh(4), "defect": "#defects:DE-900", "deferred_by": "#members:QS",
        "occurred_at": "2026-05-21T07:59:00Z",
    });
    // FS signed at 08:00, QS a minute before: QS is the first signer.
    let second = fact(&fleet, "deferrals", deferral(second));
    add(&mut fleet, second.clone());
    let defect: Uuid = fresh(2).parse().unwrap();
    let whole =
        serde_json::to_value(&fleet.defect(defect.into()).unwrap().defect.as_ref().unwrap().fact).unwrap();
    let with = |field: &str, value: Value| {
        let mut changed = whole.clone();
        changed[field] = value;
        changed
    };
    let tried = |noun: Noun, original: Uuid, fact: Option<Value>| {
        let correction = Correction {
            id: CorrectionId(fresh(9).parse().unwrap()),
            noun,
            original,
            is_void: fact.is_none(),
            reason: "typed wrong".parse().unwrap(),
            fact,
        };
        let by = member(&fleet, "QS");
        let revision = fleet.revision() + 1;
        let recorded = Recorded { fact: correction, recorded_at: at(NOW), recorded_by: by, revision };
        check_correction(&fleet, &recorded, at(NOW)).into_iter().map(|rule| rule.text).collect::<Vec<_>>()
    };
    let says = |texts: Vec<String>, part: &str| {
        assert!(texts.iter().any(|text| text.contains(part)), "{part}: {texts:?}");
    };
    assert_eq!(tried(Noun::Defects, defect, Some(with("text", json!("hinge tight")))), Vec::<String>::new());
    says(
        tried(Noun::Defects, defect, Some(with("severity", json!("ground")))),
        "its deferral: DE-900 grounds",
    );
    says(
        tried(Noun::Defects, defect, Some(with("occurred_at", json!("2026-05-21T07:59:30Z")))),
        "was found at",
    );
    says(tried(Noun::Defects, defect, None), "would be missing, and its deferral");
    says(
        tried(Noun::Defects, defect, Some(with("restriction", json!({"kind": "no_contest"})))),
        "its deferral: DE-900 was deferred and extended already",
    );
    let mut other = serde_json::to_value(&second).unwrap();
    other["deferred_by"] = json!(member(&fleet, "FS"));
    says(tried(Noun::Deferrals, second.id(), Some(other)), "FS signed for DE-900 first");
    assert_eq!(tried(Noun::Deferrals, second.id(), None), Vec::<String>::new());
}

/// A closing of DE-013, on SG-06 itself, or of what else is said.
fn closing(changes: Value) -> Value {
    let mut closing = json!({
        "id": fresh(1), "defect": "#defects:DE-013", "occurred_at": NOW, "kind": "found_wrong", "text": "it is flat",
    });
    for (key, value) in changes.as_object().unwrap() {
        closing[key] = value.clone();
    }
    closing
}

fn read_on(fleet: &mut Fleet, number: u32, subject: Value, at: &str) {
    let reading = json!({
        "id": fresh(number), "subject": subject, "quantity": "gap", "values": [0.0], "unit": "mm",
        "occurred_at": at,
    });
    let reading = fact(fleet, "measurements", reading);
    add(fleet, reading);
}

#[test]
fn found_wrong_needs_a_fresh_reading() {
    let mut fleet = demo();
    let model = json!({"model": "#models:SG-06"});
    refused(&fleet, "closures", closing(json!({})), "no_fresh_reading", "/measurement");
    read_on(&mut fleet, 20, model.clone(), "2026-05-03T21:14:59Z");
    refused(&fleet, "closures", closing(json!({})), "no_fresh_reading", "/measurement");
    read_on(&mut fleet, 21, json!({"model": "#models:SG-05"}), "2026-05-21T07:00:00Z");
    refused(
        &fleet,
        "closures",
        closing(json!({"measurement": fresh(21)})),
        "no_fresh_reading",
        "/measurement",
    );
    read_on(&mut fleet, 22, model, "2026-05-21T07:00:00Z");
    allowed(&fleet, "closures", closing(json!({})));
    allowed(&fleet, "closures", closing(json!({"measurement": fresh(22)})));
    refused(
        &fleet,
        "closures",
        closing(json!({"measurement": fresh(20)})),
        "no_fresh_reading",
        "/measurement",
    );
    let before = json!({"occurred_at": "2026-05-21T06:59:00Z"});
    refused(&fleet, "closures", closing(before), "no_fresh_reading", "/measurement");
}

#[test]
fn a_check_passed_was_passed_since() {
    let mut fleet = demo();
    let hard = json!({"defect": "#defects:DE-012", "kind": "check_passed"});
    refused(&fleet, "closures", closing(hard.clone()), "no_check_passed", "/kind");
    for (number, result) in [(30, "fail"), (31, "pass")] {
        let check = json!({
            "id": fresh(number), "model": "#models:SG-04", "group": "HL", "result": result, "is_summary": true,
            "occurred_at": "2026-05-21T07:00:00Z",
        });
        assert_eq!(said(&fleet, "closures", closing(hard.clone())).len(), 1);
        let check = fact(&fleet, "inspections", check);
        add(&mut fleet, check);
    }
    allowed(&fleet, "closures", closing(hard));
}

#[test]
fn a_part_scrapped_is_scrapped() {
    let mut fleet = demo();
    let kind = |defect: &str| json!({"defect": format!("#defects:{defect}"), "kind": "part_scrapped"});
    refused(&fleet, "closures", closing(kind("DE-013")), "not_on_a_part", "/kind");
    refused(&fleet, "closures", closing(kind("DE-010")), "part_not_scrapped", "/kind");
    let condition = json!({
        "id": fresh(40), "component": "#components:PK-TS-02", "occurred_at": "2026-05-21T07:00:00Z",
        "state": "scrapped", "reason": "67 % of rated",
    });
    let condition = fact(&fleet, "conditions", condition);
    add(&mut fleet, condition);
    allowed(&fleet, "closures", closing(kind("DE-010")));
    let mut named = closing(kind("DE-010"));
    read_on(&mut fleet, 41, json!({"component": "#components:PK-TS-02"}), "2026-05-21T07:00:00Z");
    named["measurement"] = json!(fresh(41));
    refused(&fleet, "closures", named, "reading_not_wanted", "/measurement");
}

#[test]
fn a_club_whose_record_never_held_together_can_still_be_corrected() {
    // A closing from the time before readings were asked for.
    let mut fleet = demo();
    let old = fact(&fleet, "closures", closing(json!({})));
    add(&mut fleet, old);
    let flight = fleet
        .model(preen_tests::demo_fleet::model(&fleet, "SG-01"))
        .unwrap()
        .flights
        .rows()
        .next()
        .unwrap()
        .id;
    let correction = Correction {
        id: CorrectionId(fresh(9).parse().unwrap()),
        noun: Noun::Flights,
        original: flight,
        is_void: true,
        reason: "never flown".parse().unwrap(),
        fact: None,
    };
    let by = member(&fleet, "QS");
    let recorded = Recorded { fact: correction, recorded_at: at(NOW), recorded_by: by, revision: 9_999 };
    assert_eq!(check_correction(&fleet, &recorded, at(NOW)), []);
}
