//! How parts wear: fitted since the last re-work, against the use that drives it, with the day a limit is reached.

use preen_domain::answers::{TrendQuestion, WearSeries, component_trend};
use preen_domain::facts::{Correction, Measurement, Noun, Subject};
use preen_domain::fleet::Fleet;
use preen_domain::ids::{CorrectionId, MeasurementId};
use preen_domain::words::{Severity, WearCounter};
use preen_tests::demo_fleet::{NOW, add, at, component, demo};
use uuid::Uuid;

fn series(fleet: &Fleet, tag: &str, question: &TrendQuestion, as_of: &str) -> WearSeries {
    let mut answer = component_trend(fleet, component(fleet, tag), question, at(as_of));
    assert_eq!(answer.series.len(), 1, "{tag} has one quantity read");
    answer.series.remove(0)
}

fn near(what: &str, got: f64, expected: f64, within: f64) {
    assert!((got - expected).abs() <= within, "{what}: {got} is not {expected} ± {within}");
}

/// A reading of its own beside those of the demo.
fn reading(fleet: &Fleet, tag: &str, quantity: &str, value: f64, unit: &str, when: &str) -> Measurement {
    Measurement {
        id: MeasurementId(Uuid::now_v7()),
        tag: None,
        subject: Subject::Component(component(fleet, tag)),
        quantity: quantity.parse().unwrap(),
        values: vec![value],
        unit: unit.parse().unwrap(),
        occurred_at: at(when),
        method: None,
        temperature_c: None,
        instrument: None,
        is_series_start: false,
        measured_by: None,
        note: None,
    }
}

#[test]
fn when_the_left_joiner_reaches_watch_and_restrict() {
    let fleet = demo();
    let told = series(&fleet, "JN-SG-01-L", &TrendQuestion::default(), NOW);
    assert_eq!((told.quantity.as_str(), told.unit.as_str()), ("joiner_clearance_vertical", "mm"));
    assert_eq!((told.counter, told.now_count), (WearCounter::Riggings, 21.0));
    assert_eq!(told.counted_from.text, "since RE-006 (R2, 2025-11-21)");
    let fitted: Vec<(f64, f64)> =
        told.readings.iter().filter(|one| one.is_fitted).map(|one| (one.count, one.value)).collect();
    let expected = [(0.0, 0.050), (6.0, 0.058), (10.0, 0.071), (14.0, 0.080), (16.0, 0.094), (19.0, 0.101)];
    assert_eq!(fitted, expected);
    let before: Vec<(f64, f64)> =
        told.readings.iter().filter(|one| !one.is_fitted).map(|one| (one.count, one.value)).collect();
    assert_eq!(before, [(1.0, 0.04), (14.0, 0.07), (31.0, 0.11), (43.0, 0.15)]);
    let line = told.line.as_ref().unwrap();
    near("slope", line.slope, 0.002788, 5e-7);
    near("scatter", line.residual_sd, 0.0046, 5e-5);
    near("robust slope", line.robust_slope.unwrap(), 0.00275, 1e-12);
    let [watch, restrict, ground] = &told.forecast[..] else { panic!("three limits") };
    assert_eq!(
        (watch.severity, watch.limit, restrict.limit, ground.limit),
        (Severity::Watch, 0.12, 0.20, 0.35)
    );
    near("watch", watch.count_left, 5.7, 0.05);
    near("watch earliest", watch.earliest_left, 1.1, 0.05);
    near("watch at", watch.at_count, 26.7, 0.05);
    near("restrict", restrict.count_left, 34.4, 0.05);
    near("restrict earliest", restrict.earliest_left, 25.5, 0.05);
    near("restrict at", restrict.at_count, 55.4, 0.05);
    assert!(!watch.is_reached && watch.on > watch.earliest_on);
    assert_eq!(told.refusal, None);
}

