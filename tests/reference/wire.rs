//! Wires, contacts and supply: gauges and tables, drop, smallest gauge, crimps, and the worked examples.

use preen_domain::formulas::wire::choose::{Demand, Stranding, smallest_gauge};
use preen_domain::formulas::wire::contact::{CRIMP_PULL_OFF, CrimpSource, crimp_limit};
use preen_domain::formulas::wire::drop::{Drop, Lead, LeadUncertainty, Running, lead_drop, permitted_drop_v};
use preen_domain::formulas::wire::gauge::{
    Metal, awg_area_mm2, awg_diameter_mm, copper_hot_ratio, copper_mohm_per_m, hot_run_length,
};
use preen_domain::formulas::wire::slack::{KEPT_MM, TAKEN_EACH_MM, halves_from_contacts, slack_left};
use preen_domain::formulas::wire::stranded::{TINNED_STRANDED, WireSource, flexible_area, stranded_awg};
use preen_domain::formulas::wire::supply::{ServoDraw, load_supply};
use preen_domain::words::Severity;

use crate::close::close;

const FOOT_M: f64 = 0.3048;

fn solid_mohm_per_m(awg: i32) -> f64 {
    copper_mohm_per_m(awg_area_mm2(awg).expect("a gauge"), 20.0).expect("a resistance")
}

#[test]
fn gauges_of_the_formula() {
    // ASTM B258, 0.127·92^((36 − n)/39) mm; resistance computed, table values 3.277 … 52.96 Ω/km from memory.
    let check = |awg, mm: f64, mm2: f64, ohm_km: f64| {
        let case = format!("ASTM B258, AWG {awg}");
        close(&case, awg_diameter_mm(awg).expect("a gauge"), mm, 0.0005 * mm);
        close(&case, awg_area_mm2(awg).expect("a gauge"), mm2, 0.0005 * mm2);
        close(&case, solid_mohm_per_m(awg), ohm_km, 0.0005 * ohm_km);
    };
    check(10, 2.5882, 5.2612, 3.277);
    check(12, 2.0525, 3.3088, 5.211);
    check(14, 1.6277, 2.0809, 8.285);
    check(16, 1.2908, 1.3087, 13.174);
    check(18, 1.0237, 0.823, 20.948);
    check(20, 0.8118, 0.5176, 33.308);
    check(22, 0.6438, 0.3255, 52.962);
}

#[test]
fn gauges_of_the_table() {
    // Wire-gauge table (secondary copy): inches rounded to 0.1 mil, times 25.4; unrounded formula beside it.
    let check = |awg, table_mm, formula_mm| {
        let computed = awg_diameter_mm(awg).expect("a gauge");
        close(&format!("gauge table, AWG {awg}"), computed, table_mm, 0.0013);
        close(&format!("formula, AWG {awg}"), computed, formula_mm, 5e-5);
    };
    check(10, 2.5883, 2.5882);
    check(11, 2.3038, 2.3048);
    check(12, 2.0523, 2.0525);
    check(13, 1.8288, 1.8278);
    check(14, 1.6281, 1.6277);
    check(15, 1.4503, 1.4495);
    check(16, 1.2903, 1.2908);
}

#[test]
fn stranded_wire_by_gauge() {
    // FAA AC 43.13-1B with change 1, Table 11-9, p. 11-23: Ω for each 1000 ft at 20 °C, circular mils.
    let printed = [
        (24, 28.4, 475),
        (22, 16.2, 755),
        (20, 9.88, 1216),
        (18, 6.23, 1900),
        (16, 4.81, 2426),
        (14, 3.06, 3831),
        (12, 2.02, 5874),
        (10, 1.26, 9354),
        (8, 0.70, 16983),
        (6, 0.44, 26818),
        (4, 0.28, 42615),
    ];
    assert_eq!(TINNED_STRANDED, printed);
    for (awg, ohm_1000_ft, _) in printed {
        let wire = stranded_awg(awg, 20.0).expect("a gauge of the table");
        close(&format!("Table 11-9, AWG {awg}"), wire.mohm_per_m * FOOT_M, ohm_1000_ft, 1e-9);
        assert_eq!(wire.source, WireSource::TableGreatest);
    }
}

