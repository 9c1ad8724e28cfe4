//! The records audit of the demo club: what it lists, what it leaves out, and that doing what it says clears it.

use preen_domain::{
    answers::{Findings, PlacedFinding, findings},
    facts::{Fact, Noun},
    fleet::Fleet,
    words::Severity,
};
use serde_json::{Value, json};

use preen_tests::demo_fleet::{NOW, add, at, component, demo, id, model, moment, part};

fn audit(fleet: &Fleet) -> Findings {
    findings(fleet, moment("2026-05-21"))
}

fn of_code<'a>(audit: &'a Findings, code: &str) -> Vec<&'a PlacedFinding> {
    audit.findings.iter().filter(|found| found.finding.code == code).collect()
}

#[test]
fn readings_over_limit_without_a_defect() {
    let audit = audit(&demo());
    let rows: Vec<(&str, &str, f64, &str, &str)> = of_code(&audit, "reading_beyond_limit")
        .into_iter()
        .map(|found| {
            let reading = found.reading.as_ref().unwrap();
            (
                found.finding.severity.as_str(),
                found.finding.subject.as_str(),
                reading.value,
                reading.unit.as_str(),
                found.model.as_deref().unwrap(),
            )
        })
        .collect();
    assert_eq!(
        rows,
        [
            ("restrict", "SV08-B006", 1.0, "deg", "SG-04"),
            ("watch", "SV08-B012", 0.8, "deg", "MP-01"),
            ("watch", "SV08-B002", 0.9, "deg", "SG-01"),
            ("watch", "JN-SG-03-R", 0.14, "mm", "SG-03"),
            ("watch", "PK-SG-03", 82.4, "%", "SG-03"),
            ("watch", "CF-SG-04-R", 12.0, "mOhm", "SG-04"),
            ("watch", "CF-SG-06-L", 11.0, "mOhm", "SG-06"),
            ("watch", "CF-SG-06-R", 10.0, "mOhm", "SG-06"),
        ]
    );
}

#[test]
fn connectors_that_cannot_be_terminated_again() {
    let audit = audit(&demo());
    let rows: Vec<(&str, f64)> = of_code(&audit, "no_re_termination_left")
        .into_iter()
        .map(|found| (found.finding.subject.as_str(), found.reading.as_ref().unwrap().value))
        .collect();
    assert_eq!(rows, [("CF-SG-03-R", 6.0), ("CF-SG-04-L", 15.0), ("CF-SG-04-R", 16.0), ("CF-SG-06-L", 11.0)]);
    let [contacts] = of_code(&audit, "contacts_low")[..] else {
        panic!("{:?}", of_code(&audit, "contacts_low"))
    };
    assert_eq!(contacts.finding.subject, "K24-P");
    assert!(contacts.finding.text.contains("9 6-way pin contacts"), "{}", contacts.finding.text);
    assert!(contacts.finding.text.contains("make 1 6-way half only"), "{}", contacts.finding.text);
}

/// Whether the audit names a subject under a code, with some words.
#[track_caller]
fn names(audit: &Findings, code: &str, subject: &str, words: &str) {
    let list = of_code(audit, code);
    let found = list
        .iter()
        .find(|found| found.finding.subject == subject && found.finding.text.contains(words))
        .unwrap_or_else(|| panic!("no {code} of {subject} with `{words}`: {list:?}"));
    assert!(!found.finding.clear_by.is_empty(), "{code}");
}

