//! The records audit of the demo club: what it lists, what it leaves out, and that doing what it says clears it.

use preen_domain::{
    answers::{Findings, PlacedFinding, findings},
    facts::{Fact, Noun},
    fleet::Fleet,
    words::Severity,
};
use serde_json::{Value, json};

use preen_tests::demo_fleet::{NOW, add, at, component, demo, id, moment, part};

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
        ("unweighed_moves", "SG-05", "CG moved +1.39 mm"),
        ("loan_late", "SV08-B015", "VW and was due back on 2026-05-17: 4 days late"),
        ("loan_ends_soon", "PN-R-02", "lent to DR, in SG-05 and due back on 2026-05-31"),
        ("loan_ends_soon", "TS-03", "2026-05-31"),
        ("loan_begins_soon", "SG-06", "lent to EL from 2026-05-30"),
        ("lot_out_of_date", "H-03", "out of date since 2026-05-01"),
        ("part_untested", "PK-SP-04", "PK20"),
        ("summary_without_items", "SG-03", "CN50, HL, JN40, N100, N25, PK20, RF30, S12, SW"),
    ] {
        names(&audit, code, subject, words);
    }
    let nothing = [
        "reading_implausible",
        "flights_overlap",
        "rigging_missing",
        "checked_elsewhere",
        "flown_while_grounded",
    ];
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
