//! Reasons from seats, parts, sets, loans, readings and the balance.

use preen_domain::{facts::Subject, words::Severity};
use preen_tests::demo_fleet::{component, model, part};
use serde_json::json;

use super::{Cleared, Club};

pub const CLEARED: &[Cleared] = &[
    ("position_empty", an_empty_seat),
    ("part_not_serviceable", a_held_part),
    ("part_type_not_taken", a_part_of_a_type_that_the_seat_does_not_take),
    ("borrowed_part", a_borrowed_panel),
    ("borrowed_part_late", a_borrowed_panel_that_is_late),
    ("pairing_accepted", a_joiner_outside_its_set),
    ("pairing_not_accepted", a_joiner_with_whom_nobody_accepted),
    ("reading_beyond_limit", a_worn_servo),
    ("cg_outside_range", a_centre_of_gravity_too_far_aft),
    ("never_weighed", a_model_without_a_weighing),
    ("unweighed_moves", a_repair_that_moves_the_centre_of_gravity),
    ("on_loan", a_lent_model),
    ("laid_up", a_model_laid_up),
    ("model_gone", a_model_sold_by_a_slip),
];

fn an_empty_seat() {
    let mut club = Club::of("TS-01");
    club.take_out("PK-TS-01");
    club.no(
        "position_empty",
        "fit PK-TS-01 again, or PK-SP-04 once it has passed PK20 and is put into service in PK",
    );
    club.fit("PK-TS-01", None, "PK");
    club.is_gone("position_empty");
    club.pass("PK20");
    club.yes("position_empty");
    // The other way: the untested pack, once it has passed and is put into service.
    let mut club = Club::of("TS-02");
    let pack = json!("#components:PK-SP-04");
    club.enter(
        "inspections",
        json!({"component": pack, "group": "PK20", "result": "pass", "is_summary": true}),
    );
    club.enter("conditions", json!({"component": pack, "state": "serviceable", "reason": "passed PK20"}));
    club.fit("PK-SP-04", None, "PK");
    club.yes("position_empty");
}

fn a_held_part() {
    let mut club = Club::of("TS-01");
    let servo = json!("#components:SV06-S001");
    club.enter("conditions", json!({"component": servo, "state": "held", "reason": "noise"}));
    club.no(
        "part_not_serviceable",
        "take SV06-S001 out, or have a person put it back into service with a reason",
    );
    club.enter(
        "conditions",
        json!({"component": servo, "state": "serviceable", "reason": "noise was a wire"}),
    );
    club.yes("part_not_serviceable");
}

/// A new version of the design of TS-01, whose pack seat takes these part types.
fn let_the_seat_take(club: &mut Club, parts: &[&str]) {
    let fleet = &club.fleet;
    let design = fleet.model_data(model(fleet, "TS-01")).unwrap().design;
    let mut design = fleet.design(design).unwrap().fact.clone();
    let seat = design.positions.iter_mut().find(|position| position.path.as_str() == "PK").unwrap();
    seat.parts = parts.iter().map(|tag| part(fleet, tag)).collect();
    club.record(design.into());
}

fn a_part_of_a_type_that_the_seat_does_not_take() {
    let mut club = Club::of("TS-01");
    let_the_seat_take(&mut club, &["PK3S900"]);
    club.no("part_type_not_taken", "swap PK-TS-01 for one of these, or let the design take PK1S600");
    let_the_seat_take(&mut club, &["PK3S900", "PK1S600"]);
    club.yes("part_type_not_taken");
}

fn borrowed_tip(club: &Club) -> Subject {
    Subject::Component(component(&club.fleet, "PN-R-02"))
}

fn a_borrowed_panel() {
    let mut club = Club::of("SG-05");
    club.says("borrowed_part", Severity::Watch, "return PN-R-02, or agree a later day");
    club.take_out("PN-R-02");
    let loan = club.loan_of(&borrowed_tip(&club));
    club.enter("loan-returns", json!({"loan": loan.id}));
    club.is_gone("borrowed_part");
}

fn a_borrowed_panel_that_is_late() {
    let mut club = Club::of("SG-05");
    club.at("2026-06-02T08:00:00Z");
    club.says("borrowed_part_late", Severity::Restrict, "return PN-R-02, or agree a later day");
    assert_eq!(club.verdict().state.as_str(), "restricted");
    let mut later = json!(club.loan_of(&borrowed_tip(&club)));
    later["due_back_on"] = json!("2026-06-10");
    let original = later["id"].clone();
    club.enter(
        "corrections",
        json!({"noun": "loans", "original": original, "reason": "agreed until 10 June", "fact": later}),
    );
    club.yes("borrowed_part_late");
}

