//! Photos: what one names belongs together. That the picture is kept is for the store of pictures to say.

use super::Verdict;
use crate::{
    facts::{LONGER_SIDE_PX, MOST_BYTES, Photo, Subject},
    fleet::Fleet,
    ids::InspectionId,
};

pub(super) fn check(fleet: &Fleet, photo: &Photo, verdict: &mut Verdict) {
    verdict.subject(fleet, "/subject", photo.subject);
    check_defect(fleet, photo, verdict);
    check_repair(fleet, photo, verdict);
    if let Some(check) = photo.inspection
        && !is_check_of(fleet, check, photo.subject)
    {
        let text = format!("no check `{check}` of what the photo shows");
        verdict.value("unknown_reference", "/inspection", text);
    }
    for (pointer, side) in [("/width_px", photo.width_px), ("/height_px", photo.height_px)] {
        verdict.range(pointer, f64::from(side), 1.0, f64::from(LONGER_SIDE_PX), "px");
    }
    verdict.range("/size_bytes", f64::from(photo.size_bytes), 1.0, f64::from(MOST_BYTES), "bytes");
}

/// A photo of a defect shows what the defect sits on, or the model on which it was found.
fn check_defect(fleet: &Fleet, photo: &Photo, verdict: &mut Verdict) {
    let Some(id) = photo.defect else { return };
    match fleet.defect(id).and_then(|file| file.defect.as_ref()) {
        None => verdict.value("unknown_reference", "/defect", format!("no defect `{id}` in this club")),
        Some(defect) => {
            let shown = [defect.fact.subject, Subject::Model(defect.fact.model)];
            if !shown.contains(&photo.subject) {
                let text =
                    "the defect sits on something else than the photo shows: name that, or leave it out";
                verdict.record("shows_something_else", "/defect", text);
            }
        }
    }
}

/// A photo of a repair shows the model or one of the parts repaired.
fn check_repair(fleet: &Fleet, photo: &Photo, verdict: &mut Verdict) {
    let Some(id) = photo.repair else { return };
    match fleet.repair(id).and_then(|file| file.repair.as_ref()) {
        None => verdict.value("unknown_reference", "/repair", format!("no repair `{id}` in this club")),
        Some(repair) => {
            let is_shown = match photo.subject {
                Subject::Model(model) => repair.fact.model == model,
                Subject::Component(component) => repair.fact.components.contains(&component),
            };
            if !is_shown {
                let text = "the repair is of something else than the photo shows: name that, or leave it out";
                verdict.record("shows_something_else", "/repair", text);
            }
        }
    }
}

/// Whether a check was done on the subject itself, names it, or was done on a model that carries or carried it.
fn is_check_of(fleet: &Fleet, check: InspectionId, subject: Subject) -> bool {
    let of_model = |model| fleet.model(model).is_some_and(|file| file.inspections.get(check.0).is_some());
    match subject {
        Subject::Model(model) => of_model(model),
        Subject::Component(component) => {
            let file = fleet.component(component);
            file.is_some_and(|file| {
                file.inspections.get(check.0).is_some() || file.named_in_checks.get(check.0).is_some()
            }) || fleet.model_spans(component).into_iter().any(|span| of_model(span.model))
        }
    }
}
