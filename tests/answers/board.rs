//! The board for Saturday 2026-05-23, and why each model stands where it does.

use preen_domain::{
    answers::{Moment, may_fly, may_fly_one, model_usage},
    words::Severity,
};

use preen_tests::demo_fleet::{NOW, at, demo, grounds, member, model, moment, verdict};

#[test]
fn the_board_for_saturday() {
    let fleet = demo();
    let board = may_fly(&fleet, moment("2026-05-23"));
    let rows: Vec<(&str, &str, bool, Option<i64>)> =
        board.models.iter().map(|m| (m.model.as_str(), m.state.as_str(), m.may_fly, m.max_flights)).collect();
    assert_eq!(
        rows,
        [
            ("MP-01", "grounded", false, None),
            ("MP-02", "grounded", false, None),
            ("MP-03", "grounded", false, None),
            ("SG-01", "fit", true, Some(4)),
            ("SG-02", "incomplete", false, None),
            ("SG-03", "grounded", false, None),
            ("SG-04", "grounded", false, None),
            ("SG-05", "fit", true, None),
            ("SG-06", "restricted", true, None),
            ("TS-01", "fit", true, None),
            ("TS-02", "incomplete", false, None),
            ("TS-03", "on_loan", false, None),
        ]
    );
}

#[test]
fn usage_of_the_fleet() {
    let fleet = demo();
    let expected = [
        ("SG-01", 271, 271, 48.6, 6013, 68),
        ("SG-02", 123, 123, 20.8, 2729, 41),
        ("SG-03", 319, 319, 56.2, 6934, 77),
        ("SG-04", 239, 239, 41.4, 5387, 61),
        ("SG-05", 300, 300, 52.7, 6538, 81),
        ("SG-06", 199, 199, 35.5, 4273, 61),
        ("MP-01", 175, 175, 38.9, 0, 58),
        ("MP-02", 121, 121, 26.5, 0, 43),
        ("MP-03", 98, 98, 21.2, 0, 32),
        ("TS-01", 100, 1211, 36.2, 0, 69),
        ("TS-02", 56, 664, 21.6, 0, 34),
        ("TS-03", 60, 741, 22.8, 0, 37),
    ];
    for (tag, flights, launches, airtime_h, motor_s, riggings) in expected {
        let usage = model_usage(&fleet, model(&fleet, tag), at(NOW));
        let got = (usage.flights, usage.launches, usage.airtime_h, usage.motor_s, usage.riggings);
        assert_eq!(got, (flights, launches, airtime_h, motor_s, riggings), "{tag}");
    }
}

#[test]
fn four_flights_on_sg_01_because_the_campaign_counts_less_than_the_check() {
    let verdict = verdict(&demo(), "SG-01", "2026-05-23");
    let [restriction] = verdict.restrictions.as_slice() else { panic!("{:?}", verdict.restrictions) };
    assert_eq!(
        (restriction.kind.as_str(), restriction.value, restriction.source.as_str()),
        ("max_flights", Some(4.0), "CA-2026-1")
    );
    assert_eq!((verdict.max_flights, verdict.flights_left), (Some(4), Some(4)));
    let campaign = verdict.reasons.iter().find(|reason| reason.code == "campaign_limit").unwrap();
    assert!(campaign.text.contains("26 of 30 flights flown, 4 left"), "{}", campaign.text);
}

#[test]
fn sg_02_has_no_defect_but_an_empty_seat() {
    let verdict = verdict(&demo(), "SG-02", "2026-05-23");
    assert_eq!(grounds(&verdict), [("position_empty", "W.R")]);
    assert!(
        verdict.reasons[0].text.contains("PN-R-02 is lent to SG-05, due back 2026-05-31"),
        "{}",
        verdict.reasons[0].text
    );
}

#[test]
fn sg_03_is_grounded_by_the_campaign_and_the_radio_check() {
    let verdict = verdict(&demo(), "SG-03", "2026-05-23");
    assert_eq!(grounds(&verdict), [("check_overdue", "RF30"), ("campaign_overdue", "CA-2026-1")]);
}

#[test]
fn sg_04_is_grounded_by_the_hard_landing_and_the_late_check() {
    let verdict = verdict(&demo(), "SG-04", "2026-05-23");
    assert_eq!(
        grounds(&verdict),
        [("hard_landing_unchecked", "FL02049"), ("check_overdue", "N25"), ("defect_open", "DE-012")]
    );
    let late = verdict.reasons.iter().find(|reason| reason.subject == "N25").unwrap();
    assert!(late.text.contains("over by 3 flights (tolerance 2)"), "{}", late.text);
}

