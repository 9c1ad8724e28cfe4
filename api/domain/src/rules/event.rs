//! Transport, lay-up and return, sale, loss, storage, radio change.

use super::Verdict;
use crate::{facts::Event, fleet::Fleet, words::EventKind};

pub(super) fn check(fleet: &Fleet, event: &Event, verdict: &mut Verdict) {
    verdict.model(fleet, "/model", event.model);
    let Some(file) = fleet.model(event.model) else { return };
    let mut before = file.events.until(event.occurred_at).iter().filter(|known| known.fact.id != event.id);
    let tag = fleet.model_tag(event.model);
    if let Some(end) = before.clone().find(|known| known.fact.kind.ends_service()) {
        verdict.record(
            "model_gone",
            "/occurred_at",
            format!("{tag} was {} at {}", end.fact.kind.as_str().replace('_', " "), end.fact.occurred_at),
        );
    }
    let is_laid_up = before
        .rfind(|known| matches!(known.fact.kind, EventKind::LaidUp | EventKind::ReturnedToFlying))
        .is_some_and(|known| known.fact.kind == EventKind::LaidUp);
    match event.kind {
        EventKind::ReturnedToFlying if !is_laid_up => {
            verdict.record(
                "not_laid_up",
                "/kind",
                format!("{tag} was not laid up: there is nothing to return from"),
            );
        }
        EventKind::LaidUp if is_laid_up => {
            verdict.record("laid_up_already", "/kind", format!("{tag} is laid up already"));
        }
        _ => {}
    }
}
