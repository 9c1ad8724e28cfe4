//! What work does to a part's record: which series of readings it ends, what sanding leaves of a joiner; and seats that
//! name the part types they take.

use preen_domain::{
    answers::{TrendQuestion, component_history, component_trend, findings, repair_sheet},
    facts::{Design, Fact, Noun, Part},
    fleet::Fleet,
    formulas::joiner::{sanding::SandingLife, section::Section},
    ids::{ComponentId, RepairId},
    words::{Severity, State},
};
use preen_tests::demo_fleet::{add, at, component, demo, id, member, model, moment, verdict};
use serde_json::{Value, json};
use uuid::Uuid;

fn fresh(number: u32) -> String {
    Uuid::from_u128(0x0197_0a3c_5d00_7000_8000_0002_0000_0000 + u128::from(number)).to_string()
}

fn enter(fleet: &mut Fleet, noun: &str, body: Value) {
    let fact = Fact::from_json(noun.parse().unwrap(), body).unwrap();
    add(fleet, fact);
}

/// Restarts of one series of a part.
fn restarts(fleet: &Fleet, part: ComponentId, quantity: &str) -> Vec<String> {
    let trend = component_trend(fleet, part, &TrendQuestion::default(), at("2026-05-21T08:00:00Z"));
    trend.series.into_iter().find(|series| series.quantity == quantity).unwrap().restarts
}

#[test]
fn a_series_starts_anew_only_where_the_work_touched_it() {
    // The readings of B002 were made up to 16 May; a repair lies between the last two.
    let work = |kind: &str| {
        let mut fleet = demo();
        let servo = component(&fleet, "SV08-B002");
        let body = json!({"id": fresh(1), "tag": "RE-K", "model": model(&fleet, "SG-01"), "kind": kind, "components": [servo],
                          "occurred_at": "2026-05-01T10:00:00Z", "text": "work", "done_by": member(&fleet, "AV")});
        enter(&mut fleet, "repairs", body);
        restarts(&fleet, servo, "servo_free_play")
    };
    for kind in ["R4", "R7", "R8", "R9"] {
        assert_eq!(work(kind), Vec::<String>::new(), "{kind} leaves the gears of a servo as they were");
    }
    for kind in ["R5", "R6"] {
        let said = work(kind);
        assert!(said.len() == 1 && said[0].starts_with("RE-K"), "{kind}: {said:?}");
    }
    // A re-termination starts the contacts anew, and never the lead that it shortens.
    let fleet = demo();
    let half = component(&fleet, "CF-SG-03-R");
    assert_eq!(restarts(&fleet, half, "lead_slack"), Vec::<String>::new());
}

/// The demo with a section for the joiners of SG-03, and a repair that sands the right one.
fn sanded(depth_mm: f64) -> Fleet {
    let mut fleet = demo();
    let joiner = component(&fleet, "JN-SG-03-R");
    let mut part: Part = fleet.part_of(joiner).unwrap().clone();
    part.section = Some(Section::Box { width_mm: 26.0, height_mm: 12.0, cap_mm: 2.0, web_mm: 1.5 });
    add(&mut fleet, part);
    let bk = member(&fleet, "BK");
    let body = json!({"id": fresh(2), "tag": "RE-J", "model": model(&fleet, "SG-03"), "kind": "R1", "components": [joiner],
                      "occurred_at": "2026-05-20T18:00:00Z", "text": "too tight", "done_by": bk});
    enter(&mut fleet, "repairs", body);
    for number in [3, 4] {
        let half = depth_mm / 2.0;
        let faces = json!({"top_mm": half, "bottom_mm": half, "front_mm": half, "rear_mm": half});
        let body = json!({"id": fresh(number), "repair": fresh(2), "done_by": bk, "joiner": {"sanded": faces},
                          "occurred_at": format!("2026-05-20T18:{number}0:00Z")});
        enter(&mut fleet, "repair-steps", body);
    }
    fleet
}

