//! Work done on a repair: what its sheet knows, material that may be used, limits of joiners and leads.

use super::Verdict;
use crate::{
    facts::{ConnectorWork, CoverWork, JoinerWork, Repair, RepairStep, ServoWork, UsedMaterial},
    fleet::{Fleet, RepairFile},
    formulas::{
        cure::{CureError, Resin, cure},
        joiner::sanding::{NEVER_MM, SandingLife, WITHOUT_INSPECTOR_MM, judge_sanding},
        wire::slack::{KEPT_MM, TAKEN_EACH_MM, slack_left},
    },
    ids::{ComponentId, RepairStepId},
    time::{Instant, day_of},
    words::{Role, StepResult},
    worksheets::{SheetDetail, WorkClass, worksheet},
};

/// A joiner's whole life: what was entered late counts, too.
const EVER: Instant = Instant::from_micros(i64::MAX);

/// Throws are measured at so many points of each side.
const THROW_POINTS: usize = 5;

pub(super) fn check(fleet: &Fleet, step: &RepairStep, verdict: &mut Verdict) {
    let file = fleet.repair(step.repair);
    let Some((file, repair)) = file.and_then(|file| file.repair.as_ref().map(|repair| (file, &repair.fact)))
    else {
        verdict.value("unknown_reference", "/repair", format!("no repair `{}` in this club", step.repair));
        return;
    };
    if step.occurred_at < repair.occurred_at {
        verdict.record(
            "worked_before_start",
            "/occurred_at",
            "the work is done after the repair was started",
        );
    }
    // A slip may still be corrected: the release is then held against the corrected sheet.
    if !file.releases.is_empty() && fleet.correction_of(step.id.0).is_none() {
        verdict.record(
            "already_released",
            "/repair",
            "the repair is released and its sheet is closed: start another repair, or correct the release first",
        );
    }
    if is_empty(step) {
        verdict.value(
            "nothing_recorded",
            "/steps",
            "tick a step, or say what was used, weighed, read or kept",
        );
    }
    if step.is_second_look {
        check_look(fleet, file, step, verdict);
    }
    check_ticks(repair, step, verdict);
    for (index, used) in step.materials.iter().enumerate() {
        check_material(fleet, step, index, used, verdict);
    }
    check_cure(repair, step, verdict);
    check_mass(fleet, repair, step, verdict);
    check_parts_and_readings(fleet, repair, step, verdict);
    check_details(fleet, file, repair, step, verdict);
}

fn is_empty(step: &RepairStep) -> bool {
    let is_listed = [step.steps.len(), step.materials.len(), step.parts_off.len(), step.parts_on.len()];
    let is_read = [step.readings_before.len(), step.readings_after.len()];
    is_listed.into_iter().chain(is_read).all(|count| count == 0)
        && step.resin.is_none()
        && step.cure_until_at.is_none()
        && step.mass_added_g == 0.0
        && step.joiner.is_none()
        && step.connector.is_none()
        && step.cover.is_none()
        && step.servo.is_none()
        && step.note.is_none()
        && !step.is_second_look
}

/// A second person looks and works at nothing.
fn check_look(fleet: &Fleet, file: &RepairFile, step: &RepairStep, verdict: &mut Verdict) {
    let works = step.resin.is_some()
        || step.cure_until_at.is_some()
        || step.mass_added_g != 0.0
        || !(step.materials.is_empty() && step.parts_off.is_empty() && step.parts_on.is_empty())
        || step.joiner.is_some()
        || step.connector.is_some()
        || step.cover.is_some()
        || step.servo.is_some();
    if works {
        verdict.value(
            "look_with_work",
            "/is_second_look",
            "a second person looks and does no work: leave material, cure, mass, parts and what the sheet keeps out",
        );
    }
    if let Some(member) = step.done_by.filter(|member| file.workers(EVER).contains(member)) {
        verdict.record("worker_as_second_person", "/done_by", worker_looks(&fleet.member_tag(member)));
    }
}

/// What is said where a worker would be the second person.
pub(super) fn worker_looks(member: &str) -> String {
    format!("{member} did the work: somebody else must look at it")
}

