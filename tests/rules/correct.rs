//! Corrections: tried on a copy, refused if the record would no longer hold together.

use preen_domain::{
    answers::component_usage,
    facts::{Correction, Fact, Noun, Recorded},
    fleet::Fleet,
    ids::{CorrectionId, MemberId},
    rules::check_correction,
};
use serde_json::{Value, json};
use uuid::Uuid;

use preen_tests::demo_fleet::{NOW, add, at, component, demo};

fn correction(noun: Noun, original: Uuid, fact: Option<Value>) -> Correction {
    Correction {
        id: CorrectionId(Uuid::from_u128(77)),
        noun,
        original,
        reason: "mistyped".to_owned().try_into().unwrap(),
        is_void: fact.is_none(),
        fact,
    }
}

fn said(fleet: &Fleet, fact: Correction) -> Vec<&'static str> {
    let recorded = Recorded {
        fact,
        recorded_at: at(NOW),
        recorded_by: MemberId(Uuid::from_u128(2)),
        revision: fleet.revision() + 1,
    };
    check_correction(fleet, &recorded, at(NOW)).into_iter().map(|broken| broken.code).collect()
}

/// The first installation of the servo that sat in two models, as JSON.
fn first_fitting(fleet: &Fleet) -> (Uuid, Value) {
    let file = fleet.component(component(fleet, "SV08-B011")).unwrap();
    let first = file.installations.iter().next().unwrap();
    (first.fact.id.0, serde_json::to_value(Fact::from(first.fact.clone())).unwrap())
}

#[test]
fn a_fitting_that_a_removal_rests_on_cannot_be_taken_back() {
    let fleet = demo();
    let (id, _) = first_fitting(&fleet);
    assert_eq!(said(&fleet, correction(Noun::Installations, id, None)), ["later_facts_break"]);
}

#[test]
fn a_fitting_moved_into_a_seat_that_was_filled() {
    let fleet = demo();
    let (id, mut fact) = first_fitting(&fleet);
    fact["position"] = json!("FS.L");
    let codes = said(&fleet, correction(Noun::Installations, id, Some(fact)));
    assert!(codes.contains(&"position_occupied") && codes.contains(&"later_facts_break"), "{codes:?}");
}

#[test]
fn a_fitting_at_another_moment_changes_the_count() {
    let mut fleet = demo();
    let (id, mut fact) = first_fitting(&fleet);
    fact["occurred_at"] = json!("2025-06-01T06:00:00Z");
    let correction = correction(Noun::Installations, id, Some(fact));
    assert_eq!(said(&fleet, correction.clone()), [] as [&str; 0]);
    let servo = component(&fleet, "SV08-B011");
    let before = component_usage(&fleet, servo, at(NOW));
    add(&mut fleet, correction);
    let after = component_usage(&fleet, servo, at(NOW));
    assert!(after.flights < before.flights, "{} {}", after.flights, before.flights);
    assert_eq!(after.spans[0].from, at("2025-06-01T06:00:00Z"));
    assert_eq!(after.spans[1], before.spans[1]);
}

#[test]
fn a_reading_typed_wrong() {
    let mut fleet = demo();
    let joiner = component(&fleet, "JN-SG-01-L");
    let last = fleet.component(joiner).unwrap().measurements.iter().last().unwrap().fact.clone();
    assert_eq!(last.values, [0.101]);
    let mut fact = serde_json::to_value(Fact::from(last.clone())).unwrap();
    fact["values"] = json!([0.110]);
    let correction = correction(Noun::Measurements, last.id.0, Some(fact));
    assert_eq!(said(&fleet, correction.clone()), [] as [&str; 0]);
    add(&mut fleet, correction);
    let now = &fleet.component(joiner).unwrap().measurements;
    assert_eq!(now.iter().last().unwrap().fact.values, [0.110]);
    assert_eq!(now.iter().count(), 10, "the correction takes the place of its original");
    assert_eq!(fleet.correction_of(last.id.0).unwrap().fact.reason.as_str(), "mistyped");
}

#[test]
fn corrections_that_are_none() {
    let fleet = demo();
    let (id, fact) = first_fitting(&fleet);
    let mut other = fact.clone();
    other["id"] = json!("01970000-0000-7000-8000-000000000001");
    assert_eq!(said(&fleet, correction(Noun::Installations, id, Some(other))), ["other_id"]);
    let mut unknown = fact;
    unknown["colour"] = json!("red");
    assert_eq!(said(&fleet, correction(Noun::Installations, id, Some(unknown))), ["not_a_fact"]);
    let member = preen_tests::demo_fleet::id(&fleet, Noun::Members, "AV");
    assert_eq!(said(&fleet, correction(Noun::Members, member, None)), ["new_version_instead"]);
    let neither = Correction { is_void: false, ..correction(Noun::Installations, id, None) };
    assert_eq!(said(&fleet, neither), ["fact_or_void"]);
}

/// A fact by its tag, as JSON.
fn tagged(fleet: &Fleet, noun: Noun, tag: &str) -> (Uuid, Value) {
    let id = preen_tests::demo_fleet::id(fleet, noun, tag);
    let fact: Fact = match noun {
        Noun::Repairs => fleet.repair(id.into()).unwrap().repair.clone().unwrap().fact.into(),
        Noun::Defects => fleet.defect(id.into()).unwrap().defect.clone().unwrap().fact.into(),
        _ => panic!("not looked up here: {noun}"),
    };
    (id, serde_json::to_value(fact).unwrap())
}

