//! `POST /compute/pack`: fitness of a pack by resistance, capacity and rest, its voltage under load, launches for each
//! charge, watt-hours and limits of carriers. Each part is asked by itself.

mod answer;
mod question;

pub use answer::{CapacityAnswer, CarriageAnswer, LaunchesAnswer, PackAnswer, SagAnswer};
pub use question::{
    CapacityQuestion, CarriageQuestion, LaunchQuestion, PackQuestion, ResistanceQuestion, RestQuestion,
    SagQuestion,
};

use super::BadQuestion;
use crate::formulas::pack::capacity::{CAPACITY_LIMITS_PCT, USUAL_RESERVE_PCT, capacity_left, launches};
use crate::formulas::pack::carriage::{NOMINAL_CELL_V, judge_carriage, watt_hours};
use crate::formulas::pack::resistance::{PackResistance, RATIO_LIMITS, ReadingUncertainty, pack_resistance};
use crate::formulas::pack::rest::{ODD_DROP_LIMITS_MV, RestDrop, rest_drop};
use crate::formulas::pack::sag::sag;
use crate::formulas::range::within;

const METHOD: &str = "resistance brought to 25 °C by 2.2 % for each kelvin (coefficient from memory; readings taken \
                      warm are better), against the same cells as new; sag by Ohm's law from a pulse reading, the slow \
                      part comes on top; launches cut off, never rounded up; uncertainties (1u) of what was given \
                      combined per JCGM 100:2008; limits are starting values, common practice";

const LITHIUM: &str = "Lithium packs: charge attended, in a fire-safe container, never below 5 °C.";

const DAMAGED: &str = "A dented, warm, smelling or swollen pack goes outdoors and is not used again, whatever its \
                       numbers say.";

const TRAVEL: &str = "Limits of carriers are dated and unconfirmed: confirm before travel with the carrier.";

/// Answers a question about a pack.
///
/// # Errors
/// No part asked; sag without resistance; launches without capacity; and whatever the formulas refuse. Each names the
/// field.
///
/// ```
/// use preen_domain::answers::compute::{PackQuestion, compute_pack};
/// let question: PackQuestion = serde_json::from_value(serde_json::json!({
///     "capacity": {"measured_mah": 742, "rated_mah": 900},
///     "launch": {"draw": {"motor_s": 30, "motor_a": 32, "avionics_mah": 70}}
/// }))?;
/// let launch = compute_pack(&question)?.launch.ok_or("asked for")?;
/// assert_eq!((format!("{:.2}", launch.charge.exact), launch.charge.launches), ("1.76".to_owned(), 1));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_pack(question: &PackQuestion) -> Result<PackAnswer, BadQuestion> {
    if *question == PackQuestion::default() {
        let parts = "nothing is asked: give resistance, capacity, rest or carriage";
        return Err(BadQuestion::at("", parts));
    }
    let resistance = question.resistance.as_ref().map(answer_resistance).transpose()?;
    let sag = answer_sag(question, resistance.as_ref())?;
    let capacity = question.capacity.as_ref().map(answer_capacity).transpose()?;
    let launch = answer_launch(question)?;
    let rest = question.rest.as_ref().map(answer_rest).transpose()?;
    let carriage = question.carriage.as_ref().map(answer_carriage).transpose()?;
    let of_cells =
        resistance.iter().flat_map(|pack| pack.cells.iter().map(|cell| cell.class)).max().flatten();
    let classes = [
        of_cells,
        capacity.as_ref().and_then(|capacity| capacity.left.class),
        rest.as_ref().and_then(|rest| rest.class),
    ];
    let mut cautions = vec![LITHIUM.to_owned(), DAMAGED.to_owned()];
    if carriage.is_some() {
        cautions.push(TRAVEL.to_owned());
    }
    Ok(PackAnswer {
        resistance,
        sag,
        capacity,
        launch,
        rest,
        carriage,
        class: classes.into_iter().max().flatten(),
        cautions,
        method: METHOD.to_owned(),
    })
}

