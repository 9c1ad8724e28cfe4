//! Which limits hold on the demo club, and that what is seen in the field is judged as on the bench.

use preen_domain::{
    answers::{HeldLimit, ModelLimits, model_limits, readings},
    facts::{ClubLimit, Measurement},
    fleet::Fleet,
    words::{Direction, LimitOrigin, Severity},
};
use serde_json::json;

use preen_tests::demo_fleet::{NOW, add, at, component, demo, grounds, model, verdict};

fn limits(fleet: &Fleet, tag: &str) -> ModelLimits {
    model_limits(fleet, model(fleet, tag)).unwrap()
}

fn rock<'a>(limits: &'a ModelLimits, position: &str) -> &'a HeldLimit {
    let found = limits
        .limits
        .iter()
        .find(|held| held.quantity == "tip_rock_total" && held.position.as_deref() == Some(position));
    found.unwrap_or_else(|| panic!("{limits:?}"))
}

fn clearance_limit(watch: f64, restrict: f64, ground: f64) -> ClubLimit {
    let body = json!({
        "id": "01970a3c-5d00-7000-8000-00000000aaaa", "tag": "TIGHT", "reason": "seen so",
        "limit": {
            "quantity": "joiner_clearance_vertical", "unit": "mm", "direction": "at_or_above", "watch": watch,
            "restrict": restrict, "ground": ground,
        },
    });
    serde_json::from_value(body).unwrap()
}

fn rock_reading(fleet: &Fleet, number: u32, value: f64) -> Measurement {
    let body = json!({
        "id": format!("01970000-0000-7000-8000-{number:012}"), "quantity": "tip_rock_total", "values": [value],
        "subject": { "component": component(fleet, "JN-SG-01-R").0.to_string() }, "unit": "mm",
        "occurred_at": "2026-05-20T10:00:00Z",
    });
    serde_json::from_value(body).unwrap()
}

/// The class of a rock of the tip of SG-01.
fn class(fleet: &Fleet, value: f64) -> Option<Severity> {
    let mut fleet = fleet.clone();
    let reading = rock_reading(&fleet, 1, value);
    add(&mut fleet, reading);
    let joiner = component(&fleet, "JN-SG-01-R");
    let judged = readings::beyond_limits(&fleet, Some(model(&fleet, "SG-01")), joiner, at(NOW));
    judged.into_iter().map(|judged| judged.severity).max()
}

#[test]
fn field_limits_of_the_rock_follow_those_of_the_clearance() {
    let mut fleet = demo();
    let said = limits(&fleet, "SG-01");
    let held = rock(&said, "W.JL");
    assert_eq!((held.watch, held.restrict, held.ground), (Some(2.3), Some(3.8), Some(6.6)));
    assert_eq!((held.origin, held.direction), (LimitOrigin::WorkedOut, Direction::AtOrAbove));
    assert!(held.source.contains("105 mm") && held.source.contains("990 mm"), "{}", held.source);
    // Nothing else is said of the rock, so that nothing can disagree.
    assert_eq!(said.limits.iter().filter(|held| held.quantity == "tip_rock_total").count(), 2);
    // A tighter limit on the bench is a tighter limit in the field.
    add(&mut fleet, clearance_limit(0.10, 0.15, 0.25));
    let said = limits(&fleet, "SG-01");
    let held = rock(&said, "W.JR");
    assert_eq!((held.watch, held.restrict, held.ground), (Some(1.9), Some(2.9), Some(4.8)));
    assert!(held.source.contains("TIGHT"), "{}", held.source);
    // A design without the sizes keeps what the programme says.
    let said = limits(&fleet, "MP-01");
    let plain = said.limits.iter().find(|held| held.quantity == "tip_rock_total").unwrap();
    assert_eq!(
        (plain.watch, plain.origin, plain.source.as_str()),
        (Some(2.3), LimitOrigin::Programme, "N25-07")
    );
}

#[test]
fn field_and_bench_give_the_same_class_for_every_reading() {
    let plain = demo();
    let mut tight = demo();
    add(&mut tight, clearance_limit(0.10, 0.15, 0.25));
    for fleet in [&plain, &tight] {
        let said = limits(fleet, "SG-01");
        let held = rock(&said, "W.JR");
        for tenths in 1..80_u32 {
            let value = f64::from(tenths) / 10.0;
            let by_field = [
                (held.ground, Severity::Ground),
                (held.restrict, Severity::Restrict),
                (held.watch, Severity::Watch),
            ]
            .into_iter()
            .find_map(|(limit, severity)| limit.filter(|limit| value >= *limit).map(|_| severity));
            assert_eq!(class(fleet, value), by_field, "{value} mm");
        }
    }
}

#[test]
fn a_rocking_tip_grounds_and_a_measured_joiner_clears_it() {
    let mut fleet = demo();
    let reading = rock_reading(&fleet, 1, 6.6);
    add(&mut fleet, reading);
    let on_saturday = verdict(&fleet, "SG-01", "2026-05-23");
    assert_eq!(grounds(&on_saturday), [("reading_beyond_limit", "JN-SG-01-R")]);
    let reason = on_saturday.reasons.iter().find(|reason| reason.code == "reading_beyond_limit").unwrap();
    assert!(reason.text.contains("0.35 mm (6.6 mm of rock at 990 mm from the joint"), "{}", reason.text);
    assert!(reason.clear_by.contains("measure it again"), "{}", reason.clear_by);
    let mut better = rock_reading(&fleet, 2, 1.0);
    better.occurred_at = at("2026-05-20T12:00:00Z");
    add(&mut fleet, better);
    assert!(verdict(&fleet, "SG-01", "2026-05-23").may_fly);
}

#[test]
fn a_limit_of_the_club_stands_in_the_place_of_the_programmes() {
    let mut fleet = demo();
    let of = |said: &ModelLimits, kind: Option<&str>| -> Vec<(Option<f64>, LimitOrigin)> {
        let held = said.limits.iter().filter(|held| held.quantity == "servo_free_play");
        held.filter(|held| held.position_kind.as_deref() == kind)
            .map(|held| (held.watch, held.origin))
            .collect()
    };
    // Two items of the programme say the same.
    assert_eq!(of(&limits(&fleet, "SG-01"), Some("flap servo")), [(Some(0.8), LimitOrigin::Programme); 2]);
    let body = json!({
        "id": "01970a3c-5d00-7000-8000-00000000aaab", "tag": "FLAP", "reason": "seen so",
        "limit": {
            "quantity": "servo_free_play", "position_kinds": ["flap servo"], "unit": "deg",
            "direction": "at_or_above", "watch": 0.6, "restrict": 0.9, "ground": 1.2,
        },
    });
    let own: ClubLimit = serde_json::from_value(body).unwrap();
    add(&mut fleet, own);
    assert_eq!(of(&limits(&fleet, "SG-01"), Some("flap servo")), [(Some(0.6), LimitOrigin::Club)]);
    assert_eq!(of(&limits(&fleet, "SG-01"), Some("aileron servo")), [(Some(0.8), LimitOrigin::Programme); 2]);
}
