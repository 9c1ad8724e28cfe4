//! Mass and balance of the demo's models, and what a swap does to them.

use preen_domain::{
    answers::{Exchange, Method, SwapRequest, balance, plan_swap},
    facts::{Fact, Noun},
    fleet::Fleet,
    ids::{InstallationId, RemovalId},
    rules::Broken,
    words::{RemovalReason, Severity},
};
use uuid::Uuid;

use preen_tests::demo_fleet::{NOW, add, at, component, demo, grounds, member, model, verdict};

fn exchange(fleet: &Fleet, path: &str, on: &str, number: u128) -> Exchange {
    Exchange {
        path: path.to_owned(),
        on: component(fleet, on),
        installation: InstallationId(Uuid::from_u128(800 + number)),
        removal: RemovalId(Uuid::from_u128(850 + number)),
        reason: RemovalReason::Preventive,
        note: None,
    }
}

fn swap(
    fleet: &Fleet,
    tag: &str,
    exchanges: Vec<Exchange>,
    when: &str,
) -> Result<preen_domain::answers::SwapPlan, Vec<Broken>> {
    let request = SwapRequest { occurred_at: at(when), done_by: None, exchanges };
    plan_swap(fleet, model(fleet, tag), &request, member(fleet, "FS"), at(NOW))
}

fn close(got: f64, wanted: f64, within: f64) {
    assert!((got - wanted).abs() <= within, "{got} is not within {within} of {wanted}");
}

#[test]
fn balance_of_sg_05_after_its_swap_and_borrowed_tip() {
    let fleet = demo();
    let sg_05 = balance(&fleet, model(&fleet, "SG-05"), at(NOW)).unwrap();
    assert_eq!(sg_05.method, Method::LastWeighing);
    // Off and on since 11 April, by hand from the tables: flap servos 10.36 + 10.42 -> 10.81 + 10.84 g at x 62,
    // elevator servo 6.21 -> 8.12 g at 985, tip 119.22 -> 120.15 g at 107, its servo 10.48 -> 10.47 g at 70.
    let moved = [(0.45, 62.0), (0.42, 62.0), (1.91, 985.0), (0.93, 107.0), (-0.01, 70.0)];
    let mass_g = 1202.5 + moved.iter().map(|(mass_g, _)| mass_g).sum::<f64>();
    let x_mm = (1202.5 * 96.52 + moved.iter().map(|(mass_g, x_mm)| mass_g * x_mm).sum::<f64>()) / mass_g;
    close(sg_05.mass_g, mass_g, 1e-9);
    close(sg_05.x_mm, x_mm, 1e-9);
    close(x_mm, 97.91, 0.005);
    assert!(sg_05.range.inside);
    close(sg_05.nose_weight_g.unwrap(), 3.89, 0.005);
}

#[test]
fn a_repair_on_a_part_that_is_off_adds_nothing() {
    let fleet = demo();
    let sg_05 = balance(&fleet, model(&fleet, "SG-05"), at(NOW)).unwrap();
    assert!(sg_05.changes.iter().all(|change| change.what != "RE-013"), "the rebuilt tip is on the bench");
    let mp_03 = balance(&fleet, model(&fleet, "MP-03"), at(NOW)).unwrap();
    let boom = mp_03.changes.iter().find(|change| change.what == "RE-014").unwrap();
    assert_eq!((boom.mass_change_g, boom.x_mm), (7.5, 360.0));
    close(mp_03.x_mm, (2104.0 * 99.8 + 7.5 * 360.0) / 2111.5, 1e-9);
}

#[test]
fn a_held_servo_of_a_forbidden_batch_is_refused() {
    let fleet = demo();
    let broken =
        swap(&fleet, "SG-04", vec![exchange(&fleet, "W.C/FS.L", "SV08-B016", 1)], "2026-05-21T07:30:00Z")
            .unwrap_err();
    let codes: Vec<&str> = broken.iter().map(|rule| rule.code).collect();
    assert_eq!(codes, ["not_serviceable", "batch_forbidden"]);
    assert!(broken[0].text.contains("held"), "{}", broken[0].text);
    assert!(broken[1].text.contains("CA-2026-1 forbids SV08/B at a flap servo"), "{}", broken[1].text);
}