fn check_ticks(repair: &Repair, step: &RepairStep, verdict: &mut Verdict) {
    let sheet = worksheet(repair.kind);
    for (index, tick) in step.steps.iter().enumerate() {
        let pointer = format!("/steps/{index}");
        if !sheet.steps.iter().any(|known| known.number == tick.number) {
            verdict.value(
                "no_such_step",
                format!("{pointer}/number"),
                format!("sheet {} has steps 1 to {}, not {}", sheet.kind, sheet.steps.len(), tick.number),
            );
        }
        if step.steps.iter().take(index).any(|other| other.number == tick.number) {
            verdict.value(
                "ticked_twice",
                format!("{pointer}/number"),
                format!("step {} stands here twice", tick.number),
            );
        }
        if tick.result == StepResult::NotApplicable && tick.reason.is_none() {
            verdict.value(
                "reason_missing",
                format!("{pointer}/reason"),
                format!("say why step {} is not applicable", tick.number),
            );
        }
    }
}

fn check_material(
    fleet: &Fleet,
    step: &RepairStep,
    index: usize,
    used: &UsedMaterial,
    verdict: &mut Verdict,
) {
    let pointer = format!("/materials/{index}");
    if let Some(quantity) = used.quantity {
        verdict.range(&format!("{pointer}/quantity"), quantity, 0.0, 1e6, "of its unit");
    }
    let lot = match (used.lot, &used.text) {
        (Some(lot), None) => lot,
        (None, Some(_)) => return,
        (Some(_), Some(_)) | (None, None) => {
            verdict.value(
                "lot_or_text",
                pointer,
                "name the lot, or say in words what it is where it has none",
            );
            return;
        }
    };
    let Some(known) = fleet.lot(lot).map(|lot| &lot.fact) else {
        verdict.value("unknown_reference", format!("{pointer}/lot"), format!("no lot `{lot}` in this club"));
        return;
    };
    let on = day_of(step.occurred_at, fleet.club().zone);
    if let Some(last_on) =
        known.use_by_on.filter(|last_on| on > *last_on && used.out_of_date_reason.is_none())
    {
        verdict.record(
            "lot_out_of_date",
            format!("{pointer}/lot"),
            format!(
                "lot {} ({}) was to be used by {last_on}: take another lot, or say in `out_of_date_reason` why this one",
                known.tag, known.item
            ),
        );
    }
    let earlier = step.materials.iter().take(index).filter(|other| other.lot == Some(lot));
    let taken: f64 = earlier.filter_map(|other| other.quantity).sum();
    let left = fleet.lot_left(lot, Some(step.id)).map(|left| left - taken);
    if let (Some(wanted), Some(left)) = (used.quantity, left)
        && wanted > left + 1e-9
    {
        verdict.record(
            "lot_used_up",
            format!("{pointer}/quantity"),
            format!(
                "of lot {} there are {left} {} left: count it anew, or take another",
                known.tag, known.unit
            ),
        );
    }
}

fn check_cure(repair: &Repair, step: &RepairStep, verdict: &mut Verdict) {
    let started = step.cure_started_at.unwrap_or(step.occurred_at);
    if step.cure_started_at.is_some() && step.resin.is_none() && step.cure_until_at.is_none() {
        verdict.value("resin_missing", "/resin", "say what cures, or until when it does");
    }
    let cures = step.resin.is_some() || step.cure_until_at.is_some();
    if cures && step.cure_started_at.is_some_and(|began| began < repair.occurred_at) {
        verdict.record(
            "cured_before_start",
            "/cure_started_at",
            "a cure begins after the repair was started",
        );
    }
    if step.cure_until_at.is_some_and(|until| until < started) {
        verdict.value("cured_before_start", "/cure_until_at", "the cure ends after it began");
    }
    let Some(resin) = step.resin else {
        if let Some(temperature_c) = step.temperature_c {
            verdict.range("/temperature_c", temperature_c, -20.0, 90.0, "°C");
        }
        return;
    };
    if worksheet(repair.kind).class_of_work == WorkClass::Structure && resin == Resin::FiveMinuteEpoxy {
        verdict.record(
            "resin_not_for_structure",
            "/resin",
            "five-minute epoxy does not carry structure: take laminating resin",
        );
    }
    match cure(resin, step.temperature_c) {
        Err(CureError::OutOfRange(_)) => {
            verdict.range("/temperature_c", step.temperature_c.unwrap_or(f64::NAN), -20.0, 90.0, "°C");
        }
        Err(error @ (CureError::TemperatureMissing | CureError::TooCold(_)))
            if step.cure_until_at.is_none() =>
        {
            let code = if step.temperature_c.is_none() { "temperature_missing" } else { "too_cold_to_cure" };
            verdict.value(code, "/temperature_c", error.to_string());
        }
        Ok(_) | Err(CureError::TemperatureMissing | CureError::TooCold(_)) => {}
    }
}