#[test]
fn the_second_person_of_a_release_does_not_become_the_worker() {
    let fleet = demo();
    let (id, mut fact) = tagged(&fleet, Noun::Repairs, "RE-002");
    assert_eq!(said(&fleet, correction(Noun::Repairs, id, Some(fact.clone()))), Vec::<&str>::new());
    fact["done_by"] = json!(preen_tests::demo_fleet::member(&fleet, "QS"));
    assert_eq!(said(&fleet, correction(Noun::Repairs, id, Some(fact))), ["later_facts_break"]);
}

#[test]
fn what_others_speak_of_cannot_be_taken_back() {
    let fleet = demo();
    let (repair, _) = tagged(&fleet, Noun::Repairs, "RE-002");
    let (defect, _) = tagged(&fleet, Noun::Defects, "DE-001");
    let servo = component(&fleet, "SV08-B011").0;
    for (noun, id) in [(Noun::Repairs, repair), (Noun::Defects, defect), (Noun::Components, servo)] {
        assert!(said(&fleet, correction(noun, id, None)).contains(&"later_facts_break"), "{noun}");
    }
}

#[test]
fn an_older_cut_corrected_leaves_enough_lead_for_the_later_ones() {
    let mut fleet = demo();
    let half = component(&fleet, "CF-SG-06-R");
    let sg_06 = preen_tests::demo_fleet::model(&fleet, "SG-06");
    let fresh = |number: u128| Uuid::from_u128(0x0197_0a3c_5d00_7000_8000_0003_0000_0000 + number);
    let read = json!({"id": fresh(1), "subject": {"component": half}, "quantity": "lead_slack", "values": [27.0],
                      "unit": "mm", "occurred_at": "2026-05-21T05:00:00Z"});
    add(&mut fleet, Fact::from_json(Noun::Measurements, read).unwrap());
    let cut = |number: u128, used_mm: f64| {
        json!({"id": fresh(number), "tag": format!("RE-{number}"), "model": sg_06, "kind": "R3", "components": [half],
               "occurred_at": format!("2026-05-21T0{}:00:00Z", 4 + number), "text": "worn", "slack_used_mm": used_mm})
    };
    for number in [2, 3] {
        let fact = Fact::from_json(Noun::Repairs, cut(number, 7.0)).unwrap();
        assert_eq!(preen_domain::rules::check(&fleet, &fact, at(NOW)), []);
        add(&mut fleet, fact);
    }
    // 27 mm, less 7, leave 20: enough for one more. Less 14 they leave 13, and 10 have to stay.
    let corrected = |used_mm: f64| correction(Noun::Repairs, fresh(2), Some(cut(2, used_mm)));
    assert_eq!(said(&fleet, corrected(8.0)), [] as [&str; 0]);
    assert_eq!(said(&fleet, corrected(14.0)), ["later_facts_break"]);
    let recorded = Recorded {
        fact: corrected(14.0),
        recorded_at: at(NOW),
        recorded_by: MemberId(Uuid::from_u128(2)),
        revision: fleet.revision() + 1,
    };
    let broken = check_correction(&fleet, &recorded, at(NOW));
    assert!(broken[0].text.starts_with("RE-3 would have cut the lead of CF-SG-06-R"), "{}", broken[0].text);
    // A reading that was wrong may be corrected whatever it shows of the cuts made since.
    let mut true_one = serde_json::to_value(Fact::from(
        fleet.component(half).unwrap().measurements.get(fresh(1)).unwrap().fact.clone(),
    ))
    .unwrap();
    true_one["values"] = json!([15.0]);
    assert_eq!(said(&fleet, correction(Noun::Measurements, fresh(1), Some(true_one))), [] as [&str; 0]);
}

#[test]
fn nothing_comes_off_in_the_air() {
    let mut fleet = demo();
    // SG-04 was in the air from 12:07 to 12:18.
    let panel = component(&fleet, "PN-L-04");
    let servo = component(&fleet, "SV08-A014");
    let off = |part, minute: u32| {
        let installation = fleet.component(part).unwrap().span_at(at(NOW)).unwrap().installation;
        let body = json!({"id": Uuid::from_u128(88), "component": part, "installation": installation, "reason": "suspected",
                          "occurred_at": format!("2026-05-17T12:{minute:02}:00Z")});
        Fact::from_json(Noun::Removals, body).unwrap()
    };
    let codes = |fact: &Fact| -> Vec<&'static str> {
        preen_domain::rules::check(&fleet, fact, at(NOW)).into_iter().map(|broken| broken.code).collect()
    };
    for part in [panel, servo] {
        assert_eq!(codes(&off(part, 10)), ["in_the_air"], "a servo in the panel flies, too");
        assert_eq!(codes(&off(part, 18)), [] as [&str; 0], "on the ground");
        assert_eq!(codes(&off(part, 7)), [] as [&str; 0], "just before the start");
    }
    // The other way round: a flight entered later must not span the change.
    let removal = off(panel, 30);
    add(&mut fleet, removal);
    let flight = |minute: u32| {
        let body = json!({"id": Uuid::from_u128(89), "model": preen_tests::demo_fleet::model(&fleet, "SG-04"),
                          "pilot": preen_tests::demo_fleet::member(&fleet, "CM"), "launches": 1, "airtime_min": 8.0,
                          "motor_s": 10, "landing": "soft", "is_post_flight_logged": true,
                          "occurred_at": format!("2026-05-17T12:{minute:02}:00Z")});
        let fact = Fact::from_json(Noun::Flights, body).unwrap();
        preen_domain::rules::check(&fleet, &fact, at(NOW))
            .into_iter()
            .map(|broken| broken.code)
            .collect::<Vec<_>>()
    };
    assert_eq!(flight(25), ["part_changed_in_the_air"]);
    assert_eq!(flight(22), [] as [&str; 0], "landed as it came off");
    assert_eq!(flight(30), [] as [&str; 0], "flown without it");
}
