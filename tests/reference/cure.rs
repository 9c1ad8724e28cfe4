//! Times of cure, as a builder's table gives them: from memory; the data sheet of the resin wins.

use preen_domain::formulas::cure::{CureError, Resin, SOURCE, cure};

use crate::close::close;

#[test]
fn the_table_of_cures() {
    // Resin, °C, hours until handled and until loaded, whether it may carry structure. From memory.
    let cases = [
        (Resin::FiveMinuteEpoxy, None, 1.0, 24.0, false),
        (Resin::ThirtyMinuteEpoxy, None, 6.0, 24.0, true),
        (Resin::LaminatingEpoxy, Some(20.0), 24.0, 24.0, true),
        (Resin::LaminatingEpoxy, Some(30.0), 12.0, 12.0, true),
        (Resin::Cyanoacrylate, None, 1.0, 1.0, false),
        (Resin::CanopyAdhesive, None, 3.0, 3.0, false),
        (Resin::HingeTape, Some(5.0), 1.0, 1.0, false),
    ];
    for (resin, temperature_c, handle_h, load_h, is_for_structure) in cases {
        let cured = cure(resin, temperature_c).expect("a time");
        close(&format!("{resin} handled"), cured.handle_after_h, handle_h, 1e-9);
        close(&format!("{resin} loaded"), cured.load_after_h, load_h, 1e-9);
        assert_eq!(cured.is_for_structure, is_for_structure, "{resin}");
        assert_eq!(cured.source, SOURCE);
        assert!(cured.source.contains("from memory") && cured.source.contains("data sheet"), "{SOURCE}");
    }
    assert_eq!(cure(Resin::LaminatingEpoxy, Some(14.5)), Err(CureError::TooCold(14.5)));
}