fn answer_resistance(resistance: &ResistanceQuestion) -> Result<PackResistance, BadQuestion> {
    let limits = resistance.limits.unwrap_or(RATIO_LIMITS);
    limits.check("/resistance/limits", true)?;
    let ResistanceQuestion { cells_mohm, temperature_c, new_mohm, u_mohm, u_temperature_k, .. } = resistance;
    let u = ReadingUncertainty { mohm: *u_mohm, temperature_k: *u_temperature_k };
    pack_resistance(cells_mohm, *temperature_c, new_mohm, &limits, u).map_err(|why| match why.input {
        "cells_mohm" => BadQuestion::at_value("/resistance", &why, cells_mohm),
        "new_mohm" => BadQuestion::at_value("/resistance", &why, new_mohm),
        _ => BadQuestion::at_input("/resistance", &why),
    })
}

fn answer_sag(
    question: &PackQuestion,
    resistance: Option<&PackResistance>,
) -> Result<Option<SagAnswer>, BadQuestion> {
    let Some(load) = &question.sag else { return Ok(None) };
    let (Some(read), Some(corrected)) = (&question.resistance, resistance) else {
        return Err(BadQuestion::at("/resistance", "a sag comes from the cells' resistance: give it"));
    };
    let at_25: Vec<f64> = corrected.cells.iter().map(|cell| cell.at_25_mohm).collect();
    let under =
        |cells: &[f64]| sag(cells, load.current_a, load.open_v).map_err(|why| bad_load(why.input, &why));
    Ok(Some(SagAnswer { as_measured: under(&read.cells_mohm)?, at_25: under(&at_25)? }))
}

fn bad_load(input: &str, why: &impl ToString) -> BadQuestion {
    match input {
        "current_a" | "open_v" => BadQuestion::at(format!("/sag/{input}"), why),
        _ => BadQuestion::at("/resistance/cells_mohm", why),
    }
}

fn answer_capacity(capacity: &CapacityQuestion) -> Result<CapacityAnswer, BadQuestion> {
    let bad = |why| BadQuestion::at_input("/capacity", &why);
    let limits = capacity.limits_pct.unwrap_or(CAPACITY_LIMITS_PCT);
    limits.check("/capacity/limits_pct", false)?;
    let left = capacity_left(capacity.measured_mah, capacity.rated_mah, &limits).map_err(bad)?;
    within("u_measured_mah", capacity.u_measured_mah, 0.0, 1e6).map_err(bad)?;
    Ok(CapacityAnswer { left, u_of_rated_pct: 100.0 * capacity.u_measured_mah / capacity.rated_mah })
}

fn answer_launch(question: &PackQuestion) -> Result<Option<LaunchesAnswer>, BadQuestion> {
    let Some(launch) = &question.launch else { return Ok(None) };
    let capacity = question
        .capacity
        .as_ref()
        .ok_or_else(|| BadQuestion::at("/capacity", "launches come from a measured capacity: give it"))?;
    let reserve_pct = launch.reserve_pct.unwrap_or(USUAL_RESERVE_PCT);
    let charge =
        launches(capacity.measured_mah, reserve_pct, &launch.draw).map_err(|why| match why.input {
            "reserve_pct" => BadQuestion::at("/launch/reserve_pct", &why),
            "capacity_mah" => BadQuestion::at("/capacity/measured_mah", &why),
            _ => BadQuestion::at_input("/launch/draw", &why),
        })?;
    let u_exact = charge.exact * capacity.u_measured_mah / capacity.measured_mah;
    Ok(Some(LaunchesAnswer { charge, u_exact, reserve_pct }))
}

fn answer_rest(rest: &RestQuestion) -> Result<RestDrop, BadQuestion> {
    let limits = rest.limits_mv.unwrap_or(ODD_DROP_LIMITS_MV);
    limits.check("/rest/limits_mv", true)?;
    rest_drop(&rest.drops_mv, rest.days.unwrap_or(30.0), &limits).map_err(|why| match why.input {
        "drops_mv" => BadQuestion::at_value("/rest", &why, &rest.drops_mv),
        _ => BadQuestion::at_input("/rest", &why),
    })
}

