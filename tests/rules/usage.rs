//! Flights, riggings, checks, readings and weighings.

use serde_json::{Value, json};

use crate::said::{allowed, fresh, refused, said};
use preen_tests::demo_fleet::demo;

fn flight(changes: Value) -> Value {
    let mut flight = json!({
        "id": fresh(1), "model": "#models:SG-01", "pilot": "#members:AV", "occurred_at": "2026-05-21T07:30:00Z",
        "airtime_min": 8.5, "landing": "soft", "is_post_flight_logged": true,
    });
    for (key, value) in changes.as_object().unwrap() {
        flight[key] = value.clone();
    }
    flight
}

#[test]
fn a_flight_as_it_should_be() {
    allowed(&demo(), "flights", flight(json!({})));
    allowed(&demo(), "flights", flight(json!({"occurred_at": "2026-05-21T08:01:30Z"})));
}

#[test]
fn clocks_that_are_wrong() {
    let fleet = demo();
    for at in ["2026-05-21T09:00:00Z", "2026-05-21T10:00:00+01:00", "2026-05-23T08:00:00Z"] {
        refused(&fleet, "flights", flight(json!({"occurred_at": at})), "in_the_future", "/occurred_at");
    }
}

#[test]
fn a_flight_before_the_model_first_flew() {
    let fleet = demo();
    refused(
        &fleet,
        "flights",
        flight(json!({"occurred_at": "2024-11-29T23:59:59Z"})),
        "before_first_flight",
        "/occurred_at",
    );
    allowed(&fleet, "flights", flight(json!({"occurred_at": "2024-11-30T00:00:00Z"})));
}

#[test]
fn numbers_that_no_flight_has() {
    let fleet = demo();
    refused(&fleet, "flights", flight(json!({"launches": 0})), "out_of_range", "/launches");
    refused(&fleet, "flights", flight(json!({"airtime_min": -1.0})), "out_of_range", "/airtime_min");
    refused(&fleet, "flights", flight(json!({"airtime_min": 1e300})), "out_of_range", "/airtime_min");
    refused(&fleet, "flights", flight(json!({"model": fresh(99)})), "unknown_reference", "/model");
}

#[test]
fn a_check_half_looked_at_is_no_pass() {
    let fleet = demo();
    let check = |result: &str, items: Value| {
        json!({
            "id": fresh(1), "model": "#models:SG-01", "group": "RF30", "occurred_at": "2026-05-21T07:30:00Z",
            "result": result, "is_summary": false, "items": items,
        })
    };
    let three = json!([{"item": "RF-01", "result": "pass"}, {"item": "RF-02", "result": "pass"}, {"item": "RF-03", "result": "pass"}]);
    refused(&fleet, "inspections", check("pass", three.clone()), "not_a_pass", "/result");
    allowed(&fleet, "inspections", check("restrict", three.clone()));
    let mut four = three.clone();
    four.as_array_mut().unwrap().push(json!({"item": "RF-04", "result": "pass"}));
    allowed(&fleet, "inspections", check("pass", four.clone()));
    four[3] = json!({"item": "RF-04", "result": "not_looked_at"});
    refused(&fleet, "inspections", check("pass", four.clone()), "not_a_pass", "/result");
    four[3] = json!({"item": "RF-04", "result": "not_applicable"});
    refused(&fleet, "inspections", check("pass", four.clone()), "reason_missing", "/items/3/note");
    four[3] = json!({"item": "N25-01", "result": "pass"});
    assert_eq!(
        said(&fleet, "inspections", check("fail", four)),
        [("unknown_item", "/items/3/item".to_owned())]
    );
}

#[test]
fn a_check_of_a_group_that_the_programme_does_not_have() {
    let check = json!({
        "id": fresh(1), "model": "#models:SG-01", "group": "N30", "occurred_at": "2026-05-21T07:30:00Z",
        "result": "pass", "is_summary": true,
    });
    refused(&demo(), "inspections", check, "unknown_group", "/group");
}

#[test]
fn a_reading_in_another_unit_than_its_limit() {
    let fleet = demo();
    let reading = |unit: &str, values: Value| {
        json!({
            "id": fresh(1), "subject": {"component": "#components:SV08-B001"}, "quantity": "servo_free_play",
            "values": values, "unit": unit, "occurred_at": "2026-05-21T07:30:00Z",
        })
    };
    allowed(&fleet, "measurements", reading("deg", json!([0.7])));
    refused(&fleet, "measurements", reading("mm", json!([0.7])), "wrong_unit", "/unit");
    refused(&fleet, "measurements", reading("deg", json!([])), "no_value", "/values");
}

#[test]
fn a_weighing_whose_supports_do_not_add_up() {
    let fleet = demo();
    let weighing = |mass_g: f64| {
        json!({
            "id": fresh(1), "model": "#models:SG-01", "occurred_at": "2026-05-21T07:30:00Z", "mass_g": mass_g,
            "x_mm": 96.52, "u_x_mm": 0.43,
            "supports": [{"x_mm": -60.0, "y_mm": 0.0, "reading_g": 878.0}, {"x_mm": 520.0, "y_mm": 0.0, "reading_g": 324.5}],
        })
    };
    allowed(&fleet, "weighings", weighing(1202.5));
    refused(&fleet, "weighings", weighing(1212.5), "supports_do_not_add_up", "/mass_g");
    assert_eq!(said(&fleet, "weighings", weighing(-3.0))[0], ("out_of_range", "/mass_g".to_owned()));
}

#[test]
fn two_flights_of_one_model_at_the_same_time() {
    // SG-04 took off at 12:07 on 17 May and landed 11.0 min later.
    let fleet = demo();
    let sg_04 = |at: &str, airtime_min: f64| {
        flight(
            json!({"model": "#models:SG-04", "pilot": "#members:CM", "occurred_at": at, "airtime_min": airtime_min}),
        )
    };
    refused(&fleet, "flights", sg_04("2026-05-17T12:17:59Z", 5.0), "flights_overlap", "/occurred_at");
    allowed(&fleet, "flights", sg_04("2026-05-17T12:18:00Z", 5.0));
    refused(&fleet, "flights", sg_04("2026-05-17T12:07:00Z", 0.0), "flights_overlap", "/occurred_at");
    refused(&fleet, "flights", sg_04("2026-05-17T12:02:00Z", 5.1), "flights_overlap", "/occurred_at");
    allowed(&fleet, "flights", sg_04("2026-05-17T12:02:00Z", 5.0));
}