#[test]
fn a_servo_of_the_new_batch_is_accepted_and_opens_the_swap_check() {
    let mut fleet = demo();
    let plan =
        swap(&fleet, "SG-04", vec![exchange(&fleet, "W.C/FS.L", "SV08-C004", 1)], "2026-05-21T07:30:00Z")
            .unwrap();
    let answer = &plan.answer;
    assert_eq!(answer.checks_opened, ["SW"]);
    let (before, after, delta) = (answer.before.unwrap(), answer.after.unwrap(), answer.delta.unwrap());
    close(delta.mass_g, 10.86 - 10.36, 1e-9);
    close(after.x_mm, (before.mass_g * before.x_mm + 0.5 * 62.0) / (before.mass_g + 0.5), 1e-9);
    close(after.y_mm, (before.mass_g * before.y_mm + 0.5 * -95.0) / (before.mass_g + 0.5), 1e-9);
    assert!(answer.range.unwrap().inside);
    for fact in plan.facts {
        add(&mut fleet, fact);
    }
    let after = verdict(&fleet, "SG-04", "2026-05-23");
    assert!(grounds(&after).contains(&("swap_unchecked", "SV08-C004")));
    assert!(
        after.reasons.iter().all(|reason| reason.code != "campaign_limit"),
        "nothing of batch B is left in it"
    );
}

#[test]
fn swapping_back_restores_mass_and_balance() {
    let mut fleet = demo();
    let before = balance(&fleet, model(&fleet, "SG-06"), at(NOW)).unwrap();
    let there =
        swap(&fleet, "SG-06", vec![exchange(&fleet, "W.C/FS.L", "SV08-C004", 1)], "2026-05-21T07:00:00Z")
            .unwrap();
    there.facts.into_iter().for_each(|fact: Fact| add(&mut fleet, fact));
    let between = balance(&fleet, model(&fleet, "SG-06"), at(NOW)).unwrap();
    assert_ne!((between.mass_g, between.x_mm), (before.mass_g, before.x_mm));
    let back =
        swap(&fleet, "SG-06", vec![exchange(&fleet, "W.C/FS.L", "SV08-A004", 2)], "2026-05-21T07:10:00Z")
            .unwrap();
    back.facts.into_iter().for_each(|fact: Fact| add(&mut fleet, fact));
    let after = balance(&fleet, model(&fleet, "SG-06"), at(NOW)).unwrap();
    assert_eq!(
        (after.mass_g, after.x_mm, after.y_mm, after.z_mm),
        (before.mass_g, before.x_mm, before.y_mm, before.z_mm)
    );
}

#[test]
fn a_pack_does_not_open_the_swap_check() {
    let fleet = demo();
    let plan =
        swap(&fleet, "SG-03", vec![exchange(&fleet, "F/PK", "PK-SP-01", 1)], "2026-05-21T07:30:00Z").unwrap();
    assert_eq!(plan.answer.checks_opened, Vec::<String>::new());
}

#[test]
fn a_part_in_another_model_is_not_taken_from_it() {
    let fleet = demo();
    let broken =
        swap(&fleet, "SG-04", vec![exchange(&fleet, "W.C/FS.L", "SV08-C002", 1)], "2026-05-21T07:30:00Z")
            .unwrap_err();
    assert_eq!(broken[0].code, "component_elsewhere");
    let broken =
        swap(&fleet, "SG-04", vec![exchange(&fleet, "W.C/FS.X", "SV08-C004", 1)], "2026-05-21T07:30:00Z")
            .unwrap_err();
    assert_eq!(broken[0].code, "nothing_there");
    let broken =
        swap(&fleet, "SG-04", vec![exchange(&fleet, "F/PK", "SV08-C004", 1)], "2026-05-21T07:30:00Z")
            .unwrap_err();
    assert_eq!(broken[0].code, "does_not_fit");
}