#[test]
fn what_lies_hidden_in_the_record_is_named() {
    let audit = audit(&demo());
    for (code, subject, words) in [
        ("position_empty", "W.R", "PN-R-02 is lent to SG-05, due back 2026-05-31"),
        ("hard_landing_unchecked", "FL02049", "no after-flight check was logged"),
        ("check_overdue", "N25", "tolerance 7"),
        ("check_grounds_soon", "RF30", "grounds SG-03 from 2026-05-22 on"),
        ("check_grounds_soon", "N25", "grounds TS-02 from 2026-05-25 on"),
        ("check_soon", "S12", "2026-05-24"),
        ("joiner_without_marks", "JN-SP-01", "unsanded, no side mark"),
        ("pairing_accepted", "JN-SG-05-R", "accepted 2026-05-09 by QS at 0.095 mm"),
        ("defect_near_limit", "DE-007", "2026-05-28"),
        ("repair_curing", "RE-014", "cures until 2026-05-22T21:00:00Z"),
        ("repair_unreleased", "RE-013", "on the bench"),
        ("campaign_limit", "CA-2026-1", "26 of 30 flights flown, 4 left"),
        ("campaign_short_of_stock", "CA-2026-1", "needs 7 of batch C, 3 on the shelf: short 4"),
        ("unweighed_moves", "SG-05", "+1.39 mm net"),
        ("loan_late", "SV08-B015", "VW and was due back on 2026-05-17: 4 days late"),
        ("loan_ends_soon", "PN-R-02", "lent to DR, in SG-05 and due back on 2026-05-31"),
        ("loan_ends_soon", "TS-03", "2026-05-31"),
        ("loan_begins_soon", "SG-06", "lent to EL from 2026-05-30"),
        ("lot_out_of_date", "H-03", "out of date since 2026-05-01"),
        ("part_untested", "PK-SP-04", "PK20"),
        ("flown_while_grounded", "N25", "22 flights of MP-02 from 2026-03-14T09:30:00Z"),
        ("flown_while_grounded", "PN-R-02", "5 flights of SG-05 from 2026-05-09T09:35:00Z"),
        ("summary_without_items", "SG-03", "CN50, HL, JN40, N100, N25, PK20, RF30, S12, SW"),
    ] {
        names(&audit, code, subject, words);
    }
    let nothing = ["reading_implausible", "flights_overlap", "rigging_missing", "checked_elsewhere"];
    for code in nothing {
        assert_eq!(of_code(&audit, code), Vec::<&PlacedFinding>::new(), "{code}: the record is good there");
    }
    let order: Vec<Severity> = audit.findings.iter().map(|found| found.finding.severity).collect();
    assert!(order.is_sorted_by(|one, next| one >= next), "the worst first");
    let counts = audit.counts;
    assert_eq!((counts.ground, counts.restrict), (11, 2));
    assert_eq!(counts.ground + counts.restrict + counts.watch, audit.findings.len());
}

#[test]
fn two_days_later_more_grounds() {
    let audit = findings(&demo(), moment("2026-05-23"));
    let late: Vec<&str> = of_code(&audit, "check_overdue")
        .into_iter()
        .filter(|found| found.finding.subject == "RF30")
        .filter_map(|found| found.model.as_deref())
        .collect();
    assert_eq!(late, ["SG-03"]);
}

/// Records a fact from JSON; `#noun:TAG` stands for an id.
fn record(fleet: &mut Fleet, noun: Noun, body: &Value) {
    let mut text = body.to_string();
    while let Some(start) = text.find("\"#") {
        let end = start + 2 + text[start + 2..].find('"').unwrap();
        let (of, tag) = text[start + 2..end].split_once(':').unwrap();
        let id = id(fleet, of.parse().unwrap(), tag);
        text.replace_range(start..=end, &format!("\"{id}\""));
    }
    let fact = Fact::from_json(noun, serde_json::from_str(&text).unwrap()).unwrap();
    let broken = preen_domain::rules::check(fleet, &fact, at("2026-05-21T09:00:00Z"));
    assert!(broken.is_empty(), "{broken:?}");
    add(fleet, fact);
}

fn fresh(number: u128) -> String {
    uuid::Uuid::from_u128(0x0197_0a3c_5d00_7000_8000_0000_0000_f000 + number).to_string()
}

fn reading(number: u128, component: &str, quantity: &str, value: f64, unit: &str, at: &str) -> Value {
    json!({
        "id": fresh(number), "subject": {"component": format!("#components:{component}")}, "quantity": quantity,
        "values": [value], "unit": unit, "occurred_at": at,
    })
}

fn is_named(fleet: &Fleet, code: &str, subject: &str) -> bool {
    of_code(&audit(fleet), code).iter().any(|found| found.finding.subject == subject)
}