#[test]
fn flexible_wire_by_area() {
    // IEC 60228, class 5, plain copper; 1 to 25 mm² from a cable data file, 0.5 and 0.75 and the attribution from
    // memory.
    for (mm2, ohm_km) in [
        (0.5, 39.0),
        (0.75, 26.0),
        (1.0, 19.5),
        (1.5, 13.3),
        (2.5, 7.98),
        (4.0, 4.95),
        (6.0, 3.3),
        (10.0, 1.91),
        (16.0, 1.21),
        (25.0, 0.78),
    ] {
        let wire = flexible_area(mm2, 20.0).expect("an area of the table");
        assert_eq!((wire.mohm_per_m, wire.source), (ohm_km, WireSource::TableGreatest), "{mm2} mm²");
    }
}

/// Drop of one conductor (structure as return) by the two-way formula: half the length there, half back.
fn one_way_v(ohm_per_ft: f64, feet: f64, current_a: f64) -> f64 {
    let lead = Lead {
        length_m: feet * FOOT_M / 2.0,
        mohm_per_m: 1000.0 * ohm_per_ft / FOOT_M,
        contact_pairs: 0,
        contact_mohm: 0.0,
        current_a,
    };
    lead_drop(&lead, &LeadUncertainty::default()).expect("computable").drop_v
}

#[test]
fn drops_of_the_table() {
    // FAA AC 43.13-1B, Table 11-7, p. 11-22, printed to three figures (the third there, 3.60, is 3.5552 by its own
    // formula: a rounding of the source).
    close("Table 11-7, row 1", one_way_v(0.00044, 107.0, 20.0), 0.9416, 1e-9);
    close("Table 11-7, row 2", one_way_v(0.00028, 90.0, 20.0), 0.504, 1e-9);
    close("Table 11-7, row 3", one_way_v(0.00202, 88.0, 20.0), 3.5552, 1e-9);
    close("Table 11-7, row 4", one_way_v(0.00306, 100.0, 20.0), 6.12, 1e-9);
}

#[test]
fn permitted_drops_of_the_table() {
    // FAA AC 43.13-1B, Table 11-6; the intermittent column from memory.
    for (volts, continuous, intermittent) in
        [(14, 0.5, 1.0), (28, 1.0, 2.0), (115, 4.0, 8.0), (200, 7.0, 14.0)]
    {
        assert_eq!(permitted_drop_v(volts, Running::Continuous), Some(continuous));
        assert_eq!(permitted_drop_v(volts, Running::Intermittent), Some(intermittent));
    }
}

#[test]
fn smallest_gauge_of_the_example() {
    // FAA AC 43.13-1B, para 11-66c, example 1: 28 V continuous, 50 ft, 20 A, 20 °C; between No. 10 and No. 8.
    let demand = Demand {
        length_m: 50.0 * FOOT_M,
        current_a: 20.0,
        max_drop_v: permitted_drop_v(28, Running::Continuous).expect("a row of the table"),
        contacts_v: 0.0,
        conductors: 1,
        temperature_c: 20.0,
    };
    let chosen = smallest_gauge(&demand, Stranding::Stranded).expect("a gauge");
    assert_eq!(chosen.awg, 8);
    close("limit, Ω for each 1000 ft", chosen.limit_mohm_per_m * FOOT_M, 1.0, 1e-9);
}

#[test]
fn run_lengths_of_hot_conductors() {
    // FAA AC 43.13-1B, para 11-66d(4), p. 11-22: formula printed, values computed.
    let check = |case, metal, l1, t2, expected| {
        close(case, hot_run_length(metal, l1, t2).expect("computable"), expected, 1e-4);
    };
    check("copper 60 °C", Metal::Copper, 39.0, 60.0, 33.7029);
    check("copper 105 °C", Metal::Copper, 19.5, 105.0, 14.6178);
    check("copper 20 °C", Metal::Copper, 100.0, 20.0, 100.0);
    check("aluminium 70 °C", Metal::Aluminium, 50.0, 70.0, 41.8858);
    // Its 254.5 stands for a coefficient of 1/254.5 at 20 °C; IEC 60028 gives 0.00393.
    let ratio = 1.0 / hot_run_length(Metal::Copper, 1.0, 105.0).expect("computable");
    close("both ways of heating copper", copper_hot_ratio(105.0).expect("in range"), ratio, 1e-4);
}