#[test]
fn a_fit_across_the_resleeving_is_refused() {
    let fleet = demo();
    let whole = TrendQuestion { is_whole_history: true, ..TrendQuestion::default() };
    let told = series(&fleet, "JN-SG-01-L", &whole, NOW);
    let refusal = told.refusal.unwrap();
    assert_eq!(refusal.code, "across_series");
    assert!(refusal.text.contains("RE-006 (R2, 2025-11-21) started the series anew"), "{}", refusal.text);
    assert!(told.line.is_none() && told.forecast.is_empty());
    // Nothing lies between these readings, so the whole history is the series.
    let same = series(&fleet, "SV08-B002", &whole, NOW);
    assert_eq!(same, series(&fleet, "SV08-B002", &TrendQuestion::default(), NOW));
}

#[test]
fn when_servo_b002_reaches_its_limit() {
    let fleet = demo();
    let told = series(&fleet, "SV08-B002", &TrendQuestion::default(), NOW);
    assert_eq!(
        (told.counter, told.now_count, told.duty.as_deref()),
        (WearCounter::Flights, 271.0, Some("flap servo"))
    );
    let fitted: Vec<(f64, f64)> = told.readings.iter().map(|one| (one.count, one.value)).collect();
    assert_eq!(fitted, [(62.0, 0.35), (144.0, 0.50), (211.0, 0.70), (254.0, 0.90)]);
    let ground = told.forecast.last().unwrap();
    assert_eq!((ground.severity, ground.limit), (Severity::Ground, 1.20));
    near("at", ground.at_count, 377.0, 0.5);
    near("left", ground.count_left, 106.0, 0.5);
    near("earliest", ground.earliest_count.unwrap(), 293.0, 0.5);
    near("earliest left", ground.earliest_left, 22.0, 0.5);
    near("flights a day", told.rate.as_ref().unwrap().per_day, 0.98, 0.005);
    assert_eq!(ground.earliest_on.unwrap().to_string(), "2026-06-12");
    assert!(ground.text.contains("4 readings only"), "{}", ground.text);
    let watch = &told.forecast[0];
    assert!(watch.is_reached && watch.text.ends_with("the last reading has reached it"), "{}", watch.text);
    assert!(told.forecast[1].text.contains("it may be reached already"), "{}", told.forecast[1].text);
}

#[test]
fn what_was_known_then_is_asked_by_the_moment() {
    let fleet = demo();
    // By the end of 2025 there were two readings of B002.
    let told = series(&fleet, "SV08-B002", &TrendQuestion::default(), "2025-12-31T12:00:00Z");
    let refusal = told.refusal.unwrap();
    assert_eq!((refusal.code.as_str(), told.readings.len()), ("too_few_readings", 2));
    // Just after the re-sleeving nothing was read yet.
    let told = series(&fleet, "JN-SG-01-L", &TrendQuestion::default(), "2025-11-22T08:00:00Z");
    let refusal = told.refusal.unwrap();
    assert_eq!(refusal.code, "reworked_since");
    assert!(refusal.text.contains("RE-006"), "{}", refusal.text);
}

#[test]
fn one_reading_gives_no_forecast() {
    let fleet = demo();
    for tag in ["SV08-B006", "CF-SG-04-R", "JN-SG-03-R"] {
        let answer = component_trend(&fleet, component(&fleet, tag), &TrendQuestion::default(), at(NOW));
        assert!(!answer.series.is_empty(), "{tag} was read");
        for told in &answer.series {
            let refusal = told.refusal.as_ref().unwrap();
            assert_eq!(refusal.code, "too_few_readings", "{tag} {}", told.quantity);
            assert!(told.forecast.is_empty() && told.line.is_none());
        }
    }
}

#[test]
fn what_does_not_grow_has_no_date() {
    let mut fleet = demo();
    let days = ["2025-05-01", "2025-08-01", "2025-12-01", "2026-03-01"];
    for (day, value) in days.into_iter().zip([0.10, 0.10, 0.08, 0.08]) {
        let fact = reading(&fleet, "JN-SG-06-L", "joiner_rattle", value, "mm", &format!("{day}T12:00:00Z"));
        add(&mut fleet, fact);
    }
    let question = TrendQuestion { quantity: Some("joiner_rattle".to_owned()), ..TrendQuestion::default() };
    let told = series(&fleet, "JN-SG-06-L", &question, NOW);
    assert_eq!(told.refusal.unwrap().code, "no_limit");
    assert!(told.line.unwrap().slope < 0.0);
    for (day, value) in days.into_iter().zip([0.50, 0.50, 0.40, 0.40]) {
        let fact =
            reading(&fleet, "SV08-A006", "servo_return_error", value, "deg", &format!("{day}T12:00:00Z"));
        add(&mut fleet, fact);
    }
    let question =
        TrendQuestion { quantity: Some("servo_return_error".to_owned()), ..TrendQuestion::default() };
    let told = series(&fleet, "SV08-A006", &question, NOW);
    let refusal = told.refusal.unwrap();
    assert_eq!(refusal.code, "no_wear_seen", "{:?}", told.limits);
    assert!(refusal.text.starts_with("no wear seen") && told.forecast.is_empty());
}

