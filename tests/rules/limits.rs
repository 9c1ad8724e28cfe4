//! Limits of the club and of programmes: who may change them, by what they let through.

use preen_domain::{
    facts::{Fact, Programme},
    fleet::Fleet,
    ids::MemberId,
    rules::{
        check,
        may::{Act, Asker, may},
    },
};
use preen_tests::demo_fleet::{NOW, add, at, demo};
use serde_json::{Value, json};

use crate::said::{fact, fresh};

const PILOT: u32 = 31;
const INSPECTOR: u32 = 32;
const BUILDER: u32 = 33;

fn club() -> Fleet {
    let mut fleet = demo();
    for (number, role) in [(PILOT, "pilot"), (INSPECTOR, "inspector"), (BUILDER, "builder")] {
        let member = json!({ "id": fresh(number), "tag": format!("T{number}"), "roles": [role] });
        let member = fact(&fleet, "members", member);
        add(&mut fleet, member);
    }
    fleet
}

fn limit(number: u32, kinds: &[&str], classes: [Value; 3]) -> Value {
    let [watch, restrict, ground] = classes;
    let mut limit = json!({
        "quantity": "servo_free_play", "position_kinds": kinds, "unit": "deg", "direction": "at_or_above",
    });
    for (name, class) in [("watch", watch), ("restrict", restrict), ("ground", ground)] {
        if !class.is_null() {
            limit[name] = class;
        }
    }
    json!({ "id": fresh(number), "tag": format!("L{number}"), "reason": "seen so", "limit": limit })
}

fn flap(watch: f64, restrict: f64, ground: f64) -> Value {
    limit(1, &["flap servo"], [json!(watch), json!(restrict), json!(ground)])
}

fn asks(fleet: &Fleet, who: u32, act: &Fact) -> Result<(), String> {
    let asker = Asker { member: MemberId(fresh(who).parse().unwrap()), has_history: false };
    may(fleet, asker, Act::Revise(act), at(NOW))
}

/// A pilot may not, because of these words; an inspector may.
#[track_caller]
fn is_relaxed(fleet: &Fleet, body: Value, words: &str) {
    let act = fact(fleet, "limits", body);
    let refused = asks(fleet, PILOT, &act).unwrap_err();
    assert!(refused.contains(words), "{refused}");
    assert_eq!(asks(fleet, INSPECTOR, &act), Ok(()));
}

#[track_caller]
fn is_tightened(fleet: &Fleet, body: Value) {
    assert_eq!(asks(fleet, PILOT, &fact(fleet, "limits", body)), Ok(()));
}

fn put(fleet: &mut Fleet, body: Value) {
    let act = fact(fleet, "limits", body);
    add(fleet, act);
}

#[test]
fn every_class_is_compared_with_the_programme() {
    let fleet = club();
    is_tightened(&fleet, flap(0.8, 1.0, 1.2));
    is_tightened(&fleet, flap(0.7, 0.9, 1.1));
    is_relaxed(&fleet, flap(0.9, 1.0, 1.2), "0.8 deg (flap servo) is watch and would be good");
    is_relaxed(&fleet, flap(0.7, 1.05, 1.1), "1 deg (flap servo) is restrict and would be watch");
    is_relaxed(&fleet, flap(0.7, 0.9, 1.3), "1.2 deg (flap servo) is ground and would be restrict");
    let without_ground = limit(1, &["flap servo"], [json!(0.5), json!(0.6), Value::Null]);
    is_relaxed(&fleet, without_ground, "1.2 deg (flap servo) is ground and would be restrict");
    // For all kinds of position at once: a tail servo grounds at 1.0 by the programme.
    let everywhere = limit(1, &[], [json!(0.6), json!(0.8), json!(1.1)]);
    is_relaxed(&fleet, everywhere, "1 deg (V-tail servo) is ground and would be restrict");
    is_tightened(&fleet, limit(1, &[], [json!(0.6), json!(0.8), json!(1.0)]));
}

