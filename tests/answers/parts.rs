//! Where parts are, how much they were used and what happened to them.

use preen_domain::answers::{
    ChangedAnswer, WhereQuestion, changes, component_history, component_usage, whereabouts,
};
use preen_domain::facts::{Fact, LoanReturn, Recorded, Subject};
use preen_tests::demo_fleet::{NOW, add, at, component, demo, member, moment, part};
use serde_json::json;

#[test]
fn flights_on_a_servo_that_sat_in_two_models() {
    let fleet = demo();
    let usage = component_usage(&fleet, component(&fleet, "SV08-B011"), at(NOW));
    assert_eq!((usage.flights, usage.launches, usage.airtime_h, usage.motor_s), (108, 108, 18.9, 2401));
    let spans: Vec<(&str, &str, u64)> =
        usage.spans.iter().map(|span| (span.model.as_str(), span.path.as_str(), span.flights)).collect();
    assert_eq!(spans, [("SG-02", "W.C/FS.R", 60), ("SG-03", "W.C/FS.L", 48)]);
    for wrong in [319, 442, 109] {
        assert_ne!(
            usage.flights, wrong,
            "today's model, both models, or split by the day instead of the moment"
        );
    }
}

#[test]
fn a_panel_carries_its_servo_to_another_model() {
    let fleet = demo();
    let usage = component_usage(&fleet, component(&fleet, "SV08-B014"), at(NOW));
    let models: Vec<(&str, &str)> =
        usage.spans.iter().map(|span| (span.model.as_str(), span.path.as_str())).collect();
    assert_eq!(models, [("SG-02", "W.R/AS"), ("SG-05", "W.R/AS")]);
    let panel = component_usage(&fleet, component(&fleet, "PN-R-02"), at(NOW));
    assert_eq!(
        (usage.flights, usage.motor_s),
        (panel.flights, panel.motor_s),
        "it was in the panel all the time"
    );
}

#[test]
fn batch_b_in_flap_positions() {
    let fleet = demo();
    let question = WhereQuestion {
        part: Some(part(&fleet, "SV08")),
        batch: Some("B".parse().unwrap()),
        position_kind: Some("flap servo".to_owned()),
        component: None,
    };
    let found = whereabouts(&fleet, &question, moment("2026-05-21"));
    assert_eq!(found.models, ["MP-01", "SG-01", "SG-03", "SG-04"]);
    let rows: Vec<(&str, &str)> =
        found.components.iter().map(|row| (row.component.as_str(), row.model.as_deref().unwrap())).collect();
    assert_eq!(
        rows,
        [
            ("SV08-B001", "SG-01"),
            ("SV08-B002", "SG-01"),
            ("SV08-B005", "SG-03"),
            ("SV08-B006", "SG-04"),
            ("SV08-B010", "MP-01"),
            ("SV08-B011", "SG-03"),
            ("SV08-B012", "MP-01"),
        ]
    );
}

#[test]
fn batch_b_elsewhere() {
    let fleet = demo();
    let question = WhereQuestion {
        part: Some(part(&fleet, "SV08")),
        batch: Some("B".parse().unwrap()),
        ..WhereQuestion::default()
    };
    let found = whereabouts(&fleet, &question, moment("2026-05-21"));
    let row = |tag: &str| found.components.iter().find(|row| row.component == tag).unwrap().clone();
    let (left, right) = (row("SV08-B013"), row("SV08-B014"));
    assert_eq!(
        (left.model.as_deref(), left.position_kind.as_deref()),
        (Some("SG-02"), Some("aileron servo"))
    );
    assert_eq!(
        (right.model.as_deref(), right.position_kind.as_deref()),
        (Some("SG-05"), Some("aileron servo"))
    );
    assert_eq!(row("SV08-B016").state.as_str(), "held");
    let lent = row("SV08-B015");
    assert_eq!((lent.lent_to.as_deref(), lent.days_late), (Some("VW"), 4));
    for tag in ["SV08-B008", "SV08-B009"] {
        assert_eq!(
            (row(tag).state.as_str(), row(tag).location.as_deref()),
            ("unserviceable", Some("quarantine shelf"))
        );
    }
    assert_eq!(row("SV08-B007").state.as_str(), "scrapped");
    assert_eq!(found.components.len(), 14);
}

#[test]
fn what_was_done_to_the_left_joiner_of_sg_01() {
    let fleet = demo();
    let history = component_history(&fleet, component(&fleet, "JN-SG-01-L"), at(NOW));
    assert_eq!((history.riggings, history.riggings_since_repair), (68, Some(21)));
    let readings: Vec<&str> = history
        .events
        .iter()
        .filter(|event| event.kind == "measurement")
        .map(|event| event.text.split(' ').nth(3).unwrap())
        .collect();
    assert_eq!(
        readings,
        ["0.04", "0.07", "0.11", "0.15", "0.05", "0.058", "0.071", "0.08", "0.094", "0.101"]
    );
    let sleeve = history.events.iter().find(|event| event.tag.as_deref() == Some("RE-006")).unwrap();
    assert!(sleeve.text.contains("+0.9 g, cure until 2025-11-22T18:00:00Z"), "{}", sleeve.text);
    let sanded = history.events.iter().find(|event| event.tag.as_deref() == Some("RE-001")).unwrap();
    assert!(sanded.text.contains("0.04 mm per face"), "{}", sanded.text);
    assert!(history.events.iter().any(|event| event.tag.as_deref() == Some("DE-001")));
    assert!(history.events.is_sorted_by_key(|event| event.at));
}

/// A panel that comes back from a loan brings what sits in it: each part's new answer names the return.
#[test]
fn a_loan_that_ends_is_named_for_every_part_inside() {
    let before = demo();
    let mut after = before.clone();
    let panel = component(&before, "PN-R-02");
    let lent = before
        .loans()
        .find(|(_, file)| file.loan.as_ref().is_some_and(|loan| loan.fact.item == Subject::Component(panel)));
    let back: LoanReturn = serde_json::from_value(json!({
        "id": "01970a3c-5d00-7000-8000-00000000beef", "loan": lent.unwrap().0,
        "occurred_at": "2026-05-21T07:00:00Z"
    }))
    .unwrap();
    add(&mut after, back.clone());
    let since = before.revision();
    let recorded = Recorded {
        fact: Fact::from(back),
        recorded_at: at(NOW),
        recorded_by: member(&before, "DR"),
        revision: after.revision(),
    };
    let said = changes(&before, &after, since, &[recorded], &[], moment("2026-05-21"));
    for tag in ["PN-R-02", "SV08-B014", "CL-SG-02-R"] {
        let change = said.answers.iter().find(|one| one.answer == ChangedAnswer::Where && one.subject == tag);
        let change = change.unwrap_or_else(|| panic!("{tag} is lent no more: {:?}", said.answers));
        assert!(change.before.as_ref().unwrap().ends_with("lent until 2026-05-31"), "{change:?}");
        assert_eq!(change.by_revisions, [after.revision()], "{tag}");
    }
}