#[test]
fn a_ground_defect_on_a_part_that_is_on_the_bench_does_not_ground_sg_05() {
    let verdict = verdict(&demo(), "SG-05", "2026-05-23");
    assert!(grounds(&verdict).is_empty(), "{:?}", verdict.reasons);
    assert!(verdict.reasons.iter().all(|reason| reason.subject != "DE-005"));
    let nose = verdict.reasons.iter().find(|reason| reason.code == "unweighed_moves").unwrap();
    assert!(nose.text.contains("3.9 g at x -335 mm"), "{}", nose.text);
}

#[test]
fn the_right_joiner_of_sg_05_sits_outside_its_set_and_was_accepted() {
    let fleet = demo();
    let verdict = verdict(&fleet, "SG-05", "2026-05-23");
    let reason = verdict.reasons.iter().find(|reason| reason.code == "pairing_accepted").unwrap();
    assert_eq!((reason.severity, reason.subject.as_str()), (Severity::Watch, "JN-SG-05-R"));
    assert_eq!(
        reason.text,
        "JN-SG-05-R belongs with PN-R-05; its fit with PN-C-05, PN-R-02 was accepted 2026-05-09 by QS at 0.095 mm \
         and ends when one of them comes off"
    );
    for other in may_fly(&fleet, moment("2026-05-23")).models.iter().filter(|model| model.model != "SG-05") {
        let asked = other.reasons.iter().find(|reason| reason.code.starts_with("pairing_"));
        assert!(asked.is_none(), "{}: {asked:?}", other.model);
    }
}

#[test]
fn ts_02_needs_a_tested_pack_and_its_check_runs_out_after_sunday() {
    let fleet = demo();
    let saturday = verdict(&fleet, "TS-02", "2026-05-23");
    assert_eq!(grounds(&saturday), [("position_empty", "PK")]);
    assert!(
        saturday.reasons[0].clear_by.contains("PK-SP-04 once it has passed PK20"),
        "{}",
        saturday.reasons[0].clear_by
    );
    let thursday = verdict(&fleet, "TS-02", "2026-05-21");
    let due = thursday.reasons.iter().find(|reason| reason.subject == "N25").unwrap();
    assert_eq!(due.code, "check_due");
    assert!(due.text.contains("late by 4 days since 2026-05-17 (tolerance 7)"), "{}", due.text);
    let monday = verdict(&fleet, "TS-02", "2026-05-25");
    assert_eq!(grounds(&monday), [("position_empty", "PK"), ("check_overdue", "N25")]);
}

#[test]
fn mp_03_cures_on_friday_and_waits_for_its_release_on_saturday() {
    let fleet = demo();
    let codes = |on: &str| {
        verdict(&fleet, "MP-03", on).reasons.iter().map(|reason| reason.code.clone()).collect::<Vec<_>>()
    };
    assert_eq!(codes("2026-05-22"), ["repair_curing", "defect_open"]);
    assert_eq!(codes("2026-05-23"), ["repair_unreleased", "defect_open"]);
}

#[test]
fn mp_02_is_eighty_days_late() {
    let verdict = verdict(&demo(), "MP-02", "2026-05-23");
    assert_eq!(grounds(&verdict), [("check_overdue", "N25")]);
    assert!(
        verdict.reasons[0].text.contains("late by 80 days since 2026-03-04"),
        "{}",
        verdict.reasons[0].text
    );
}

#[test]
fn a_loan_does_not_stand_in_the_way_of_the_pilot_it_was_made_to() {
    let fleet = demo();
    let borrower = Moment { pilot: Some(member(&fleet, "VW")), ..moment("2026-05-23") };
    let verdict = may_fly_one(&fleet, model(&fleet, "TS-03"), borrower).unwrap();
    assert_eq!((verdict.state.as_str(), verdict.may_fly), ("fit", true));
    assert_eq!(verdict.reasons[0].code, "on_loan");
}

#[test]
fn sg_03_may_use_its_tolerance_on_thursday_but_not_on_saturday() {
    let fleet = demo();
    let state_of = |on: &str| {
        let verdict = verdict(&fleet, "SG-03", on);
        verdict.reasons.iter().find(|reason| reason.subject == "RF30").unwrap().code.clone()
    };
    assert_eq!(state_of("2026-05-21"), "check_due");
    assert_eq!(state_of("2026-05-22"), "check_overdue");
}

#[test]
fn every_no_says_what_clears_it() {
    for model in may_fly(&demo(), moment("2026-05-23")).models.iter().filter(|model| !model.may_fly) {
        assert!(!grounds(model).is_empty(), "{}", model.model);
        assert!(model.reasons.iter().all(|reason| !reason.clear_by.is_empty()), "{}", model.model);
    }
}
