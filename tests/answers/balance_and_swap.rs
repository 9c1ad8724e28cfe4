//! Mass and balance of the demo's models, and what a swap does to them.

use preen_domain::{
    answers::{Exchange, Method, SwapRequest, balance, plan_swap},
    facts::Fact,
    fleet::Fleet,
    ids::{InstallationId, RemovalId},
    rules::Broken,
    words::RemovalReason,
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