fn check_mass(fleet: &Fleet, repair: &Repair, step: &RepairStep, verdict: &mut Verdict) {
    verdict.range("/mass_added_g", step.mass_added_g, -5000.0, 5000.0, "g");
    for (pointer, value) in [("/x_mm", step.x_mm), ("/y_mm", step.y_mm), ("/z_mm", step.z_mm)] {
        verdict.range(pointer, value, -5000.0, 5000.0, "mm");
    }
    if step.mass_added_g != 0.0 && repair.material_mass_g != 0.0 {
        let name = repair.name();
        verdict.record(
            "mass_said_already",
            "/mass_added_g",
            format!(
                "{name} itself says {} g for {}: leave the mass out here, or correct the repair to 0 first",
                repair.material_mass_g,
                fleet.model_tag(repair.model)
            ),
        );
    }
}

fn check_parts_and_readings(fleet: &Fleet, repair: &Repair, step: &RepairStep, verdict: &mut Verdict) {
    for (field, parts) in [("parts_off", &step.parts_off), ("parts_on", &step.parts_on)] {
        for (index, part) in parts.iter().enumerate() {
            verdict.component(fleet, &format!("/{field}/{index}"), *part);
        }
    }
    let on_model = fleet.model(repair.model).map(|file| &file.measurements);
    let parts = repair.components.iter().chain(&step.parts_off).chain(&step.parts_on);
    let on_parts = parts.filter_map(|part| fleet.component(*part)).map(|file| &file.measurements);
    let logs: Vec<_> = on_model.into_iter().chain(on_parts).collect();
    for (field, readings) in
        [("readings_before", &step.readings_before), ("readings_after", &step.readings_after)]
    {
        for (index, reading) in readings.iter().enumerate() {
            if !logs.iter().any(|log| log.get(reading.0).is_some()) {
                verdict.value(
                    "unknown_reference",
                    format!("/{field}/{index}"),
                    format!("no reading `{reading}` on the model or a part of this repair: measure it first"),
                );
            }
        }
    }
}

fn check_details(
    fleet: &Fleet,
    file: &RepairFile,
    repair: &Repair,
    step: &RepairStep,
    verdict: &mut Verdict,
) {
    let kept = worksheet(repair.kind).keeps;
    let given = [
        (SheetDetail::Joiner, step.joiner.is_some()),
        (SheetDetail::Connector, step.connector.is_some()),
        (SheetDetail::Cover, step.cover.is_some()),
        (SheetDetail::Servo, step.servo.is_some()),
    ];
    for (detail, _) in given.into_iter().filter(|(detail, is_given)| *is_given && kept != Some(*detail)) {
        let kept = kept.map_or("nothing of that kind", SheetDetail::as_str);
        verdict.value(
            "other_detail",
            format!("/{detail}"),
            format!("sheet {} keeps {kept}, not `{detail}`", repair.kind),
        );
    }
    let part = |field: &str, named: Option<ComponentId>, verdict: &mut Verdict| {
        let part = file.part_of_detail(named);
        if part.is_none() {
            verdict.value(
                "part_missing",
                format!("/{field}/component"),
                "name one of the parts of the repair: what the sheet keeps belongs to it",
            );
        }
        part
    };
    if let Some(work) = &step.joiner
        && let Some(joiner) = part("joiner", work.component, verdict)
    {
        check_joiner(fleet, step, joiner, work, verdict);
    }
    if let Some(work) = &step.connector
        && let Some(half) = part("connector", work.component, verdict)
    {
        if work.slack_used_mm > 0.0 && repair.slack_used_mm.is_some_and(|said| said > 0.0) {
            verdict.record(
                "slack_said_already",
                "/connector/slack_used_mm",
                "the repair itself says how much lead it used: give 0 here, or correct the repair to 0 first",
            );
        }
        check_connector(fleet, step, half, work, verdict);
    }
    if let Some(work) = &step.servo {
        part("servo", work.component, verdict);
        check_servo(work, verdict);
    }
    if let Some(CoverWork { thickness_mm, .. }) = &step.cover {
        verdict.range("/cover/thickness_mm", *thickness_mm, 0.05, 5.0, "mm");
    }
}

/// What a joiner's faces have lost in its whole life, this entry with it.
pub(super) fn sanding_life(fleet: &Fleet, step: &RepairStep) -> Option<(ComponentId, SandingLife)> {
    let work = step.joiner.as_ref()?;
    let joiner = fleet.repair(step.repair)?.part_of_detail(work.component)?;
    let life = fleet.sanded(joiner, EVER, Some(step.id)).plus(&work.sanded);
    Some((joiner, judge_sanding(&life)))
}

