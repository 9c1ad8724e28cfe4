//! Questions and their settling.

use super::Verdict;
use crate::{
    facts::{Question, Settlement},
    fleet::Fleet,
};

pub(super) fn check(fleet: &Fleet, question: &Question, verdict: &mut Verdict) {
    if question.reasons.is_empty() {
        verdict.value("no_reason", "/reasons", "a question says why the fact was refused");
    }
    if fleet.question(question.id).is_some_and(|file| file.question.is_some()) {
        verdict.record("asked_already", "/id", "the question stands already");
    }
}

pub(super) fn check_settlement(fleet: &Fleet, settlement: &Settlement, verdict: &mut Verdict) {
    let Some(file) = fleet.question(settlement.question).filter(|file| file.question.is_some()) else {
        verdict.value(
            "unknown_reference",
            "/question",
            format!("no question `{}` in this club", settlement.question),
        );
        return;
    };
    if file.settlements.iter().any(|known| known.fact.id != settlement.id) {
        verdict.record("settled_already", "/question", "the question is settled already");
    }
}
