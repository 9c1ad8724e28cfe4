//! What the exchange of a part type across the fleet would do, by hand and beside the plan of each model.

use preen_domain::{
    answers::{BalanceExchange, Exchange, Method, ModelExchange, SwapRequest, exchange_of_type, plan_swap},
    facts::{Component, Fact, Noun, Part},
    fleet::{Club, Fleet},
    formulas::balance::MassAndCg,
    ids::{ClubId, ComponentId, InstallationId, RemovalId},
    words::{ComponentState, RemovalReason},
};
use preen_tests::demo_fleet::{NOW, add, at, demo, member, moment, part};
use serde_json::{Value, json};
use uuid::Uuid;

fn close(got: f64, wanted: f64, within: f64) {
    assert!((got - wanted).abs() <= within, "{got} is not within {within} of {wanted}");
}

fn id(number: u128) -> Uuid {
    Uuid::from_u128(0x0197_0a3b_0000_7000_8000_0000_0000_0000 + number)
}

/// A model with a panel of 300 g at x 100, and servos of type OLD of 10 g and 11 g at x 50, 400 mm left and right.
fn small_club() -> Fleet {
    let mut fleet = Fleet::new(Club {
        id: ClubId(id(1)),
        tag: "small".parse().unwrap(),
        title: "Small".to_owned(),
        zone: "Europe/London".parse().unwrap(),
    });
    let mut put = |noun: Noun, json: Value| add(&mut fleet, Fact::from_json(noun, json).unwrap());
    let seat = |path: &str, accepts: &str, x_mm: f64, y_mm: f64| {
        json!({"path": path, "name": path, "kind": accepts, "accepts": accepts, "is_required": true,
               "x_mm": x_mm, "y_mm": y_mm, "z_mm": 0.0})
    };
    put(
        Noun::Designs,
        json!({"id": id(10), "tag": "PLANK", "datum": "root leading edge", "span_m": 1.5, "wing_area_dm2": 30.0,
               "tail_area_dm2": 0.0, "mac_mm": 200.0, "mac_leading_edge_x_mm": 0.0, "cg_min_mm": 96.0, "cg_max_mm": 110.0,
               "positions": [seat("P", "panel", 100.0, 0.0), seat("SL", "servo", 50.0, -400.0),
                             seat("SR", "servo", 50.0, 400.0)]}),
    );
    for (number, tag, kind, mass_g) in
        [(20, "PANEL", "panel", 0.0), (21, "OLD", "servo", 10.0), (22, "NEW", "servo", 14.0)]
    {
        put(
            Noun::Parts,
            json!({"id": id(number), "tag": tag, "kind": kind, "tracking": "serial", "nominal_mass_g": mass_g}),
        );
    }
    put(
        Noun::Models,
        json!({"id": id(30), "tag": "M-1", "ownership": "club", "design": id(10), "first_flight_on": "2025-01-01"}),
    );
    for (number, part, path, mass_g) in [(40, 20, "P", 300.0), (41, 21, "SL", 10.0), (42, 21, "SR", 11.0)] {
        put(
            Noun::Components,
            json!({"id": id(number), "tag": format!("C-{number}"), "part": id(part), "mass_g": mass_g,
                   "state": "serviceable"}),
        );
        put(
            Noun::Installations,
            json!({"id": id(number + 10), "component": id(number), "inside": {"model": id(30)}, "position": path,
                   "occurred_at": "2025-01-01T08:00:00Z", "is_start_of_record": true}),
        );
    }
    fleet
}

fn part_of(fleet: &Fleet, tag: &str) -> Part {
    fleet.part(part(fleet, tag)).unwrap().fact.clone()
}

fn only_model(fleet: &Fleet) -> (ModelExchange, BalanceExchange) {
    let (off, on) = (part_of(fleet, "OLD"), part_of(fleet, "NEW"));
    let mut answer = exchange_of_type(fleet, &off, &on, moment("2026-05-21"));
    assert_eq!((answer.part.as_str(), answer.with.as_str(), answer.mass_each_g), ("OLD", "NEW", 14.0));
    let row = answer.models.pop().unwrap();
    assert!(answer.models.is_empty());
    let balance = row.balance.clone().unwrap();
    (row, balance)
}

#[test]
fn two_servos_of_a_model_that_was_never_weighed() {
    let (row, balance) = only_model(&small_club());
    // 14 - 10 and 14 - 11 g.
    assert_eq!((row.model.as_str(), row.count, row.unplaced_count), ("M-1", 2, 0));
    close(row.mass_change_g, 7.0, 1e-12);
    assert_eq!(balance.method, Method::List);
    // 300 + 10 + 11 g; (300*100 + 10*50 + 11*50) / 321 = 31050/321; (11*400 - 10*400) / 321 = 400/321.
    let MassAndCg { mass_g, x_mm, y_mm, .. } = balance.before;
    close(mass_g, 321.0, 1e-9);
    close(x_mm, 31_050.0 / 321.0, 1e-9);
    close(y_mm, 400.0 / 321.0, 1e-9);
    // 300 + 28 g; (30000 + 28*50) / 328 = 31400/328; as much left as right.
    let MassAndCg { mass_g, x_mm, y_mm, .. } = balance.after;
    close(mass_g, 328.0, 1e-9);
    close(x_mm, 31_400.0 / 328.0, 1e-9);
    close(y_mm, 0.0, 1e-9);
    close(balance.x_change_mm, 31_400.0 / 328.0 - 31_050.0 / 321.0, 1e-9);
    // 96.73 mm and 95.73 mm, allowed from 96 mm on.
    assert!(balance.was_inside && !balance.range.inside);
    // About the CG: sum of m*y^2 less M*y_cg^2; (10 + 11)*400^2 - 400^2/321, then 28*400^2, in g mm^2.
    let (before, after) = (balance.inertia_before.unwrap(), balance.inertia_after.unwrap());
    close(before.roll_kg_m2, (3_360_000.0 - 160_000.0 / 321.0) / 1e9, 1e-12);
    close(after.roll_kg_m2, 4_480_000.0 / 1e9, 1e-12);
    // The same about y with m*x^2: 300*100^2 + 21*50^2 - 31050^2/321, then 300*100^2 + 28*50^2 - 31400^2/328.
    close(before.pitch_kg_m2, (3_052_500.0 - 31_050.0_f64.powi(2) / 321.0) / 1e9, 1e-12);
    close(after.pitch_kg_m2, (3_070_000.0 - 31_400.0_f64.powi(2) / 328.0) / 1e9, 1e-12);
}

