//! Parts that belong together, and accepted fits outside a set.

use super::Verdict;
use crate::{
    facts::{MatchedSet, Pairing},
    fleet::{Fleet, Place},
    ids::ComponentId,
};

pub(super) fn check(fleet: &Fleet, set: &MatchedSet, verdict: &mut Verdict) {
    check_mates(fleet, set.component, &set.mates, verdict);
    let other =
        fleet.matched_sets().find(|(id, other)| *id != set.id && other.fact.component == set.component);
    if let Some((_, other)) = other {
        verdict.record(
            "in_another_set",
            "/component",
            format!("{} belongs to {} already", fleet.component_tag(set.component), other.fact.tag),
        );
    }
}

fn check_mates(fleet: &Fleet, component: ComponentId, mates: &[ComponentId], verdict: &mut Verdict) {
    verdict.component(fleet, "/component", component);
    if mates.is_empty() {
        verdict.value("no_mate", "/mates", "name at least one part that it goes with");
    }
    for (index, mate) in mates.iter().enumerate() {
        verdict.component(fleet, &format!("/mates/{index}"), *mate);
        if *mate == component || mates.iter().skip(index + 1).any(|other| other == mate) {
            verdict.value("mate_twice", format!("/mates/{index}"), "name each part once");
        }
    }
}

pub(super) fn check_pairing(fleet: &Fleet, pairing: &Pairing, verdict: &mut Verdict) {
    check_mates(fleet, pairing.component, &pairing.mates, verdict);
    if let Some(clearance_mm) = pairing.clearance_mm {
        verdict.range("/clearance_mm", clearance_mm, 0.0, 10.0, "mm");
    }
    let model_at = |id| match fleet.place_at(id, pairing.occurred_at) {
        Place::InModel(model, _) => Some(model),
        Place::InPanel(..) | Place::Loose => None,
    };
    let model = model_at(pairing.component);
    if model.is_none() || pairing.mates.iter().any(|mate| model_at(*mate) != model) {
        verdict.record(
            "not_together",
            "/mates",
            "at that moment the parts did not sit in one model: fit them, try them, then accept the pairing",
        );
    }
}
