//! Moments of inertia of the worked example's mass list; all worked examples, computed independently.

use preen_domain::formulas::balance::PointItem;
use preen_domain::formulas::inertia::{Inertia, inertia, inertia_after, inertia_change};
use preen_domain::formulas::swap::MassChange;

use crate::close::close;
use crate::mass_list::{rows, rows_with};

fn of(items: &[PointItem]) -> Inertia {
    inertia(items).expect("a list with mass")
}

#[test]
fn moments_about_the_cg() {
    let about = of(&rows());
    close("roll", about.roll_kg_m2, 0.6716, 5e-5);
    close("pitch", about.pitch_kg_m2, 0.0868, 5e-5);
    close("yaw", about.yaw_kg_m2, 0.7550, 5e-5);
}

#[test]
fn points_alone_would_miss_a_fifth_of_the_roll() {
    let points: Vec<PointItem> =
        rows().into_iter().map(|row| PointItem { own_span_mm: 0.0, ..row }).collect();
    close("roll, points only", of(&points).roll_kg_m2, 0.5287, 5e-5);
    let change = inertia_change(&of(&rows()), &of(&points));
    close("against own spans", change.roll_percent.expect("some roll"), -21.0, 0.5);
}

#[test]
fn heavier_servos_count_by_their_place() {
    let before = of(&rows());
    let change = |part, mass_g| inertia_change(&before, &of(&rows_with(part, mass_g)));

    let tail = change("elevator servo", 8.1);
    close("tail servo, pitch", tail.pitch_percent.expect("some pitch"), 1.73, 0.005);
    close("tail servo, yaw", tail.yaw_percent.expect("some yaw"), 0.20, 0.005);
    let heavier = of(&rows_with("elevator servo", 8.1));
    close("tail servo, pitch", heavier.pitch_kg_m2 - before.pitch_kg_m2, 0.00150, 5e-6);

    let flaps = change("flap servo", 11.8).roll_percent.expect("some roll");
    let ailerons = change("aileron servo", 11.8).roll_percent.expect("some roll");
    close("flap pair, roll", flaps, 0.004, 0.0005);
    close("aileron pair, roll", ailerons, 0.58, 0.005);
    close("one against the other", ailerons / flaps, 150.0, 5.0);
}

#[test]
fn a_change_at_a_place_is_a_heavier_row_there() {
    let servo = MassChange { mass_change_g: 8.1 - 6.2, x_mm: 985.0, y_mm: 0.0, z_mm: 25.0 };
    let changed = inertia_after(&rows(), &[servo]).expect("a list with mass");
    let heavier = of(&rows_with("elevator servo", 8.1));
    close("roll", changed.roll_kg_m2, heavier.roll_kg_m2, 1e-12);
    close("pitch", changed.pitch_kg_m2, heavier.pitch_kg_m2, 1e-12);
    close("yaw", changed.yaw_kg_m2, heavier.yaw_kg_m2, 1e-12);
}
