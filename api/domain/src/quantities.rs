//! The quantities that the product itself knows: their unit, on which side the trouble lies, whether wear can only move
//! them that way, and between which numbers a reading can lie at all. Others are allowed, each in its own unit.

/// What is known of a quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// Its word in readings and limits.
    pub name: &'static str,
    /// The unit of its readings.
    pub unit: &'static str,
    /// On which side the trouble lies.
    pub trouble: TroubleSide,
    /// Whether wear alone moves it to that side and never back.
    pub only_wears: bool,
    /// Smallest value that a reading can have.
    pub least: f64,
    /// Largest value that a reading can have.
    pub most: f64,
}

/// On which side of a quantity the trouble lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TroubleSide {
    /// It gets worse as it rises.
    High,
    /// It gets worse as it falls.
    Low,
    /// Either way.
    Both,
}

/// What is known of a quantity; `None` for one that the product does not know.
///
/// ```
/// use preen_domain::quantities::quantity;
/// assert_eq!(quantity("lead_slack").map(|known| known.unit), Some("mm"));
/// assert_eq!(quantity("colour"), None);
/// ```
#[must_use]
pub fn quantity(name: &str) -> Option<&'static Quantity> {
    ALL.iter().find(|known| known.name == name)
}

const fn known(
    name: &'static str,
    unit: &'static str,
    trouble: TroubleSide,
    only_wears: bool,
    least: f64,
    most: f64,
) -> Quantity {
    Quantity { name, unit, trouble, only_wears, least, most }
}

use TroubleSide::{Both, High, Low};

/// All of them. The ranges are what the instruments of the trade can show at all (common practice, no source).
pub const ALL: &[Quantity] = &[
    known("servo_free_play", "deg", High, true, 0.0, 30.0),
    known("servo_return_error", "deg", High, false, 0.0, 45.0),
    known("servo_idle_current", "mA", Both, false, 0.0, 2000.0),
    known("servo_idle_current_change", "%", High, false, 0.0, 1000.0),
    known("servo_stall_current", "A", Both, false, 0.0, 30.0),
    known("servo_stall_current_change", "%", High, false, 0.0, 1000.0),
    known("spline_offset", "deg", High, false, 0.0, 30.0),
    known("trailing_edge_play", "mm", High, true, 0.0, 50.0),
    known("trailing_edge_return_error", "mm", High, false, 0.0, 50.0),
    known("neutral_offset", "mm", High, false, 0.0, 50.0),
    known("hinge_force", "N", Both, false, 0.0, 20.0),
    known("hinge_force_left_right", "%", High, false, 0.0, 1000.0),
    known("hole_play", "mm", High, true, 0.0, 3.0),
    known("joiner_clearance_vertical", "mm", High, true, 0.0, 3.0),
    known("joiner_clearance_fore_aft", "mm", High, true, 0.0, 3.0),
    known("joiner_height_loss", "mm", High, true, 0.0, 5.0),
    known("joiner_height_change", "mm", High, false, 0.0, 5.0),
    known("joiner_insertion_force", "N", High, false, 0.0, 300.0),
    known("socket_mouth_step", "mm", High, true, 0.0, 5.0),
    known("tip_rock_total", "mm", High, true, 0.0, 100.0),
    known("panel_gap", "mm", High, false, 0.0, 20.0),
    known("contact_resistance_worst", "mOhm", High, false, 0.0, 1000.0),
    known("contact_withdraw_force", "N", Low, false, 0.0, 100.0),
    known("contact_push_force", "N", High, false, 0.0, 200.0),
    known("lead_slack", "mm", Low, true, 0.0, 500.0),
    known("cover_lift_length", "mm", High, false, 0.0, 500.0),
    known("cover_arm_gap", "mm", Low, false, -10.0, 20.0),
    known("cell_resistance", "mOhm", High, false, 0.1, 1000.0),
    known("cell_resistance_ratio", "x new", High, false, 0.1, 50.0),
    known("capacity", "mAh", Low, false, 1.0, 50_000.0),
    known("capacity_of_rated", "%", Low, false, 0.0, 150.0),
    known("storage_drop_30d", "mV", High, false, -500.0, 4200.0),
    known("storage_drop_odd_cell", "mV", High, false, 0.0, 4200.0),
    known("storage_cell_voltage", "V", Both, false, 0.0, 4.5),
    known("lowest_cell_voltage", "V", Low, false, 0.0, 4.5),
    known("pack_temperature", "degC", High, false, -30.0, 150.0),
    known("plug_temperature", "degC", High, false, -30.0, 200.0),
    known("pack_movement", "mm", High, false, 0.0, 100.0),
    known("motor_radial_play", "mm", High, true, 0.0, 3.0),
    known("motor_shaft_runout", "mm", High, false, 0.0, 5.0),
    known("motor_stop_time", "s", High, false, 0.0, 60.0),
    known("gearbox_backlash", "deg", High, true, 0.0, 45.0),
    known("pivot_end_play", "mm", High, true, 0.0, 5.0),
    known("blade_nick", "mm", High, false, 0.0, 50.0),
    known("receiver_minimum_voltage", "V", Low, false, 0.0, 20.0),
    known("supply_drop", "V", High, false, 0.0, 20.0),
    known("supply_spare", "%", Low, false, -500.0, 100.0),
    known("travel_spare", "%", Low, false, -100.0, 100.0),
    known("dent_depth", "mm", High, false, 0.0, 50.0),
    known("dent_length", "mm", High, false, 0.0, 1000.0),
    known("lifted_tape_length", "mm", High, false, 0.0, 2000.0),
    known("void_length", "mm", High, false, 0.0, 1000.0),
    known("tip_deflection_change", "%", High, false, -100.0, 500.0),
    known("tip_deflection_left_right", "%", High, false, 0.0, 500.0),
    known("twist_change", "%", High, false, -100.0, 500.0),
    known("tail_alignment", "mm", High, false, 0.0, 200.0),
    known("tail_incidence_change", "deg", High, false, 0.0, 20.0),
    known("throw_difference", "%", High, false, 0.0, 200.0),
    known("throw_left_right", "mm", High, false, 0.0, 100.0),
    known("list_mass_difference", "g", High, false, -5000.0, 5000.0),
    known("list_cg_difference", "mm", High, false, -500.0, 500.0),
    known("cg_outside_range", "mm", High, false, 0.0, 500.0),
    known("tip_mass_difference", "g", High, false, 0.0, 500.0),
    known("altimeter_difference", "m", High, false, 0.0, 200.0),
    known("slug_mass_difference", "g", High, false, 0.0, 100.0),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_stands_once_and_can_have_a_value() {
        for (index, one) in ALL.iter().enumerate() {
            assert!(one.least < one.most, "{}", one.name);
            assert!(ALL.iter().skip(index + 1).all(|other| other.name != one.name), "{} twice", one.name);
            assert!(!(one.only_wears && one.trouble == Both), "{}: wear has one way", one.name);
        }
    }
}