#[test]
fn small_steps_fewer_positions_and_second_limits_relax_all_the_same() {
    let mut fleet = club();
    put(&mut fleet, limit(1, &["flap servo", "aileron servo"], [json!(0.6), json!(0.8), json!(1.0)]));
    // Still tighter than the programme, but each step back is a step back.
    is_relaxed(
        &fleet,
        limit(1, &["flap servo", "aileron servo"], [json!(0.61), json!(0.8), json!(1.0)]),
        "0.6 deg",
    );
    // The aileron servo falls back to the programme.
    is_relaxed(&fleet, limit(1, &["flap servo"], [json!(0.6), json!(0.8), json!(1.0)]), "(aileron servo)");
    is_tightened(&fleet, limit(1, &["flap servo", "aileron servo"], [json!(0.6), json!(0.8), json!(0.9)]));
    // A second limit beside the first takes nothing away from it.
    is_tightened(&fleet, limit(2, &["flap servo"], [json!(0.9), json!(1.4), json!(2.0)]));
    // The same limit turned to another quantity leaves the first one.
    let mut other = limit(1, &["flap servo", "aileron servo"], [json!(0.1), json!(0.2), json!(0.3)]);
    other["limit"]["quantity"] = json!("servo_return_error");
    is_relaxed(&fleet, other, "servo_free_play");
    // At the limit is in its class; only beyond it is milder.
    let mut beyond = limit(1, &["flap servo", "aileron servo"], [json!(0.6), json!(0.8), json!(1.0)]);
    beyond["limit"]["direction"] = json!("above");
    is_relaxed(&fleet, beyond, "0.6 deg");
}

#[test]
fn the_side_of_the_trouble_is_heeded() {
    let fleet = club();
    let slack = |watch: f64| {
        json!({
            "id": fresh(1), "tag": "SLACK", "reason": "seen so",
            "limit": {
                "quantity": "lead_slack", "unit": "mm", "direction": "at_or_below", "watch": watch, "restrict": 5,
                "ground": 0,
            },
        })
    };
    is_tightened(&fleet, slack(12.0));
    is_relaxed(&fleet, slack(9.0), "10 mm");
    // One limit in the place of a lower and an upper one lets the lower one go.
    let hinge = json!({
        "id": fresh(1), "tag": "HINGE", "reason": "seen so",
        "limit": { "quantity": "hinge_force", "unit": "N", "direction": "above", "restrict": 0.05 },
    });
    is_relaxed(&fleet, hinge, "hinge_force");
}

#[test]
fn a_limit_has_the_unit_of_its_readings() {
    let fleet = club();
    let mut body = flap(0.7, 0.9, 1.1);
    body["limit"]["unit"] = json!("rad");
    let broken = check(&fleet, &fact(&fleet, "limits", body), at(NOW));
    assert_eq!(
        broken.iter().map(|one| (one.code, one.pointer.as_str())).collect::<Vec<_>>(),
        [("wrong_unit", "/limit/unit")]
    );
    assert!(broken[0].text.contains("deg"), "{}", broken[0].text);
}

#[test]
fn a_programme_that_relaxes_is_an_inspectors_matter() {
    let fleet = club();
    let (_, general) = fleet.programmes().find(|(_, known)| known.fact.design.is_none()).unwrap();
    let same: Fact = general.fact.clone().into();
    assert_eq!(asks(&fleet, BUILDER, &same), Ok(()));
    let changed = |change: fn(&mut Programme)| {
        let mut programme = general.fact.clone();
        change(&mut programme);
        Fact::from(programme)
    };
    let tighter = changed(|programme| {
        for limit in programme.items.iter_mut().flat_map(|item| &mut item.limits) {
            if limit.quantity.as_str() == "capacity_of_rated" {
                limit.watch = Some(90.0);
            }
        }
    });
    assert_eq!(asks(&fleet, BUILDER, &tighter), Ok(()));
    let milder = changed(|programme| {
        for limit in programme.items.iter_mut().flat_map(|item| &mut item.limits) {
            if limit.quantity.as_str() == "capacity_of_rated" {
                limit.ground = Some(60.0);
            }
        }
    });
    let refused = asks(&fleet, BUILDER, &milder).unwrap_err();
    assert!(refused.contains("capacity_of_rated of 70 % is ground and would be restrict"), "{refused}");
    assert_eq!(asks(&fleet, INSPECTOR, &milder), Ok(()));
    let without = changed(|programme| programme.items.retain(|item| item.code.as_str() != "PK-02"));
    assert!(asks(&fleet, BUILDER, &without).unwrap_err().contains("capacity_of_rated"));
    assert_eq!(asks(&fleet, INSPECTOR, &without), Ok(()));
}
