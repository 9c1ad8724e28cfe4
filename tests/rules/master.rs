//! Members, designs, models, parts, components and programmes.

use preen_domain::{
    facts::{Fact, Noun},
    ids::{DesignId, ProgrammeId},
    rules::check,
};
use serde_json::json;

use crate::said::{allowed, fresh, refused, said};
use preen_tests::demo_fleet::{NOW, at, demo, id};

#[test]
fn masses_that_nothing_has() {
    let fleet = demo();
    let servo = |mass_g: f64| json!({"id": fresh(1), "tag": "SV08-C090", "part": "#parts:SV08", "batch": "C", "mass_g": mass_g, "state": "serviceable"});
    allowed(&fleet, "components", servo(10.4));
    refused(&fleet, "components", servo(-10.4), "out_of_range", "/mass_g");
    let Fact::Component(mut component) = crate::said::fact(&fleet, "components", servo(10.4)) else {
        panic!()
    };
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        component.mass_g = bad;
        let broken = check(&fleet, &Fact::Component(component.clone()), at(NOW));
        assert_eq!(broken.iter().map(|rule| rule.code).collect::<Vec<_>>(), ["out_of_range"], "{bad}");
    }
}

#[test]
fn a_tag_that_is_taken() {
    let fleet = demo();
    let servo = json!({"id": fresh(1), "tag": "SV08-B011", "part": "#parts:SV08", "mass_g": 10.4, "state": "serviceable"});
    refused(&fleet, "components", servo, "tag_taken", "/tag");
}

#[test]
fn a_panel_without_a_seat_and_a_servo_with_one() {
    let fleet = demo();
    let panel = json!({"id": fresh(1), "tag": "PN-L-90", "part": "#parts:PNL", "mass_g": 117.0, "state": "serviceable"});
    refused(&fleet, "components", panel, "seat_code", "/seat");
    let servo = json!({"id": fresh(1), "tag": "SV08-C090", "part": "#parts:SV08", "seat": "X", "mass_g": 10.4, "state": "serviceable"});
    refused(&fleet, "components", servo, "seat_code", "/seat");
}

#[test]
fn models_and_their_owners() {
    let fleet = demo();
    let model = |ownership: &str, owner: serde_json::Value| json!({"id": fresh(1), "tag": "SG-90", "design": "#designs:SEDGEWING-39", "ownership": ownership, "owner": owner, "first_flight_on": "2026-05-01"});
    allowed(&fleet, "models", model("member", json!("#members:AV")));
    refused(&fleet, "models", model("member", json!(null)), "owner_missing", "/owner");
    refused(&fleet, "models", model("club", json!("#members:AV")), "owner_of_club_model", "/owner");
}

#[test]
fn a_design_cannot_lose_a_position_that_holds_a_part() {
    let fleet = demo();
    let design = fleet.design(DesignId(id(&fleet, Noun::Designs, "TOSSEL-15"))).unwrap().fact.clone();
    assert_eq!(check(&fleet, &Fact::Design(design.clone()), at(NOW)), []);
    let mut without_pack = design.clone();
    without_pack.positions.retain(|position| position.path.as_str() != "PK");
    let broken = check(&fleet, &Fact::Design(without_pack), at(NOW));
    let texts: Vec<&str> = broken.iter().map(|rule| rule.text.as_str()).collect();
    assert_eq!(
        texts,
        [
            "`PK` holds PK-TS-01 and cannot go: take the part out first",
            "`PK` holds PK-TS-03 and cannot go: take the part out first"
        ]
    );
    let mut twice = design;
    twice.positions.push(twice.positions[0].clone());
    assert_eq!(check(&fleet, &Fact::Design(twice), at(NOW))[0].code, "position_twice");
}

#[test]
fn a_loop_in_the_position_tree() {
    let fleet = demo();
    let mut design = fleet.design(DesignId(id(&fleet, Noun::Designs, "SEDGEWING-39"))).unwrap().fact.clone();
    let centre = design.positions.iter().position(|position| position.path.as_str() == "W.C").unwrap();
    design.positions[centre].inside = design.positions[centre].seat.clone();
    let codes: Vec<&str> =
        check(&fleet, &Fact::Design(design), at(NOW)).iter().map(|rule| rule.code).collect();
    assert!(codes.contains(&"position_loop"), "{codes:?}");
}

#[test]
fn a_programme_whose_limits_stand_in_the_wrong_order() {
    let fleet = demo();
    let mut programme =
        fleet.programme(ProgrammeId(id(&fleet, Noun::Programmes, "STANDARD"))).unwrap().fact.clone();
    assert_eq!(check(&fleet, &Fact::Programme(programme.clone()), at(NOW)), []);
    let item = programme.items.iter_mut().find(|item| item.code.as_str() == "N25-02").unwrap();
    let limit = &mut item.limits[0];
    (limit.watch, limit.ground) = (limit.ground, limit.watch);
    let codes: Vec<&str> =
        check(&fleet, &Fact::Programme(programme), at(NOW)).iter().map(|rule| rule.code).collect();
    assert_eq!(codes, ["limits_out_of_order"]);
}

#[test]
fn a_member_without_a_role() {
    let said = said(&demo(), "members", json!({"id": fresh(1), "tag": "XX", "roles": []}));
    assert_eq!(said, [("no_role", "/roles".to_owned())]);
}

#[test]
fn a_tolerance_as_long_as_its_interval() {
    let fleet = demo();
    let programme =
        fleet.programme(ProgrammeId(id(&fleet, Noun::Programmes, "STANDARD"))).unwrap().fact.clone();
    let codes = |change: fn(&mut preen_domain::facts::Group)| {
        let mut programme = programme.clone();
        change(programme.groups.iter_mut().find(|group| group.code.as_str() == "N25").unwrap());
        let broken = check(&fleet, &Fact::Programme(programme), at(NOW));
        broken.into_iter().map(|rule| rule.code).collect::<Vec<_>>()
    };
    assert_eq!(codes(|group| group.tolerance_count = 25), ["tolerance_too_long"]);
    assert_eq!(codes(|group| group.tolerance_days = 60), ["tolerance_too_long"]);
    assert_eq!(codes(|group| group.every_count = Some(0)), ["out_of_range", "tolerance_too_long"]);
    assert_eq!(codes(|group| group.every_months = Some(2)), ["two_calendars"]);
}