/// What is said where an inspector has to take part in sanding.
pub(super) fn inspector_sands(joiner: &str) -> String {
    format!(
        "{joiner} would have lost more than {WITHOUT_INSPECTOR_MM} mm from a face in its life: an inspector does and \
         records it, or re-sleeve the joiner"
    )
}

fn check_joiner(
    fleet: &Fleet,
    step: &RepairStep,
    joiner: ComponentId,
    work: &JoinerWork,
    verdict: &mut Verdict,
) {
    let faces = &work.sanded;
    let depths = [
        ("top", faces.top_mm),
        ("bottom", faces.bottom_mm),
        ("front", faces.front_mm),
        ("rear", faces.rear_mm),
    ];
    for (face, depth_mm) in depths {
        verdict.range(&format!("/joiner/sanded/{face}_mm"), depth_mm, 0.0, 1.0, "mm");
    }
    if faces.deepest_mm() <= 0.0 {
        return;
    }
    let tag = fleet.component_tag(joiner);
    match sanding_life(fleet, step) {
        Some((_, SandingLife::Never)) => verdict.record(
            "sanded_too_far",
            "/joiner/sanded",
            format!(
                "{tag} would have lost {:.2} mm from a face in its life, and {NEVER_MM:.2} mm never goes: replace or \
                 re-sleeve it",
                fleet.sanded(joiner, EVER, Some(step.id)).plus(faces).deepest_mm()
            ),
        ),
        Some((_, SandingLife::InspectorNeeded)) => {
            let by = step.done_by.and_then(|member| fleet.member(member));
            if by.is_some_and(|member| !member.fact.roles.contains(&Role::Inspector)) {
                verdict.record("inspector_needed", "/done_by", inspector_sands(&tag));
            }
        }
        Some((_, SandingLife::Within)) | None => {}
    }
}

fn check_connector(
    fleet: &Fleet,
    step: &RepairStep,
    half: ComponentId,
    work: &ConnectorWork,
    verdict: &mut Verdict,
) {
    verdict.range("/connector/slack_used_mm", work.slack_used_mm, 0.0, 1000.0, "mm");
    let pointer = "/connector/slack_used_mm";
    check_slack(fleet, half, work.slack_used_mm, step.occurred_at, Some(step.id), pointer, verdict);
}

/// A lead is cut back only while enough is left: (slack − 10) / 7, rounded down, must be 1 at least.
pub(super) fn check_slack(
    fleet: &Fleet,
    half: ComponentId,
    used_mm: f64,
    at: Instant,
    without: Option<RepairStepId>,
    pointer: &str,
    verdict: &mut Verdict,
) {
    let Some(slack) = fleet.lead_slack(half, at, without).filter(|_| used_mm > 0.0) else { return };
    let left_mm = slack.left_mm();
    let times = slack_left(left_mm, KEPT_MM, TAKEN_EACH_MM).map_or(0, |left| left.re_terminations);
    if times == 0 || left_mm - used_mm < KEPT_MM - 1e-9 {
        verdict.record(
            "no_slack_left",
            pointer,
            format!(
                "{} has {left_mm} mm of slack left and {KEPT_MM} mm have to stay: splice in an extension with \
                 staggered joints or replace the lead, measure `lead_slack` again, and use 0 mm here",
                fleet.component_tag(half)
            ),
        );
    }
}

fn check_servo(work: &ServoWork, verdict: &mut Verdict) {
    verdict.range("/servo/spline_tooth", f64::from(work.spline_tooth), 0.0, 99.0, "teeth");
    verdict.range("/servo/residual_deg", work.residual_deg, -30.0, 30.0, "deg");
    verdict.range("/servo/arm_radius_mm", work.arm_radius_mm, 1.0, 60.0, "mm");
    verdict.range("/servo/pulse_centre_us", work.pulse_centre_us, 500.0, 2500.0, "µs");
    for (field, throws) in
        [("throws_left_mm", &work.throws_left_mm), ("throws_right_mm", &work.throws_right_mm)]
    {
        if throws.len() != THROW_POINTS {
            verdict.value(
                "five_points",
                format!("/servo/{field}"),
                format!("measure the throw at {THROW_POINTS} points: here are {}", throws.len()),
            );
        }
        for (index, throw_mm) in throws.iter().enumerate() {
            verdict.range(&format!("/servo/{field}/{index}"), *throw_mm, -500.0, 500.0, "mm");
        }
    }
}
