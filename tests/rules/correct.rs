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
