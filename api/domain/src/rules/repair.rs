//! Repairs that are started. What is done on them is `repair_step`, how they end is `release`.

use super::{Verdict, repair_step::check_slack};
use crate::{facts::Repair, fleet::Fleet};

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
        for half in &repair.components {
            check_slack(fleet, *half, slack_mm, repair.occurred_at, None, "/slack_used_mm", verdict);
        }
    }
    if repair.cure_until_at.is_some_and(|until| until < repair.occurred_at) {
        verdict.value("cured_before_start", "/cure_until_at", "the cure ends after the repair was started");
    }
}