#[test]
fn small_moves_that_nobody_weighed_add_up_and_a_weighing_clears_them() {
    let mut fleet = demo();
    let sg_05 = balance(&fleet, model(&fleet, "SG-05"), at(NOW)).unwrap();
    // By hand from the tables as above: each place by the size of its own move, over the mass now.
    let moved: [(f64, f64); 5] = [(0.45, 62.0), (0.42, 62.0), (1.91, 985.0), (0.93, 107.0), (-0.01, 70.0)];
    let all = moved.iter().map(|(mass_g, x_mm)| (mass_g * (x_mm - 96.52)).abs()).sum::<f64>();
    close(sg_05.moves_since_weighing_mm.unwrap(), all / sg_05.mass_g, 1e-9);
    assert!(sg_05.moves_since_weighing_mm > sg_05.moved_since_weighing_mm);
    // MP-03: +0.92 mm by repair material alone stays below the limit.
    let mp_03 = balance(&fleet, model(&fleet, "MP-03"), at(NOW)).unwrap();
    close(mp_03.moves_since_weighing_mm.unwrap(), 0.925, 0.005);
    let asks = |fleet: &Fleet, tag: &str, when: &str| {
        let balanced = balance(fleet, model(fleet, tag), at(when)).unwrap();
        balanced.findings.into_iter().find(|finding| finding.code == "unweighed_moves")
    };
    assert_eq!(asks(&fleet, "MP-03", NOW), None);
    // A lead in the nose and one in the fin that balance each other: nothing net, but nobody weighed it.
    let lead = |number: u128, mass_g: f64, x_mm: f64| -> Fact {
        let known = preen_domain::ids::RepairId(preen_tests::demo_fleet::id(&fleet, Noun::Repairs, "RE-014"));
        let mut repair = fleet.repair(known).unwrap().repair.clone().unwrap().fact;
        repair.id = preen_domain::ids::RepairId(Uuid::from_u128(870 + number));
        repair.tag = None;
        repair.model = model(&fleet, "MP-03");
        repair.components = Vec::new();
        repair.occurred_at = at("2026-05-21T07:00:00Z");
        (repair.material_mass_g, repair.x_mm) = (mass_g, x_mm);
        Fact::Repair(repair)
    };
    let (nose, fin) = (lead(1, 0.25, mp_03.x_mm - 400.0), lead(2, 0.25, mp_03.x_mm + 400.0));
    add(&mut fleet, nose);
    add(&mut fleet, fin);
    let then = balance(&fleet, model(&fleet, "MP-03"), at(NOW)).unwrap();
    close(then.x_mm, mp_03.x_mm, 0.001);
    let finding = asks(&fleet, "MP-03", NOW).expect("one millimetre in all");
    assert_eq!((finding.severity, finding.clear_by.as_str()), (Severity::Watch, "weigh the model"));
    assert!(finding.text.contains("add up to 1.02 mm by calculation, +0.92 mm net"), "{}", finding.text);
    // What it asks for clears it.
    let mut weighing =
        fleet.model(model(&fleet, "MP-03")).unwrap().weighings.last_until(at(NOW)).unwrap().fact.clone();
    weighing.id = preen_domain::ids::WeighingId(Uuid::from_u128(880));
    weighing.tag = None;
    weighing.occurred_at = at("2026-05-21T07:30:00Z");
    add(&mut fleet, Fact::Weighing(weighing));
    assert_eq!(asks(&fleet, "MP-03", NOW), None);
}

#[test]
fn a_long_part_with_its_own_length_counts_in_pitch_and_yaw() {
    let fleet = demo();
    let sg_04 = model(&fleet, "SG-04");
    let points = balance(&fleet, sg_04, at(NOW)).unwrap();
    // The demo's tables give panels their span and no fuselage a length.
    assert_eq!(points.taken_as_points, ["F"]);
    let mut longer = demo();
    let mut design = longer.design_of(sg_04).unwrap().clone();
    let body = design.positions.iter_mut().find(|position| position.path.as_str() == "F").unwrap();
    body.own_length_mm = 1500.0;
    add(&mut longer, Fact::Design(design));
    let long = balance(&longer, sg_04, at(NOW)).unwrap();
    assert_eq!(long.taken_as_points, Vec::<String>::new());
    let (before, after) = (points.inertia.unwrap(), long.inertia.unwrap());
    let fuselage_g = longer
        .component_data(longer.fitted(sg_04, at(NOW)).iter().find(|fitted| fitted.path == "F").unwrap().id)
        .unwrap()
        .mass_g;
    // By hand: m·l²/12 about pitch and yaw, nothing about roll.
    let own = fuselage_g * 1500.0_f64.powi(2) / 12.0 / 1e9;
    close(after.pitch_kg_m2 - before.pitch_kg_m2, own, 1e-12);
    close(after.yaw_kg_m2 - before.yaw_kg_m2, own, 1e-12);
    assert_eq!(after.roll_kg_m2, before.roll_kg_m2);
    // The same servo then changes pitch by a smaller share.
    let pitch = |fleet: &Fleet| {
        let plan =
            swap(fleet, "SG-04", vec![exchange(fleet, "W.C/FS.L", "SV08-C004", 1)], "2026-05-21T07:30:00Z");
        plan.unwrap().answer.delta.unwrap().pitch_inertia_pct.unwrap()
    };
    assert!(pitch(&longer).abs() < pitch(&fleet).abs(), "{} and {}", pitch(&longer), pitch(&fleet));
}
