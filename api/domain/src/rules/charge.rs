//! Charges of packs.

use super::Verdict;
use crate::{facts::Charge, fleet::Fleet, words::PartKind};

pub(super) fn check(fleet: &Fleet, charge: &Charge, verdict: &mut Verdict) {
    verdict.component(fleet, "/component", charge.component);
    if let Some(part) = fleet.part_of(charge.component).filter(|part| part.kind != PartKind::Pack) {
        let tag = fleet.component_tag(charge.component);
        verdict.value(
            "not_a_pack",
            "/component",
            format!("{tag} is a {}: only packs are charged", part.kind),
        );
    }
    if let Some(charged_mah) = charge.charged_mah {
        verdict.range("/charged_mah", charged_mah, 0.0, 100_000.0, "mAh");
    }
}