#[test]
fn a_change_of_method_starts_anew() {
    let mut fleet = demo();
    let mut fact =
        reading(&fleet, "JN-SG-01-L", "joiner_clearance_vertical", 0.06, "mm", "2026-05-20T12:00:00Z");
    fact.method = Some("feeler gauge".parse().unwrap());
    add(&mut fleet, fact);
    let told = series(&fleet, "JN-SG-01-L", &TrendQuestion::default(), NOW);
    assert_eq!(told.readings.iter().filter(|one| one.is_fitted).count(), 1);
    assert_eq!(told.refusal.unwrap().code, "too_few_readings");
    assert_eq!(
        told.restarts,
        ["RE-006 (R2, 2025-11-21) started the series anew", "from 2026-05-20 on it was read another way",]
    );
    // The use still counts from the re-work.
    assert_eq!((told.counted_from.text.as_str(), told.now_count), ("since RE-006 (R2, 2025-11-21)", 21.0));
}

#[test]
fn a_corrected_reading_changes_the_trend_of_all_later_moments() {
    // ME0010 was typed .101 and is .110.
    let mut fleet = demo();
    let wrong =
        fleet.component(component(&fleet, "JN-SG-01-L")).unwrap().measurements.iter().last().unwrap().clone();
    assert_eq!((wrong.fact.tag.as_ref().unwrap().as_str(), wrong.fact.values[0]), ("ME0010", 0.101));
    let slope = |fleet: &Fleet, when: &str| {
        series(fleet, "JN-SG-01-L", &TrendQuestion::default(), when).line.unwrap().slope
    };
    let (before, earlier) = (slope(&fleet, NOW), slope(&fleet, "2026-05-10T12:00:00Z"));
    let known = fleet.clone();
    let right = Measurement { values: vec![0.110], ..wrong.fact.clone() };
    let correction = Correction {
        id: CorrectionId(Uuid::now_v7()),
        noun: Noun::Measurements,
        original: wrong.fact.id.0,
        is_void: false,
        reason: "typed wrong".parse().unwrap(),
        fact: Some(serde_json::to_value(right).unwrap()),
    };
    add(&mut fleet, correction);
    let told = series(&fleet, "JN-SG-01-L", &TrendQuestion::default(), NOW);
    assert_eq!(told.readings.last().unwrap().value, 0.110);
    near("slope by NumPy", told.line.unwrap().slope, 0.003_088_495_575_221_239, 1e-12);
    assert_eq!(slope(&known, NOW), before, "what was known then stays");
    assert_eq!(slope(&fleet, "2026-05-10T12:00:00Z"), earlier, "before the reading nothing changes");
}

#[test]
fn the_counter_can_be_chosen() {
    let fleet = demo();
    let by =
        |by| series(&fleet, "SV08-B002", &TrendQuestion { by: Some(by), ..TrendQuestion::default() }, NOW);
    let days = by(WearCounter::Days);
    assert_eq!((days.readings[0].count, days.readings[1].count), (0.0, 98.0));
    let ground = days.forecast.last().unwrap();
    near(
        "days to the limit",
        (ground.on.unwrap() - "2026-05-21".parse::<chrono::NaiveDate>().unwrap()).num_days() as f64,
        ground.count_left,
        1.0,
    );
    let airtime = by(WearCounter::AirtimeH);
    assert!(airtime.now_count > 10.0 && airtime.rate.unwrap().per_day > 0.05);
}