#[test]
fn crimps_of_the_table() {
    // UL 486A as given in connector application specifications 114-2157 rev G and 114-2161 rev F (N at 4.45 N/lbf;
    // name of the standard from memory).
    for (awg, newton, pounds) in [
        (26, 13.4, 3.0),
        (24, 22.3, 5.0),
        (22, 35.6, 8.0),
        (20, 57.9, 13.0),
        (18, 89.0, 20.0),
        (16, 133.5, 30.0),
        (14, 222.5, 50.0),
        (12, 311.5, 70.0),
        (10, 356.0, 80.0),
        (8, 400.5, 90.0),
    ] {
        let limit = crimp_limit(awg).expect("a gauge of the table");
        assert_eq!((limit.least_n, limit.source), (newton, CrimpSource::Ul486a));
        close(&format!("N of lbf, AWG {awg}"), newton, 4.45 * pounds, 0.06);
    }
    // Trade values 36, 22, 13, 9 N for AWG 22 to 28, from memory; only that of AWG 28 has no table behind it.
    for (awg, about_n) in [(22, 36.0), (24, 22.0), (26, 13.0), (28, 9.0)] {
        close("trade value", crimp_limit(awg).expect("a gauge of the table").least_n, about_n, 0.5);
    }
    let unsourced = CRIMP_PULL_OFF.iter().filter(|(.., source)| *source == CrimpSource::FromMemory);
    assert_eq!(unsourced.map(|(awg, ..)| *awg).collect::<Vec<_>>(), [28]);
}

#[test]
fn resistances_of_the_worked_example() {
    // Worked example, computed independently.
    for (awg, mohm_per_m) in [(20, 33.3), (22, 53.0), (24, 84.2), (26, 133.9), (28, 212.9)] {
        close(&format!("AWG {awg}"), solid_mohm_per_m(awg), mohm_per_m, 0.05);
    }
}

fn aileron_lead(awg: i32, contact_mohm: f64) -> Drop {
    let mohm_per_m = solid_mohm_per_m(awg);
    let lead = Lead { length_m: 1.35, mohm_per_m, contact_pairs: 3, contact_mohm, current_a: 1.8 };
    lead_drop(&lead, &LeadUncertainty::default()).expect("computable")
}

#[test]
fn drops_of_the_worked_example() {
    // Worked example, computed independently: 1.35 m, three contact pairs, 1.8 A.
    close("AWG 22, 5 mΩ", aileron_lead(22, 5.0).drop_v, 0.311, 0.0005);
    close("AWG 26, 5 mΩ", aileron_lead(26, 5.0).drop_v, 0.705, 0.0005);
    let worn = aileron_lead(26, 20.0);
    close("AWG 26, 20 mΩ", worn.drop_v, 0.867, 0.0005);
    close("left of 6.0 V", 6.0 - worn.drop_v, 5.13, 0.005);
    close("ground lifted", worn.ground_lift_v, 0.43, 0.005);
    close("AWG 28, 20 mΩ", aileron_lead(28, 20.0).drop_v, 1.251, 0.0005);
    close("heat of a 40 mΩ contact", aileron_lead(26, 40.0).contact_heat_w, 0.13, 0.0005);
}

#[test]
fn supply_of_the_worked_example() {
    // Worked example: two flap, two aileron and two tail servos on a 5 A supply, 40 % duty assumed.
    let kind = |stall_a| ServoDraw { count: 2, stall_a };
    let load = load_supply(&[kind(1.8), kind(1.8), kind(0.9)], 0.15, 5.0, 40.0, 25.0).expect("computable");
    close("all stalled", load.all_stalled_a, 9.15, 1e-9);
    close("stirred", load.demand_a, 3.75, 1e-9);
    close("margin", load.margin_pct, 25.0, 1e-9);
    assert!(load.is_enough, "exactly on the rule is enough");
    assert!(!load.holds_all_stalled);
}

#[test]
fn leads_of_the_demo_club() {
    // Worked example: readings of four connectors, each with zero re-terminations left.
    for slack_mm in [6.0, 15.0, 16.0, 11.0] {
        let left = slack_left(slack_mm, KEPT_MM, TAKEN_EACH_MM).expect("computable");
        assert_eq!(left.re_terminations, 0, "{slack_mm} mm");
    }
    // From 27 mm two may be done (20, 13); the third, done all the same, left 6 mm.
    let new = slack_left(27.0, KEPT_MM, TAKEN_EACH_MM).expect("computable");
    assert_eq!((new.re_terminations, new.after_last_mm), (2, 13.0));
    assert_eq!(slack_left(6.0, KEPT_MM, TAKEN_EACH_MM).map(|left| left.class), Ok(Some(Severity::Watch)));
    assert_eq!(halves_from_contacts(9, 6), Some(1), "nine pin contacts make one six-way half");
}
