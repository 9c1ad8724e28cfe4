//! Fitting and taking out: one part, one place, one moment.

use serde_json::{Value, json};

use crate::said::{allowed, fresh, refused, said};
use preen_tests::demo_fleet::demo;

fn fit(component: &str, inside: Value, position: &str) -> Value {
    json!({
        "id": fresh(1), "component": format!("#components:{component}"), "inside": inside, "position": position,
        "occurred_at": "2026-05-21T07:30:00Z",
    })
}

fn panel(tag: &str) -> Value {
    json!({"component": format!("#components:{tag}")})
}

#[test]
fn one_part_in_two_places() {
    // PN-R-05 is on the bench with its own servo inside; SV08-C002 sits in SG-05.
    let fleet = demo();
    let said = said(&fleet, "installations", fit("SV08-C002", panel("PN-C-04"), "FS.L"));
    assert!(said.contains(&("component_elsewhere", "/component".to_owned())), "{said:?}");
}

#[test]
fn two_parts_in_one_place() {
    refused(
        &demo(),
        "installations",
        fit("SV08-C004", panel("PN-C-04"), "FS.L"),
        "position_occupied",
        "/position",
    );
}

#[test]
fn a_past_that_overlaps_what_came_later() {
    // The left flap seat of SG-03 was empty from 6 to 7 March only.
    let fleet = demo();
    let mut early = fit("SV08-C004", panel("PN-C-03"), "FS.L");
    early["occurred_at"] = json!("2026-03-06T21:00:00Z");
    refused(&fleet, "installations", early, "position_occupied", "/position");
}

#[test]
fn held_untested_and_scrapped_parts() {
    let fleet = demo();
    // The pack seat of TS-02 is empty, the only pack of its type is untested.
    let ts_02 = json!({"model": "#models:TS-02"});
    refused(&fleet, "installations", fit("PK-SP-04", ts_02.clone(), "PK"), "not_serviceable", "/component");
    refused(&fleet, "installations", fit("PK-SP-03", ts_02.clone(), "PK"), "not_serviceable", "/component");
    let scrapped = said(&fleet, "installations", fit("SV08-B007", ts_02.clone(), "PK"));
    assert!(scrapped.contains(&("not_serviceable", "/component".to_owned())), "{scrapped:?}");
    allowed(&fleet, "installations", fit("PK-SP-01", ts_02, "PK"));
}

#[test]
fn a_part_of_another_kind_or_seat() {
    let fleet = demo();
    let ts_02 = json!({"model": "#models:TS-02"});
    refused(&fleet, "installations", fit("SV08-C004", ts_02.clone(), "PK"), "does_not_fit", "/position");
    refused(&fleet, "installations", fit("PK-SP-01", ts_02, "PKX"), "unknown_position", "/position");
    let sg_02 = json!({"model": "#models:SG-02"});
    assert!(
        said(&fleet, "installations", fit("PN-L-02", sg_02, "W.R"))
            .contains(&("does_not_fit", "/position".to_owned())),
        "a left tip does not fit on the right"
    );
}

#[test]
fn a_part_inside_itself() {
    let fleet = demo();
    let said = said(&fleet, "installations", fit("PN-R-05", panel("PN-R-05"), "AS"));
    assert!(said.contains(&("nesting_loop", "/inside".to_owned())), "{said:?}");
}

#[test]
fn taking_out_what_is_not_in() {
    let fleet = demo();
    let b011 = preen_domain::ids::ComponentId(
        fleet.id_of_tag(preen_domain::facts::Noun::Components, &"SV08-B011".parse().unwrap()).unwrap(),
    );
    let spans = &fleet.component(b011).unwrap().spans;
    let removal = |installation: String, at: &str| {
        json!({
            "id": fresh(1), "component": "#components:SV08-B011", "installation": installation,
            "occurred_at": at, "reason": "suspected",
        })
    };
    let (first, second) = (spans[0].installation.to_string(), spans[1].installation.to_string());
    refused(&fleet, "removals", removal(first, "2026-05-21T07:30:00Z"), "already_removed", "/installation");
    refused(
        &fleet,
        "removals",
        removal(second.clone(), "2026-03-07T08:00:00Z"),
        "removed_before_fitted",
        "/occurred_at",
    );
    allowed(&fleet, "removals", removal(second, "2026-05-21T07:30:00Z"));
    refused(
        &fleet,
        "removals",
        removal(fresh(7), "2026-05-21T07:30:00Z"),
        "unknown_reference",
        "/installation",
    );
}