#[test]
fn a_reading_is_answered_by_a_defect_at_least_as_bad_or_by_a_better_reading() {
    let mut fleet = demo();
    let defect = |number: u128, class: &str| {
        json!({
            "id": fresh(number), "model": "#models:SG-04", "subject": {"component": "#components:SV08-B006"},
            "occurred_at": "2026-05-20T10:00:00Z", "severity": class, "text": "free play 1.0 deg",
        })
    };
    record(&mut fleet, Noun::Defects, &defect(1, "watch"));
    assert!(is_named(&fleet, "reading_beyond_limit", "SV08-B006"), "to watch is not enough at restrict");
    record(&mut fleet, Noun::Defects, &defect(2, "restrict"));
    assert!(!is_named(&fleet, "reading_beyond_limit", "SV08-B006"));
    assert!(is_named(&fleet, "defect_not_deferred", &fresh(2)));

    record(
        &mut fleet,
        Noun::Measurements,
        &reading(3, "SV08-B012", "servo_free_play", 0.7, "deg", "2026-05-20T10:00:00Z"),
    );
    assert!(!is_named(&fleet, "reading_beyond_limit", "SV08-B012"));
}

#[test]
fn slack_is_what_was_read_less_what_was_used_since() {
    let mut fleet = demo();
    assert!(!is_named(&fleet, "no_re_termination_left", "CF-SG-06-R"), "17 mm: once more");
    record(
        &mut fleet,
        Noun::Repairs,
        &json!({
            "id": fresh(1), "model": "#models:SG-06", "components": ["#components:CF-SG-06-R"], "kind": "R3",
            "occurred_at": "2026-05-20T18:00:00Z", "text": "terminated again", "slack_used_mm": 7.0,
        }),
    );
    let found = audit(&fleet);
    names(&found, "no_re_termination_left", "CF-SG-06-R", "has 10 mm of slack (17 mm read, 7 mm used since)");
    // At 10 mm the lead itself is to be watched.
    let slack = of_code(&found, "reading_beyond_limit")
        .into_iter()
        .filter_map(|found| found.reading.as_ref())
        .find(|reading| reading.quantity == "lead_slack")
        .unwrap();
    assert_eq!((slack.value, slack.unit.as_str()), (10.0, "mm"));
    // A new lead, measured, clears both.
    record(
        &mut fleet,
        Noun::Measurements,
        &reading(2, "CF-SG-06-R", "lead_slack", 40.0, "mm", "2026-05-20T20:00:00Z"),
    );
    assert!(!is_named(&fleet, "no_re_termination_left", "CF-SG-06-R"));
}

#[test]
fn readings_that_can_hardly_be_right_are_questioned() {
    let doubted = |value: f64, part: &str, quantity: &str, unit: &str| {
        let mut fleet = demo();
        let mut body = reading(1, part, quantity, value, unit, "2026-05-20T10:00:00Z");
        let method =
            if quantity == "servo_free_play" { "arm pointer 50 mm, 0.2 N" } else { "tip rock, converted" };
        body["method"] = json!(method);
        record(&mut fleet, Noun::Measurements, &body);
        let found = audit(&fleet);
        let list = of_code(&found, "reading_implausible");
        list.first().map(|found| found.finding.text.clone()).unwrap_or_default()
    };
    assert!(
        doubted(9.1, "SV08-B002", "servo_free_play", "deg").contains("about 10 times"),
        "a slipped point"
    );
    assert!(
        doubted(0.3, "SV08-B002", "servo_free_play", "deg").contains("cannot get better"),
        "wear only rises"
    );
    assert!(doubted(44.0, "SV08-B002", "servo_free_play", "deg").contains("not within 0 to 30 deg"));
    assert!(
        doubted(2.6, "JN-SG-01-L", "joiner_clearance_vertical", "mm").contains("about 25.4 times"),
        "thousandths of an inch for mm"
    );
    assert!(doubted(0.35, "JN-SG-01-L", "joiner_clearance_vertical", "mm").contains("times their spread"));
    assert_eq!(doubted(0.95, "SV08-B002", "servo_free_play", "deg"), "");
    assert_eq!(doubted(0.11, "JN-SG-01-L", "joiner_clearance_vertical", "mm"), "");
}