/// Takes the borrowed tip off, and the borrowed tip on again.
fn tip_off_and_on(club: &mut Club) {
    club.take_out("PN-R-02");
    club.fit("PN-R-02", None, "W.R");
}

fn a_joiner_outside_its_set() {
    let mut club = Club::of("SG-05");
    club.says("pairing_accepted", Severity::Watch, "put JN-SG-05-R back together with PN-R-05");
    club.take_out("PN-R-02");
    club.enter(
        "conditions",
        json!({"component": "#components:PN-R-05", "state": "serviceable", "reason": "mended"}),
    );
    club.fit("PN-R-05", None, "W.R");
    club.is_gone("pairing_accepted");
    club.is_gone("pairing_not_accepted");
}

fn a_joiner_with_whom_nobody_accepted() {
    let mut club = Club::of("SG-05");
    tip_off_and_on(&mut club);
    club.no(
        "pairing_not_accepted",
        "measure the fit (JN-02) and have an inspector accept the pairing, or put JN-SG-05-R back together with \
         PN-R-05",
    );
    club.measure("JN-SG-05-R", "joiner_clearance_vertical", "mm", 0.095);
    club.enter(
        "pairings",
        json!({"component": "#components:JN-SG-05-R", "mates": ["#components:PN-C-05", "#components:PN-R-02"],
               "clearance_mm": 0.095, "accepted_by": "#members:QS"}),
    );
    club.is_gone("pairing_not_accepted");
    club.pass("SW");
    club.yes("pairing_not_accepted");
}

fn a_worn_servo() {
    let mut club = Club::of("TS-01");
    club.measure("SV06-S001", "servo_free_play", "deg", 1.3);
    club.no(
        "reading_beyond_limit",
        "raise a defect on SV06-S001 with its restriction, swap it, or measure it again",
    );
    club.measure("SV06-S001", "servo_free_play", "deg", 0.3);
    club.yes("reading_beyond_limit");
}

fn weigh(club: &mut Club, x_mm: f64) {
    club.enter(
        "weighings",
        json!({"model": "#model", "mass_g": 248.5, "x_mm": x_mm, "u_x_mm": 0.4, "weighed_by": "#members:QS"}),
    );
}

fn a_centre_of_gravity_too_far_aft() {
    let mut club = Club::of("TS-01");
    weigh(&mut club, 80.0);
    club.no("cg_outside_range", "move weight, then weigh the model");
    weigh(&mut club, 71.0);
    club.yes("cg_outside_range");
}

fn a_model_without_a_weighing() {
    let mut club = Club::of("TS-01");
    let fleet = &club.fleet;
    let weighing = fleet.model(model(fleet, "TS-01")).unwrap().weighings.iter().next();
    let original = json!(weighing.unwrap().fact.id);
    club.enter(
        "corrections",
        json!({"noun": "weighings", "original": original, "is_void": true, "reason": "another model"}),
    );
    club.says("never_weighed", Severity::Watch, "weigh the model");
    weigh(&mut club, 71.0);
    club.yes("never_weighed");
}

fn a_repair_that_moves_the_centre_of_gravity() {
    let mut club = Club::of("TS-01");
    club.enter(
        "repairs",
        json!({"model": "#model", "kind": "R9", "text": "leading edge", "done_by": "#members:HT",
               "material_mass_g": 6.0, "x_mm": 160.0}),
    );
    club.says("unweighed_moves", Severity::Watch, "weigh the model");
    weigh(&mut club, 71.0);
    club.is_gone("unweighed_moves");
}

fn a_lent_model() {
    let mut club = Club::of("TS-03");
    club.no("on_loan", "VW returns it");
    let loan = club.loan_of(&Subject::Model(model(&club.fleet, "TS-03")));
    club.enter("loan-returns", json!({"loan": loan.id}));
    club.yes("on_loan");
}

fn a_model_laid_up() {
    let mut club = Club::of("TS-01");
    club.enter("events", json!({"model": "#model", "kind": "laid_up"}));
    club.no("laid_up", "record its return to flying, then pass DF, N25 and PK20");
    club.enter("events", json!({"model": "#model", "kind": "returned_to_flying"}));
    for group in ["DF", "N25", "PK20"] {
        club.pass(group);
    }
    club.yes("laid_up");
}

fn a_model_sold_by_a_slip() {
    let mut club = Club::of("TS-01");
    let event = club.enter("events", json!({"model": "#model", "kind": "sold"}));
    club.no("model_gone", "correct that entry if it is wrong");
    club.enter(
        "corrections",
        json!({"noun": "events", "original": event, "is_void": true, "reason": "it was TS-04 of another club"}),
    );
    club.yes("model_gone");
}
