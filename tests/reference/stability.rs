//! Neutral point and static margin: lift slopes and the worked example.

use preen_domain::formulas::stability::{WingAndTail, neutral_point, static_margin_percent};

use crate::close::close;

const WORKED: WingAndTail = WingAndTail {
    wing_area_dm2: 70.885,
    wing_aspect_ratio: 21.457,
    mac_mm: 193.7,
    wing_centre_x_mm: 65.1,
    tail_area_dm2: 5.9,
    tail_span_mm: 560.0,
    tail_centre_x_mm: 1072.0,
};

#[test]
fn neutral_point_of_the_worked_example() {
    // Worked example, computed independently.
    let estimate = neutral_point(&WORKED).expect("a wing and a tail");
    close("wing lift slope", estimate.wing_lift_slope_per_rad, 5.75, 0.005);
    close("tail lift slope", estimate.tail_lift_slope_per_rad, 4.57, 0.005);
    close("downwash", estimate.downwash_slope, 0.171, 0.0005);
    close("neutral point", estimate.neutral_x_mm, 115.0, 0.05);
    close("tail volume", estimate.tail_volume, 0.433, 0.0005);
    // The tail's share k of the worked example, from x_np = (x_ac + k·x_act)/(1 + k).
    let from_wing = estimate.neutral_x_mm - WORKED.wing_centre_x_mm;
    let share = from_wing / (WORKED.tail_centre_x_mm - estimate.neutral_x_mm);
    close("the tail's share", share, 0.0521, 0.00005);
    let margin = static_margin_percent(estimate.neutral_x_mm, 96.5156, WORKED.mac_mm).expect("a MAC");
    close("static margin", margin, 9.5, 0.05);
}

#[test]
fn lift_slope_of_a_very_long_wing_is_that_of_the_section() {
    // Thin aerofoil: 2π per radian, 0.10966227 per degree (Stanford AA208 notes print .1096).
    let endless = WingAndTail { wing_aspect_ratio: 1e9, ..WORKED };
    let slope = neutral_point(&endless).expect("a wing and a tail").wing_lift_slope_per_rad;
    close("per radian", slope, std::f64::consts::TAU, 1e-4);
    close("per degree", slope.to_radians(), 0.109_662_27, 1e-6);
}

#[test]
fn static_margin_in_fractions_of_the_chord() {
    // Own numbers, computed: neutral point 0.441369434 and CG 0.36 of the MAC.
    close("margin", static_margin_percent(0.441_369_434, 0.36, 1.0).expect("a MAC"), 8.136_943_4, 1e-6);
}

#[test]
fn approximate_neutral_point_without_the_tails_share_below_the_line() {
    // h_n = h_ac + V·η·(a_t/a_w)·(1 − dε/dα), own numbers, computed: 0.441369434. With the tail's share of the lift in
    // the denominator, as here, the same tail moves the neutral point less.
    let (volume, slopes, downwash) = (0.42, 4.1 / 5.3, 0.38);
    let approximate = 0.25 + volume * 0.95 * slopes * (1.0 - downwash);
    close("approximate", approximate, 0.441_369_434, 1e-8);
    close("its margin", static_margin_percent(approximate, 0.36, 1.0).expect("a MAC"), 8.136_943_4, 1e-6);
    let estimate = neutral_point(&WORKED).expect("a wing and a tail");
    let ratio = estimate.tail_lift_slope_per_rad / estimate.wing_lift_slope_per_rad;
    let shift = estimate.tail_volume * 0.95 * ratio * (1.0 - estimate.downwash_slope);
    let ours = (estimate.neutral_x_mm - WORKED.wing_centre_x_mm) / WORKED.mac_mm;
    let share = 0.95 * ratio * (1.0 - estimate.downwash_slope) * WORKED.tail_area_dm2 / WORKED.wing_area_dm2;
    close("both forms", ours * (1.0 + share), shift, 1e-9);
}