#[test]
fn cells_are_compared_with_new_ones_at_25_degrees() {
    let mut fleet = demo();
    let part = fleet.part(part(&fleet, "PK3S900")).unwrap().fact.clone();
    add(&mut fleet, preen_domain::facts::Part { new_cell_mohm: vec![4.9, 5.0, 5.0], ..part });
    assert!(!is_named(&fleet, "reading_without_temperature", "PK-SG-03"));
    let judged = |fleet: &Fleet, tag: &str| -> Vec<(String, f64, Severity)> {
        let pack = component(fleet, tag);
        preen_domain::answers::readings::beyond_limits(fleet, None, pack, at(NOW))
            .into_iter()
            .map(|judged| (judged.quantity, judged.value, judged.severity))
            .collect()
    };
    // Cold, three cells look bad; at 25 °C one is at 1.43 times new, inside 1.5.
    assert_eq!(judged(&fleet, "PK-SG-03"), [("capacity_of_rated".to_owned(), 82.4, Severity::Watch)]);
    let of_sg_06 = judged(&fleet, "PK-SG-06");
    assert!(of_sg_06.contains(&("cell_resistance_ratio".to_owned(), 1.58, Severity::Watch)), "{of_sg_06:?}");
    let mut warm = reading(1, "PK-SG-03", "cell_resistance", 8.9, "mOhm", "2026-05-20T10:00:00Z");
    warm["values"] = json!([6.1, 6.3, 8.9]);
    record(&mut fleet, Noun::Measurements, &warm);
    assert!(is_named(&fleet, "reading_without_temperature", "PK-SG-03"));
    warm["id"] = json!(fresh(2));
    warm["temperature_c"] = json!(25.0);
    warm["occurred_at"] = json!("2026-05-20T11:00:00Z");
    record(&mut fleet, Noun::Measurements, &warm);
    assert!(!is_named(&fleet, "reading_without_temperature", "PK-SG-03"));
    assert!(judged(&fleet, "PK-SG-03").contains(&(
        "cell_resistance_ratio".to_owned(),
        1.78,
        Severity::Watch
    )));
}

fn flight(fleet: &Fleet, number: u128, model: &str, at: &str) -> Fact {
    let body = json!({
        "id": fresh(number), "model": id(fleet, Noun::Models, model).to_string(),
        "pilot": id(fleet, Noun::Members, "AV").to_string(), "occurred_at": at, "launches": 1, "airtime_min": 8.0,
        "motor_s": 20, "is_landing_flap_used": true, "landing": "soft", "is_post_flight_logged": true,
    });
    Fact::from_json(Noun::Flights, body).unwrap()
}

#[test]
fn flights_that_cannot_be_or_should_not_have_been() {
    let mut fleet = demo();
    let sg_01 = fleet.model(model(&fleet, "SG-01")).unwrap();
    let last = sg_01.flights.rows().next_back().unwrap().at;
    let again = flight(&fleet, 1, "SG-01", &last.plus_seconds(60).to_string());
    add(&mut fleet, again);
    names(
        &audit(&fleet),
        "flights_overlap",
        "SG-01",
        "1 flight of SG-01 began while the one before was still in the air",
    );

    let without = flight(&fleet, 2, "SG-03", "2026-05-21T06:30:00Z");
    add(&mut fleet, without);
    names(&audit(&fleet), "rigging_missing", "SG-03", "on 2026-05-21");
    let rigging = json!({
        "id": fresh(3), "model": "#models:SG-03", "occurred_at": "2026-05-21T06:00:00Z", "cycles": 1,
    });
    record(&mut fleet, Noun::Riggings, &rigging);
    assert!(!is_named(&fleet, "rigging_missing", "SG-03"));

    let grounded = flight(&fleet, 4, "SG-04", "2026-05-20T10:00:00Z");
    add(&mut fleet, grounded);
    let found = audit(&fleet);
    names(&found, "flown_while_grounded", "FL02049", "hard landing FL02049");
    names(&found, "flown_while_grounded", "DE-012", "1 flight of SG-04 at 2026-05-20T10:00:00Z while it was");
}