#[test]
fn a_weighing_is_what_the_exchange_starts_from() {
    let mut fleet = small_club();
    let weighing = json!({"id": id(60), "model": id(30), "occurred_at": "2025-02-01T08:00:00Z", "mass_g": 400.0,
                          "x_mm": 90.0, "u_x_mm": 0.2});
    add(&mut fleet, Fact::from_json(Noun::Weighings, weighing).unwrap());
    let (_, balance) = only_model(&fleet);
    assert_eq!(balance.method, Method::LastWeighing);
    assert_eq!((balance.before.mass_g, balance.before.x_mm), (400.0, 90.0));
    // (400*90 + 7*50) / 407; sideways from the list: (400 * 400/321 - 4*400 + 3*400) / 407.
    close(balance.after.mass_g, 407.0, 1e-9);
    close(balance.after.x_mm, 36_350.0 / 407.0, 1e-9);
    close(balance.after.y_mm, (400.0 * 400.0 / 321.0 - 400.0) / 407.0, 1e-9);
    assert!(!balance.was_inside);
}

#[test]
fn a_model_without_such_parts_is_left_out() {
    let mut fleet = small_club();
    let (off, on) = (part_of(&fleet, "NEW"), part_of(&fleet, "OLD"));
    assert!(exchange_of_type(&fleet, &off, &on, moment("2026-05-21")).models.is_empty());
    let sold = json!({"id": id(61), "model": id(30), "kind": "sold", "occurred_at": "2025-03-01T08:00:00Z"});
    add(&mut fleet, Fact::from_json(Noun::Events, sold).unwrap());
    assert!(exchange_of_type(&fleet, &on, &off, moment("2026-05-21")).models.is_empty());
}

#[test]
fn it_is_what_the_plan_of_each_model_of_the_demo_says() {
    let fleet = demo();
    let mut compared = 0;
    for (off, on) in [("SV06", "SV06M"), ("SV06M", "SV06"), ("PK3S900", "PK2S1500"), ("RX7", "RX7")] {
        let (off, on) = (part_of(&fleet, off), part_of(&fleet, on));
        for row in exchange_of_type(&fleet, &off, &on, moment("2026-05-21")).models {
            let model = preen_tests::demo_fleet::model(&fleet, &row.model);
            let mut with_spares = fleet.clone();
            let mut exchanges = Vec::new();
            let fitted = fleet.fitted(model, at(NOW));
            let off_parts =
                fitted.iter().filter(|fitted| fleet.component_data(fitted.id).unwrap().part == off.id);
            for (number, fitted) in (0..).zip(off_parts) {
                let spare = ComponentId(id(900 + number));
                let like = fleet.component_data(fitted.id).unwrap().clone();
                add(
                    &mut with_spares,
                    Component {
                        id: spare,
                        tag: format!("SPARE-{number}").parse().unwrap(),
                        part: on.id,
                        mass_g: on.nominal_mass_g,
                        state: ComponentState::Serviceable,
                        ..like
                    },
                );
                exchanges.push(Exchange {
                    path: fitted.path.clone(),
                    on: spare,
                    installation: InstallationId(id(1_000 + number)),
                    removal: RemovalId(id(1_100 + number)),
                    reason: RemovalReason::Preventive,
                    note: None,
                });
            }
            assert_eq!(exchanges.len(), row.count, "{}", row.model);
            let request = SwapRequest { occurred_at: at(NOW), done_by: None, exchanges };
            let Ok(plan) = plan_swap(&with_spares, model, &request, member(&fleet, "FS"), at(NOW)) else {
                continue;
            };
            let (balance, planned) = (row.balance.unwrap(), plan.answer);
            let (before, after, delta) =
                (planned.before.unwrap(), planned.after.unwrap(), planned.delta.unwrap());
            close(row.mass_change_g, delta.mass_g, 1e-9);
            for (got, wanted) in [(balance.before, before), (balance.after, after)] {
                close(got.mass_g, wanted.mass_g, 1e-9);
                close(got.x_mm, wanted.x_mm, 1e-9);
                close(got.y_mm, wanted.y_mm, 1e-9);
                close(got.z_mm, wanted.z_mm, 1e-9);
            }
            let percents = [delta.roll_inertia_pct, delta.pitch_inertia_pct, delta.yaw_inertia_pct];
            for (got, wanted) in balance.inertia_percent().into_iter().zip(percents) {
                assert_eq!(got.is_some(), wanted.is_some());
                close(got.unwrap_or(0.0), wanted.unwrap_or(0.0), 1e-9);
            }
            assert_eq!(Some(balance.range), planned.range);
            compared += 1;
        }
    }
    assert!(compared > 5, "{compared} compared");
}