#[test]
fn sanding_tells_the_loss_of_section_against_the_life_of_each_face() {
    let fleet = sanded(0.10);
    let repair = RepairId(id(&fleet, Noun::Repairs, "RE-J"));
    let sheet = repair_sheet(&fleet, repair, at("2026-05-21T08:00:00Z")).unwrap();
    let [joiner] = &sheet.joiners[..] else { panic!("{:?}", sheet.joiners) };
    assert_eq!((joiner.joiner.as_str(), joiner.life), ("JN-SG-03-R", SandingLife::Within));
    // The worked case: a box of 26 x 12 mm, 0.10 mm off all four faces.
    assert_eq!(format!("{:.2}", joiner.height_mm.unwrap()), "11.80");
    assert_eq!(format!("{:.1}", joiner.z_vertical_change_pct.unwrap()), "-6.1");
    let faces: Vec<(&str, f64, f64, f64)> = joiner
        .faces
        .iter()
        .map(|face| (face.face.as_str(), face.here_mm, face.free_left_mm, face.left_mm))
        .collect();
    assert_eq!(faces[0], ("top", 0.1, 0.0, 0.1));
    assert_eq!(faces.iter().map(|face| face.0).collect::<Vec<_>>(), ["top", "bottom", "front", "rear"]);
    let half = repair_sheet(&fleet, repair, at("2026-05-20T18:35:00Z")).unwrap();
    assert_eq!((half.joiners[0].faces[0].here_mm, half.joiners[0].faces[0].life_mm), (0.05, 0.05));
    let told = component_history(&fleet, component(&fleet, "JN-SG-03-R"), at("2026-05-21T08:00:00Z"));
    let text = told.events.into_iter().map(|event| event.text).collect::<Vec<_>>().join("; ");
    assert!(text.contains("0.10 mm in its life, section modulus -6.1 % vertical and -"), "{text}");
    // More needs an inspector, by the same sum.
    let deep = sanded(0.14);
    let sheet = repair_sheet(&deep, repair, at("2026-05-21T08:00:00Z")).unwrap();
    assert_eq!(sheet.joiners[0].life, SandingLife::InspectorNeeded);
    // Without a section the faces are told all the same.
    let mut plain = sanded(0.10);
    let mut part: Part = plain.part_of(component(&plain, "JN-SG-03-R")).unwrap().clone();
    part.section = None;
    add(&mut plain, part);
    let sheet = repair_sheet(&plain, repair, at("2026-05-21T08:00:00Z")).unwrap();
    assert_eq!((sheet.joiners[0].z_vertical_change_pct, sheet.joiners[0].faces.len()), (None, 4));
    assert!(sheet.joiners[0].note.as_ref().unwrap().contains("has no section"));
}

#[test]
fn a_seat_that_names_its_part_types_takes_no_other() {
    let mut fleet = demo();
    let before = verdict(&fleet, "SG-05", "2026-05-23");
    assert_eq!((before.state, before.may_fly), (State::Fit, true));
    let pack = fleet
        .fitted(model(&fleet, "SG-05"), at("2026-05-21T08:00:00Z"))
        .into_iter()
        .find(|fitted| fitted.path.ends_with("PK"))
        .unwrap()
        .id;
    let own = fleet.part_of(pack).unwrap().clone();
    let other =
        fleet.parts().map(|(_, part)| &part.fact).find(|part| part.kind == own.kind && part.id != own.id);
    let other = other.cloned().unwrap_or_else(|| {
        let mut other = own.clone();
        other.id = fresh(9).parse::<Uuid>().unwrap().into();
        other.tag = "PK-OTHER".parse().unwrap();
        other
    });
    add(&mut fleet, other.clone());
    let takes = |fleet: &mut Fleet, parts: Vec<preen_domain::ids::PartId>| {
        let mut design: Design = fleet.design_of(model(fleet, "SG-05")).unwrap().clone();
        for position in design.positions.iter_mut().filter(|position| position.path.as_str() == "PK") {
            position.parts.clone_from(&parts);
        }
        add(fleet, design);
    };
    takes(&mut fleet, vec![other.id]);
    let now = verdict(&fleet, "SG-05", "2026-05-23");
    let said = now.reasons.iter().find(|reason| reason.code == "part_type_not_taken").unwrap();
    assert_eq!((now.state, said.severity), (State::Grounded, Severity::Ground));
    let tag = fleet.component_tag(pack);
    assert!(
        said.text.ends_with(&format!("takes {} only, {tag} is a {}", other.tag, own.tag)),
        "{}",
        said.text
    );
    assert_eq!(said.clear_by, format!("swap {tag} for one of these, or let the design take {}", own.tag));
    let audit = findings(&fleet, moment("2026-05-21"));
    let found = audit.findings.iter().find(|found| found.finding.code == "part_type_not_taken").unwrap();
    assert_eq!(found.family.as_str(), "seats");
    // The design takes it: the seat is as good as before.
    takes(&mut fleet, vec![other.id, own.id]);
    assert_eq!(verdict(&fleet, "SG-05", "2026-05-23").state, State::Fit);
}
