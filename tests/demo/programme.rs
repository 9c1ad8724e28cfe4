//! The programme that every new club gets: its groups, items and the numbers by which readings are judged.

use preen_api::exchange::programme::default_programme;
use preen_domain::{
    facts::{Limit, Programme},
    words::Severity,
};

fn programme() -> Programme {
    default_programme().unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn it_has_15_groups_and_130_items() {
    let programme = programme();
    assert_eq!((programme.groups.len(), programme.items.len()), (15, 130));
    for item in &programme.items {
        assert!(programme.groups.iter().any(|group| group.code == item.group), "{}", item.code);
    }
    let limits: usize = programme.items.iter().map(|item| item.limits.len()).sum();
    assert_eq!(limits, 81);
}

#[test]
fn limits_of_one_quantity_agree_wherever_it_is_looked_at() {
    let limits: Vec<Limit> = programme().items.into_iter().flat_map(|item| item.limits).collect();
    for limit in &limits {
        for other in limits.iter().filter(|other| {
            (&other.quantity, &other.position_kinds, other.direction)
                == (&limit.quantity, &limit.position_kinds, limit.direction)
        }) {
            assert_eq!(limit, other);
        }
    }
}

#[test]
fn readings_fall_into_their_class() {
    use Severity::{Ground, Restrict, Watch};
    let limits: Vec<Limit> = programme().items.into_iter().flat_map(|item| item.limits).collect();
    // Quantity, kind of position, reading, class. At a limit counts as beyond it, unless the item says
    // "or more" / "or less" (15 N, 5.00 V).
    let cases = [
        ("servo_free_play", "flap servo", 0.79, None),
        ("servo_free_play", "flap servo", 0.8, Some(Watch)),
        ("servo_free_play", "aileron servo", 1.0, Some(Restrict)),
        ("servo_free_play", "flap servo", 1.2, Some(Ground)),
        ("servo_free_play", "V-tail servo", 0.6, Some(Watch)),
        ("servo_free_play", "elevator servo", 1.0, Some(Ground)),
        ("trailing_edge_play", "rudder servo", 1.9, Some(Watch)),
        ("trailing_edge_play", "elevator servo", 1.5, Some(Ground)),
        ("joiner_clearance_vertical", "joiner", 0.101, None),
        ("joiner_clearance_vertical", "joiner", 0.14, Some(Watch)),
        ("contact_resistance_worst", "connector", 22.0, Some(Restrict)),
        ("lead_slack", "connector", 11.0, None),
        ("lead_slack", "connector", 6.0, Some(Watch)),
        ("lead_slack", "connector", 5.0, Some(Restrict)),
        ("capacity_of_rated", "flight pack", 82.4, Some(Watch)),
        ("capacity_of_rated", "flight pack", 67.0, Some(Ground)),
        ("storage_drop_odd_cell", "flight pack", 25.0, Some(Restrict)),
        ("receiver_minimum_voltage", "receiver", 5.0, None),
        ("receiver_minimum_voltage", "receiver", 4.5, Some(Restrict)),
        ("receiver_minimum_voltage", "receiver", 4.49, Some(Ground)),
        ("joiner_insertion_force", "joiner", 15.0, None),
        ("joiner_insertion_force", "joiner", 30.5, Some(Restrict)),
    ];
    for (quantity, kind, reading, class) in cases {
        let worst = limits
            .iter()
            .filter(|limit| limit.quantity.as_str() == quantity)
            .filter(|limit| {
                limit.position_kinds.is_empty() || limit.position_kinds.iter().any(|of| of.as_str() == kind)
            })
            .filter_map(|limit| limit.severity_of(reading))
            .max();
        assert_eq!(worst, class, "{quantity} {reading} at {kind}");
    }
}
