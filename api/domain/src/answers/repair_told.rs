//! The work on a repair in a sentence, as the history of a part tells it.

use super::joiner_loss::left_of;
use crate::{
    facts::{RepairStep, UsedMaterial},
    fleet::{Fleet, RepairFile, cure_of},
    ids::ComponentId,
    time::Instant,
    words::StepResult,
};

/// What one entry of a work sheet says about a part.
pub(crate) fn told_step(fleet: &Fleet, file: &RepairFile, step: &RepairStep, part: ComponentId) -> String {
    let mut said: Vec<String> = Vec::new();
    if step.is_second_look {
        said.push("looked at by a second person".to_owned());
    }
    let numbers = |result: StepResult| {
        let ticked = step.steps.iter().filter(|tick| tick.result == result);
        ticked.map(|tick| tick.number.to_string()).collect::<Vec<_>>().join(", ")
    };
    for (result, words) in [(StepResult::Done, "done"), (StepResult::NotApplicable, "not applicable")] {
        let numbers = numbers(result);
        if !numbers.is_empty() {
            said.push(format!("step {numbers} {words}"));
        }
    }
    said.extend(step.materials.iter().map(|used| told_material(fleet, used)));
    if let Some(resin) = step.resin {
        let at = step.temperature_c.map(|degrees| format!(" at {degrees} °C")).unwrap_or_default();
        said.push(format!("{}{at}", resin.as_str().replace('_', " ")));
    }
    if let Some(until) = cure_of(file.worksheet(), step) {
        said.push(format!("cure until {until}"));
    }
    if step.mass_added_g != 0.0 {
        said.push(format!("{:+} g at x {} y {} mm", step.mass_added_g, step.x_mm, step.y_mm));
    }
    for (word, parts) in [("off", &step.parts_off), ("on", &step.parts_on)] {
        said.extend(parts.iter().map(|part| format!("{} {word}", fleet.component_tag(*part))));
    }
    let is_here = |named: Option<ComponentId>| file.part_of_detail(named) == Some(part);
    if let Some(work) = step.joiner.as_ref().filter(|work| is_here(work.component)) {
        let life = fleet.sanded(part, step.occurred_at, None).deepest_mm();
        if work.sanded.deepest_mm() > 0.0 {
            said.push(format!(
                "sanded {} mm from a face at most, {life:.2} mm in its life{}",
                work.sanded.deepest_mm(),
                section_left(fleet, part, step.occurred_at)
            ));
        }
        said.extend(work.method.iter().map(ToString::to_string));
    }
    if let Some(work) = step.connector.as_ref().filter(|work| is_here(work.component)) {
        let half = if work.is_fixed_half { "fixed" } else { "loose" };
        said.push(format!(
            "{} mm of lead used, {} contacts in the {half} half, pin map {}",
            work.slack_used_mm, work.contact_kind, work.pin_map
        ));
    }
    if let Some(work) = &step.cover {
        said.push(format!(
            "{} {} mm, relief: {}",
            work.material,
            work.thickness_mm,
            work.relief.as_str().replace('_', " ")
        ));
    }
    if let Some(work) = step.servo.as_ref().filter(|work| is_here(work.component)) {
        said.push(format!(
            "arm on tooth {} ({:+} deg left), radius {} mm, centre {} µs",
            work.spline_tooth, work.residual_deg, work.arm_radius_mm, work.pulse_centre_us
        ));
    }
    said.extend(step.note.iter().map(ToString::to_string));
    said.join("; ")
}

/// Lead that a repair used up, and what was left by it: counted back from the first reading after it, where there is
/// one by `as_of`.
pub(crate) fn told_slack(
    fleet: &Fleet,
    half: ComponentId,
    at: Instant,
    used_mm: f64,
    as_of: Instant,
) -> String {
    let readings = fleet.component(half).map_or(&[][..], |file| file.measurements.until(as_of));
    let later = readings
        .iter()
        .find(|reading| reading.fact.quantity.as_str() == "lead_slack" && reading.fact.occurred_at > at);
    let read = later.and_then(|reading| {
        Some((reading.fact.values.iter().copied().reduce(f64::min)?, reading.fact.occurred_at))
    });
    let Some((read_mm, read_at)) = read else { return format!(", {used_mm} mm of lead used") };
    let after_mm = read_mm + fleet.lead_used(half, at, read_at, None);
    format!(", {used_mm} mm of lead used: {} mm left {after_mm} mm", after_mm + used_mm)
}

/// Material as it was used.
pub(crate) fn told_material(fleet: &Fleet, used: &UsedMaterial) -> String {
    let lot = used.lot.and_then(|lot| fleet.lot(lot)).map(|lot| &lot.fact);
    let what = match (lot, &used.text) {
        (Some(lot), _) => format!("{} of lot {}", lot.item, lot.tag),
        (None, Some(text)) => text.to_string(),
        (None, None) => "material".to_owned(),
    };
    let unit = lot.map(|lot| format!(" {}", lot.unit)).unwrap_or_default();
    used.quantity.map_or_else(|| what.clone(), |quantity| format!("{quantity}{unit} {what}"))
}

/// What the sanding of its life changed of a joiner's section by a moment, in words; nothing where it is not known.
fn section_left(fleet: &Fleet, joiner: ComponentId, at: Instant) -> String {
    match left_of(fleet, joiner, at) {
        Some(Ok(sanded)) => format!(
            ", section modulus {:+.1} % vertical and {:+.1} % fore-aft",
            sanded.z_vertical_change_pct, sanded.z_fore_aft_change_pct
        ),
        Some(Err(_)) | None => String::new(),
    }
}
