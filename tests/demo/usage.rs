//! The fleet table of the demo, counted from its tables by plain loops.

use preen_api::demo;
use preen_domain::facts::Fact;

/// Model, flights, launches, air h, motor s, rigging cycles as the club knows them on 2026-05-21.
const FLEET: [(&str, u32, u32, f64, u32, u32); 12] = [
    ("SG-01", 271, 271, 48.6, 6013, 68),
    ("SG-02", 123, 123, 20.8, 2729, 41),
    ("SG-03", 319, 319, 56.2, 6934, 77),
    ("SG-04", 239, 239, 41.4, 5387, 61),
    ("SG-05", 300, 300, 52.7, 6538, 81),
    ("SG-06", 199, 199, 35.5, 4273, 61),
    ("MP-01", 175, 175, 38.9, 0, 58),
    ("MP-02", 121, 121, 26.5, 0, 43),
    ("MP-03", 98, 98, 21.2, 0, 32),
    ("TS-01", 100, 1211, 36.2, 0, 69),
    ("TS-02", 56, 664, 21.6, 0, 34),
    ("TS-03", 60, 741, 22.8, 0, 37),
];

#[test]
fn the_tables_add_up_to_the_fleet_table() {
    let rows = demo::tables::read().unwrap().rows;
    for (tag, flights, launches, airtime_h, motor_s, riggings) in FLEET {
        let model = rows
            .iter()
            .find_map(|row| match &row.fact {
                Fact::Model(model) if model.tag.as_str() == tag => Some(model.id),
                _ => None,
            })
            .unwrap();
        let mut counted = (0, 0, 0.0, 0, 0);
        for row in &rows {
            match &row.fact {
                Fact::Flight(flight) if flight.model == model => {
                    counted.0 += 1;
                    counted.1 += flight.launches;
                    counted.2 += flight.airtime_min / 60.0;
                    counted.3 += flight.motor_s;
                }
                Fact::Rigging(rigging) if rigging.model == model => counted.4 += rigging.cycles,
                _ => {}
            }
        }
        assert_eq!(
            (counted.0, counted.1, counted.3, counted.4),
            (flights, launches, motor_s, riggings),
            "{tag}"
        );
        assert!((counted.2 - airtime_h).abs() <= 0.051, "{tag}: {} h, not {airtime_h} h", counted.2);
    }
}
