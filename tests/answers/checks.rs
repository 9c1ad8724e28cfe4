//! Due points, forecasts and what opens event groups.

use preen_domain::{
    answers::{DueItem, due_of_model},
    facts::{Flight, Inspection},
    fleet::Fleet,
    ids::{FlightId, InspectionId},
    words::{CheckResult, CheckState, Landing},
};
use uuid::Uuid;

use preen_tests::demo_fleet::{add, at, demo, grounds, member, model, moment, verdict};

fn check(fleet: &Fleet, tag: &str, group: &str, on: &str) -> Option<DueItem> {
    due_of_model(fleet, model(fleet, tag), moment(on)).into_iter().find(|item| item.group == group)
}

#[test]
fn sg_01_every_25_flights() {
    let item = check(&demo(), "SG-01", "N25", "2026-05-23").unwrap();
    assert_eq!(item.state, CheckState::Clear);
    assert_eq!(
        (item.done_at_count, item.due_at_count, item.count_left, item.tolerance_count),
        (Some(250), Some(275), Some(4), Some(2))
    );
    assert_eq!((item.days_left, item.tolerance_days), (Some(46), Some(7)));
    assert_eq!(item.done_on.unwrap().to_string(), "2026-05-09");
    assert_eq!(item.due_on.unwrap().to_string(), "2026-07-08");
}

#[test]
fn forecast_of_sg_03() {
    let item = check(&demo(), "SG-03", "N25", "2026-05-21").unwrap();
    assert_eq!(item.count_left, Some(8));
    let days = [item.forecast_on, item.forecast_from, item.forecast_to].map(|day| day.unwrap().to_string());
    assert_eq!(days, ["2026-06-01", "2026-05-29", "2026-06-05"]);
    let method = item.forecast_method.unwrap();
    assert!(method.starts_with("38 flights in 56 days, 8 left: 11.8 days (9.0 to 15.7)"), "{method}");
}

#[test]
fn groups_that_cannot_apply_are_not_never_done() {
    let fleet = demo();
    for tag in ["TS-01", "TS-02", "TS-03"] {
        assert_eq!(check(&fleet, tag, "JN40", "2026-05-23"), None, "{tag} has no joiner");
        assert_eq!(check(&fleet, tag, "CN50", "2026-05-23"), None, "{tag} has no connector");
    }
    assert_eq!(check(&fleet, "MP-01", "CN50", "2026-05-23"), None);
    assert_eq!(check(&fleet, "TS-02", "PK20", "2026-05-23"), None, "its pack is out");
    let note = check(&fleet, "TS-01", "PK20", "2026-05-23").unwrap().note.unwrap();
    assert!(note.contains("charges not counted"), "{note}");
}

#[test]
fn no_check_of_the_demo_was_never_done() {
    let fleet = demo();
    for (id, _) in fleet.models() {
        for item in due_of_model(&fleet, id, moment("2026-05-21")) {
            assert_ne!(item.state, CheckState::NeverDone, "{} {}", item.model, item.group);
        }
    }
}

#[test]
fn a_hard_landing_grounds_until_its_check_is_passed() {
    let mut fleet = demo();
    let pilot = member(&fleet, "DR");
    let sg_05 = model(&fleet, "SG-05");
    add(
        &mut fleet,
        Flight {
            id: FlightId(Uuid::from_u128(901)),
            tag: Some("FL90001".parse().unwrap()),
            model: sg_05,
            pilot,
            occurred_at: at("2026-05-21T07:00:00Z"),
            launches: 1,
            airtime_min: 9.5,
            motor_s: 20,
            is_landing_flap_used: true,
            landing: Landing::Hard,
            is_post_flight_logged: true,
            note: None,
        },
    );
    let hard = verdict(&fleet, "SG-05", "2026-05-23");
    assert_eq!(grounds(&hard), [("hard_landing_unchecked", "FL90001")]);
    assert_eq!(hard.flights_left, Some(19), "the flight itself counts");
    let mut inspection = Inspection {
        id: InspectionId(Uuid::from_u128(902)),
        tag: None,
        model: Some(sg_05),
        component: None,
        group: "HL".parse().unwrap(),
        programme: None,
        occurred_at: at("2026-05-21T07:40:00Z"),
        result: CheckResult::Fail,
        is_summary: true,
        items: Vec::new(),
        inspected_by: None,
        note: None,
    };
    add(&mut fleet, inspection.clone());
    assert!(!verdict(&fleet, "SG-05", "2026-05-23").may_fly, "a failed check clears nothing");
    inspection.id = InspectionId(Uuid::from_u128(903));
    inspection.result = CheckResult::Pass;
    inspection.occurred_at = at("2026-05-21T07:50:00Z");
    add(&mut fleet, inspection);
    assert!(verdict(&fleet, "SG-05", "2026-05-23").may_fly);
}

#[test]
fn a_late_entry_changes_what_is_left() {
    let mut fleet = demo();
    let (sg_01, pilot) = (model(&fleet, "SG-01"), member(&fleet, "AV"));
    for number in 0..2 {
        add(
            &mut fleet,
            Flight {
                id: FlightId(Uuid::from_u128(910 + number)),
                tag: None,
                model: sg_01,
                pilot,
                occurred_at: at("2026-05-17T18:00:00Z").plus_seconds(i64::try_from(number).unwrap() * 1200),
                launches: 1,
                airtime_min: 10.0,
                motor_s: 20,
                is_landing_flap_used: true,
                landing: Landing::Normal,
                is_post_flight_logged: true,
                note: None,
            },
        );
    }
    assert_eq!(check(&fleet, "SG-01", "N25", "2026-05-23").unwrap().now_at_count, Some(273));
    assert_eq!(verdict(&fleet, "SG-01", "2026-05-23").max_flights, Some(2));
}