fn answer_carriage(carriage: &CarriageQuestion) -> Result<CarriageAnswer, BadQuestion> {
    let bad = |why| BadQuestion::at_input("/carriage", &why);
    within("cells", f64::from(carriage.cells), 1.0, 24.0).map_err(bad)?;
    let nominal_v = carriage.nominal_v.unwrap_or(f64::from(carriage.cells) * NOMINAL_CELL_V);
    let limits =
        judge_carriage(carriage.cells, nominal_v, carriage.rated_mah, carriage.charge_pct).map_err(bad)?;
    Ok(CarriageAnswer { pack_wh: watt_hours(nominal_v, carriage.rated_mah).map_err(bad)?, limits })
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;
    use crate::words::Severity;

    fn ask(question: Value) -> Result<PackAnswer, BadQuestion> {
        compute_pack(&serde_json::from_value(question).expect("the shape of a question"))
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |question: Value, pointer: &str| {
            let refused = ask(question.clone()).map_err(|bad| bad.pointer);
            assert_eq!(refused.err().as_deref(), Some(pointer), "{question}");
        };
        let cells = json!({"cells_mohm": [5, 5], "temperature_c": 20});
        check(json!({}), "");
        check(json!({"resistance": {"cells_mohm": [5, 0], "temperature_c": 20}}), "/resistance/cells_mohm/1");
        check(json!({"resistance": {"cells_mohm": [], "temperature_c": 20}}), "/resistance/cells_mohm");
        check(json!({"resistance": {"cells_mohm": [5], "temperature_c": 80}}), "/resistance/temperature_c");
        check(
            json!({"resistance": {"cells_mohm": [5, 5], "temperature_c": 20, "new_mohm": [5]}}),
            "/resistance/new_mohm",
        );
        check(
            json!({"resistance": {"cells_mohm": [5], "temperature_c": 20, "limits": {"watch": 2, "ground": 1}}}),
            "/resistance/limits",
        );
        check(json!({"sag": {"current_a": 30, "open_v": 3.7}}), "/resistance");
        check(json!({"resistance": cells, "sag": {"current_a": 900, "open_v": 3.7}}), "/sag/current_a");
        check(json!({"resistance": cells, "sag": {"current_a": 9, "open_v": 7.4}}), "/sag/open_v");
        check(json!({"capacity": {"measured_mah": 0, "rated_mah": 900}}), "/capacity/measured_mah");
        let draw = json!({"motor_s": 30, "motor_a": 32});
        check(json!({"launch": {"draw": draw}}), "/capacity");
        let capacity = json!({"measured_mah": 742, "rated_mah": 900});
        check(
            json!({"capacity": capacity, "launch": {"draw": draw, "reserve_pct": 100}}),
            "/launch/reserve_pct",
        );
        check(
            json!({"capacity": capacity, "launch": {"draw": {"motor_s": 0, "motor_a": 0}}}),
            "/launch/draw/motor_a",
        );
        check(json!({"rest": {"drops_mv": [6, 9e9]}}), "/rest/drops_mv/1");
        check(json!({"rest": {"drops_mv": [6], "days": 0}}), "/rest/days");
        check(json!({"carriage": {"cells": 0, "rated_mah": 900}}), "/carriage/cells");
        check(json!({"carriage": {"cells": 3, "rated_mah": 900, "charge_pct": -1}}), "/carriage/charge_pct");
    }

    #[test]
    fn the_worst_class_of_all_parts_counts_and_cautions_are_always_there() {
        let answer = ask(json!({
            "resistance": {"cells_mohm": [6.1, 6.3, 8.9], "temperature_c": 14, "new_mohm": [4.9, 5, 5],
                "u_temperature_k": 2},
            "sag": {"current_a": 32, "open_v": 3.75},
            "capacity": {"measured_mah": 742, "rated_mah": 900, "u_measured_mah": 9},
            "rest": {"drops_mv": [6, 6, 31]}, "carriage": {"cells": 3, "rated_mah": 900}
        }))
        .expect("answered");
        assert_eq!(answer.class, Some(Severity::Restrict), "the month at rest is worse than the capacity");
        assert_eq!(answer.cautions, [LITHIUM, DAMAGED, TRAVEL]);
        let sag = answer.sag.expect("asked for");
        assert!(sag.as_measured.lowest_cell_v < sag.at_25.lowest_cell_v);
        assert_eq!(answer.capacity.map(|capacity| capacity.u_of_rated_pct), Some(1.0));
        assert!(answer.resistance.is_some_and(|pack| pack.cells.iter().all(|cell| cell.u_mohm > 0.0)));
        let carriage = answer.carriage.expect("asked for");
        assert!((carriage.pack_wh - 9.99).abs() < 1e-9);
    }
}
