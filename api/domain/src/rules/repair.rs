//! Repairs and their release.

use super::Verdict;
use crate::{
    facts::{Release, Repair},
    fleet::Fleet,
};

pub(super) fn check(fleet: &Fleet, repair: &Repair, verdict: &mut Verdict) {
    verdict.model(fleet, "/model", repair.model);
    for (index, component) in repair.components.iter().enumerate() {
        verdict.component(fleet, &format!("/components/{index}"), *component);
    }
    if let Some(defect) = repair.defect
        && fleet.defect(defect).is_none_or(|file| file.defect.is_none())
    {
        verdict.value("unknown_reference", "/defect", format!("no defect `{defect}` in this club"));
    }
    verdict.range("/material_mass_g", repair.material_mass_g, -5000.0, 5000.0, "g");
    for (pointer, value) in [("/x_mm", repair.x_mm), ("/y_mm", repair.y_mm), ("/z_mm", repair.z_mm)] {
        verdict.range(pointer, value, -5000.0, 5000.0, "mm");
    }
    if let Some(slack_mm) = repair.slack_used_mm {
        verdict.range("/slack_used_mm", slack_mm, 0.0, 1000.0, "mm");
    }
    if repair.cure_until_at.is_some_and(|until| until < repair.occurred_at) {
        verdict.value("cured_before_start", "/cure_until_at", "the cure ends after the repair was started");
    }
}

pub(super) fn check_release(fleet: &Fleet, release: &Release, verdict: &mut Verdict) {
    if let Some(second) = release.second_person {
        verdict.member(fleet, "/second_person", second);
    }
    let file = fleet.repair(release.repair);
    let Some((file, recorded)) = file.and_then(|file| file.repair.as_ref().map(|repair| (file, repair)))
    else {
        verdict.value("unknown_reference", "/repair", format!("no repair `{}` in this club", release.repair));
        return;
    };
    let worker = recorded.fact.done_by.unwrap_or(recorded.recorded_by);
    if release.second_person == Some(worker) {
        verdict.record(
            "worker_as_second_person",
            "/second_person",
            format!("{} did the work: somebody else must look at it", fleet.member_tag(worker)),
        );
    }
    if let Some(until) = recorded.fact.cure_until_at.filter(|until| release.occurred_at < *until) {
        verdict.record(
            "still_curing",
            "/occurred_at",
            format!("it cures until {until}: release it after that"),
        );
    }
    if release.occurred_at < recorded.fact.occurred_at {
        verdict.record("released_before_start", "/occurred_at", "a repair is released after it was started");
    }
    if file.releases.iter().any(|known| known.fact.id != release.id) {
        verdict.record("already_released", "/repair", "the repair is released already");
    }
}
