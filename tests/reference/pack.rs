//! Packs: resistance at 25 °C, odd cell, sag, capacity, launches, rest, watt-hours and limits of carriers.

use preen_domain::formulas::pack::capacity::{CAPACITY_LIMITS_PCT, LaunchDraw, capacity_left, launches};
use preen_domain::formulas::pack::carriage::{CARRIAGE_RULES, CarriageSubject, judge_carriage, watt_hours};
use preen_domain::formulas::pack::resistance::{RATIO_LIMITS, ReadingUncertainty, pack_resistance};
use preen_domain::formulas::pack::rest::{ODD_DROP_LIMITS_MV, rest_drop};
use preen_domain::formulas::pack::sag::sag;
use preen_domain::words::Severity;

use crate::close::close;

const COLD_MOHM: [f64; 3] = [6.1, 6.3, 8.9];
const NEW_MOHM: [f64; 3] = [4.9, 5.0, 5.0];

#[test]
fn a_pack_measured_cold() {
    // Worked example, computed independently; coefficient from memory. Three bad cells are one weakening cell.
    let none = ReadingUncertainty::default();
    let pack = pack_resistance(&COLD_MOHM, 14.0, &NEW_MOHM, &RATIO_LIMITS, none).expect("computable");
    for (cell, (at_25, ratio)) in pack.cells.iter().zip([(4.91, 1.00), (5.07, 1.01), (7.17, 1.43)]) {
        close("at 25 °C", cell.at_25_mohm, at_25, 0.005);
        close("times new", cell.ratio_to_new.expect("as new given"), ratio, 0.005);
        assert_eq!(cell.class, None);
    }
    assert_eq!(pack.odd_cell, Some(3));
    // Uncorrected, the third cell would have been judged 1.78 times new: watch.
    let uncorrected = pack_resistance(&COLD_MOHM, 25.0, &NEW_MOHM, &RATIO_LIMITS, none).expect("computable");
    assert_eq!(uncorrected.cells[2].class, Some(Severity::Watch));
}

#[test]
fn sag_of_the_worked_example() {
    // Worked example: 32 A from 3.75 V open.
    let cold = sag(&COLD_MOHM, 32.0, 3.75).expect("computable");
    for (sag, expected) in cold.cells_v.iter().zip([0.195, 0.202, 0.285]) {
        close("sag at 14 °C", *sag, expected, 0.0005);
    }
    close("lowest at 14 °C", cold.lowest_cell_v, 3.47, 0.005);
    let none = ReadingUncertainty::default();
    let pack = pack_resistance(&COLD_MOHM, 14.0, &NEW_MOHM, &RATIO_LIMITS, none).expect("computable");
    let at_25: Vec<f64> = pack.cells.iter().map(|cell| cell.at_25_mohm).collect();
    let warm = sag(&at_25, 32.0, 3.75).expect("computable");
    for (sag, expected) in warm.cells_v.iter().zip([0.157, 0.162, 0.229]) {
        close("sag at 25 °C", *sag, expected, 0.0005);
    }
    close("lowest at 25 °C", warm.lowest_cell_v, 3.52, 0.005);
    assert_eq!((cold.lowest_cell, warm.lowest_cell), (3, 3));
}

#[test]
fn capacity_and_launches_of_the_worked_example() {
    // Worked example: 742 of 900 mAh, 20 % reserve, 30 s at 32 A, 70 mAh for receiver and servos.
    let left = capacity_left(742.0, 900.0, &CAPACITY_LIMITS_PCT).expect("computable");
    close("of rated", left.of_rated_pct, 82.4, 0.05);
    assert_eq!(left.class, Some(Severity::Watch));
    let each = LaunchDraw { motor_s: 30.0, motor_a: 32.0, avionics_mah: 70.0 };
    let charge = launches(742.0, 20.0, &each).expect("computable");
    close("usable", charge.usable_mah, 594.0, 0.5);
    close("run", charge.motor_mah, 267.0, 0.5);
    close("launches", charge.exact, 1.76, 0.005);
    assert_eq!(charge.launches, 1, "never rounded up");
}

#[test]
fn a_month_at_rest() {
    // Worked example: 6, 6 and 31 mV in 30 days.
    let drop = rest_drop(&[6.0, 6.0, 31.0], 30.0, &ODD_DROP_LIMITS_MV).expect("computable");
    assert_eq!((drop.odd_cell, drop.odd_mv, drop.class), (Some(3), Some(25.0), Some(Severity::Restrict)));
}

#[test]
fn watt_hours_of_packs() {
    // Definition: nominal voltage × Ah.
    for (volts, mah, expected) in
        [(7.4, 450.0, 3.33), (11.1, 1300.0, 14.43), (14.8, 2200.0, 32.56), (22.2, 5000.0, 111.0)]
    {
        close("Wh", watt_hours(volts, mah).expect("computable"), expected, 1e-12);
    }
}

#[test]
fn limits_of_carriers() {
    // Secondary copies of the carriage rules for lithium batteries by air: 20 Wh a cell (2023, p. 86), 100 Wh a pack
    // without approval (2024, p. 35); IATA packing instruction 965: 30 % charge for packs sent alone (UN 3480).
    let most = |subject| CARRIAGE_RULES.iter().find(|rule| rule.subject == subject).map(|rule| rule.most);
    assert_eq!(most(CarriageSubject::CellEnergy), Some(20.0));
    assert_eq!(most(CarriageSubject::PackEnergy), Some(100.0));
    assert_eq!(most(CarriageSubject::ChargeAlone), Some(30.0));
    let judged = judge_carriage(6, 22.2, 5000.0, Some(50.0)).expect("computable");
    let within: Vec<Option<bool>> = judged.iter().map(|limit| limit.is_within).collect();
    assert_eq!(within, [Some(true), Some(false), Some(false)], "18.5 Wh a cell, 111 Wh, half full");
    assert!(
        judged.iter().all(|limit| !limit.is_confirmed && limit.note.starts_with("confirm before travel"))
    );
    let small = judge_carriage(3, 11.1, 900.0, Some(30.0)).expect("computable");
    assert!(small.iter().all(|limit| limit.is_within == Some(true)));
}
