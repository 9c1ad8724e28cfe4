//! Loans, and what quarantine keeps back.

use preen_domain::facts::{Loan, Recorded};
use preen_domain::fleet::Fleet;
use preen_domain::rules::may::{Act, Asker, may};
use serde_json::{Value, json};

use preen_tests::demo_fleet::{NOW, add, at, component, demo, member};

use crate::said::{allowed, fact, fresh, refused, said};

fn loan(item: &str) -> Value {
    json!({ "id": fresh(1), "item": { "component": format!("#components:{item}") }, "lent_to": "#members:VW",
            "occurred_at": NOW, "from_on": "2026-05-21", "due_back_on": "2026-05-31" })
}

fn back(fleet: &Fleet, tag: &str, when: &str) -> Value {
    let is_it = |loan: &Recorded<Loan>| loan.fact.tag.as_ref().is_some_and(|known| known.as_str() == tag);
    let id = fleet.loans().find(|(_, file)| file.loan.as_ref().is_some_and(is_it)).unwrap().0;
    json!({ "id": fresh(2), "loan": id, "occurred_at": when })
}

fn record(fleet: &mut Fleet, noun: &str, body: Value) {
    let fact = fact(fleet, noun, body);
    add(fleet, fact);
}

#[test]
fn what_is_lent_has_to_be_at_hand() {
    let fleet = demo();
    allowed(&fleet, "loans", loan("SV08-C005"));
    refused(&fleet, "loans", loan("SV08-B007"), "scrapped", "/item");
    refused(&fleet, "loans", loan("SV08-B015"), "lent_already", "/item");
    // The aileron servo of the borrowed tip went along with it.
    refused(&fleet, "loans", loan("SV08-B014"), "lent_already", "/item");
}

#[test]
fn a_lent_part_goes_where_it_was_lent_and_comes_out_before_it_comes_back() {
    let mut fleet = demo();
    refused(&fleet, "loan-returns", back(&fleet, "LN-001", NOW), "still_fitted", "/loan");
    refused(
        &fleet,
        "loan-returns",
        back(&fleet, "LN-002", "2026-04-12T11:00:00Z"),
        "returned_before_lent",
        "/occurred_at",
    );
    allowed(&fleet, "loan-returns", back(&fleet, "LN-002", NOW));

    record(&mut fleet, "loans", loan("SV08-C005"));
    let off = fleet.component(component(&fleet, "SV08-B006")).unwrap().spans.last().unwrap().installation;
    let removal = json!({ "id": fresh(3), "installation": off, "component": "#components:SV08-B006",
                          "occurred_at": NOW, "reason": "preventive" });
    record(&mut fleet, "removals", removal);
    let fit = json!({ "id": fresh(4), "component": "#components:SV08-C005", "occurred_at": NOW, "position": "FS.L",
                      "inside": { "component": "#components:PN-C-04" } });
    refused(&fleet, "installations", fit.clone(), "lent_elsewhere", "/component");
    let lent = fleet
        .loans()
        .find_map(|(id, file)| file.loan.as_ref().is_some_and(|loan| loan.fact.tag.is_none()).then_some(id));
    record(&mut fleet, "loan-returns", json!({ "id": fresh(5), "loan": lent, "occurred_at": NOW }));
    allowed(&fleet, "installations", fit);
}

#[test]
fn the_model_a_part_was_lent_for_takes_it() {
    let mut fleet = demo();
    let mut for_sg_04 = loan("SV08-C005");
    for_sg_04["for_model"] = json!("#models:SG-04");
    record(&mut fleet, "loans", for_sg_04);
    let fit = json!({ "id": fresh(4), "component": "#components:SV08-C005", "occurred_at": NOW, "position": "FS.L",
                      "inside": { "component": "#components:PN-C-04" } });
    let codes: Vec<&str> = said(&fleet, "installations", fit).into_iter().map(|(code, _)| code).collect();
    assert_eq!(codes, ["position_occupied"], "the loan does not stand against it");
}

#[test]
fn no_repair_leads_out_of_quarantine() {
    let mut fleet = demo();
    let condition = |number: u32, state: &str, when: &str| {
        json!({ "id": fresh(number), "component": "#components:SV08-B008", "occurred_at": when, "state": state,
                "reason": "looked at" })
    };
    let may_enter = |fleet: &Fleet, who: &str, body: Value| {
        let asker = Asker { member: member(fleet, who), has_history: false };
        may(fleet, asker, Act::Record(&fact(fleet, "conditions", body)), at(NOW)).is_ok()
    };
    // KD keeps the stores, QS is an inspector.
    assert!(may_enter(&fleet, "KD", condition(1, "in_repair", NOW)));
    assert!(!may_enter(&fleet, "KD", condition(1, "serviceable", NOW)));
    record(&mut fleet, "conditions", condition(1, "in_repair", "2026-05-21T07:00:00Z"));
    for state in ["serviceable", "new_untested"] {
        assert!(!may_enter(&fleet, "KD", condition(2, state, NOW)), "{state}");
    }
    assert!(may_enter(&fleet, "QS", condition(2, "serviceable", NOW)));
    record(&mut fleet, "conditions", condition(2, "serviceable", "2026-05-21T07:10:00Z"));
    record(&mut fleet, "conditions", condition(3, "in_repair", "2026-05-21T07:20:00Z"));
    assert!(may_enter(&fleet, "FS", condition(4, "serviceable", NOW)), "it was in service meanwhile");
    assert!(!may_enter(&fleet, "KD", condition(4, "serviceable", NOW)), "stores do not say what is fit");
    // Fitting from quarantine is refused whoever does it.
    let fit = json!({ "id": fresh(5), "component": "#components:SV08-B009", "occurred_at": NOW, "position": "FS.L",
                      "inside": { "component": "#components:PN-C-04" } });
    let codes: Vec<&str> = said(&fleet, "installations", fit).into_iter().map(|(code, _)| code).collect();
    assert_eq!(codes[0], "not_serviceable");
}