#[test]
fn a_check_on_a_part_that_was_not_there_and_a_worker_who_looked_at_his_own_work() {
    let mut fleet = demo();
    record(
        &mut fleet,
        Noun::Inspections,
        &json!({
            "id": fresh(1), "tag": "CK-X", "model": "#models:SG-01", "component": "#components:PK-SG-02", "group": "PK20",
            "occurred_at": "2026-05-20T10:00:00Z", "result": "pass", "is_summary": true,
        }),
    );
    names(&audit(&fleet), "checked_elsewhere", "CK-X", "PK-SG-02 was checked in SG-01, but it was in SG-02");

    let repair = fleet.repair(preen_domain::ids::RepairId(id(&fleet, Noun::Repairs, "RE-013"))).unwrap();
    let worker = repair.repair.as_ref().unwrap().fact.done_by.unwrap();
    let release = json!({
        "id": fresh(2), "repair": id(&fleet, Noun::Repairs, "RE-013").to_string(),
        "occurred_at": "2026-05-20T20:00:00Z", "second_person": worker.to_string(),
    });
    let release = Fact::from_json(Noun::Releases, release).unwrap();
    add(&mut fleet, release);
    let found = audit(&fleet);
    names(&found, "second_person_did_the_work", "RE-013", "QS did the work of RE-013");
    assert!(of_code(&found, "repair_unreleased").is_empty());
}

#[test]
fn a_tired_contact_is_told_in_the_voltage_it_costs() {
    let mut fleet = demo();
    let design = fleet.design_of(model(&fleet, "SG-03")).unwrap();
    let mut body = serde_json::to_value(design).unwrap();
    for position in body["positions"].as_array_mut().unwrap() {
        if position["path"] == "CN.R" {
            position["lead"] =
                json!({"awg": 26, "length_m": 1.35, "contact_pairs": 3, "current_a": 2.2, "supply_v": 6.0});
        }
    }
    record(&mut fleet, Noun::Designs, &body);
    let found = audit(&fleet);
    let subjects: Vec<&str> = of_code(&found, "supply_low_behind_connector")
        .iter()
        .map(|found| found.finding.subject.as_str())
        .collect();
    assert_eq!(subjects, ["CF-SG-03-R"], "22 mΩ; the others have 12 at most");
    names(&found, "supply_low_behind_connector", "CF-SG-03-R", "3 pairs of 22 mΩ");
    names(&found, "supply_low_behind_connector", "CF-SG-03-R", "ground lifted by");
    let mended = reading(1, "CF-SG-03-R", "contact_resistance_worst", 6.0, "mOhm", "2026-05-20T10:00:00Z");
    record(&mut fleet, Noun::Measurements, &mended);
    assert!(!is_named(&fleet, "supply_low_behind_connector", "CF-SG-03-R"));
}

#[test]
fn currents_are_compared_with_the_first_of_their_series() {
    let mut fleet = demo();
    let idle = |number, value, at| reading(number, "SV08-A001", "servo_idle_current", value, "mA", at);
    record(&mut fleet, Noun::Measurements, &idle(1, 20.0, "2026-04-20T10:00:00Z"));
    assert!(!is_named(&fleet, "reading_beyond_limit", "SV08-A001"), "nothing to compare with");
    record(&mut fleet, Noun::Measurements, &idle(2, 26.0, "2026-05-19T10:00:00Z"));
    assert!(!is_named(&fleet, "reading_beyond_limit", "SV08-A001"), "30 % is still within");
    record(&mut fleet, Noun::Measurements, &idle(3, 27.0, "2026-05-20T10:00:00Z"));
    let found = audit(&fleet);
    names(&found, "reading_beyond_limit", "SV08-A001", "is 35 % (27 mA against 20 as new), class restrict");
    // Another method, or a marked start, is another series.
    let mut anew = idle(4, 27.0, "2026-05-20T11:00:00Z");
    anew["is_series_start"] = json!(true);
    record(&mut fleet, Noun::Measurements, &anew);
    assert!(!is_named(&fleet, "reading_beyond_limit", "SV08-A001"));
}
