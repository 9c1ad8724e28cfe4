//! What stands against flying each model, as the board has it. Families that say the same more fully are left out
//! here, and so is what is no fault: a lent or laid-up model, a defect that is deferred in good order.

use super::{Audit, Family, PlacedFinding};
use crate::{
    answers::{balance::balance, may_fly::may_fly_one},
    finding::Finding,
    words::Severity,
};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    for (tag, model) in &audit.models {
        let Some(verdict) = may_fly_one(audit.fleet, *model, audit.moment) else { continue };
        for reason in verdict.reasons {
            if let Some(family) = family_of(&reason) {
                list.push(PlacedFinding::new(family, reason).in_model(tag));
            }
        }
        // The board says nothing of the balance of a model with an empty seat; that it was never weighed stays true.
        let is_incomplete = list.iter().any(|found| {
            found.finding.code == "position_empty" && found.model.as_deref() == Some(tag.as_str())
        });
        let weighed = balance(audit.fleet, *model, audit.moment.as_of).filter(|_| is_incomplete);
        let never = weighed.into_iter().flat_map(|balanced| balanced.findings);
        list.extend(
            never
                .filter(|finding| finding.code == "never_weighed")
                .map(|finding| PlacedFinding::new(Family::Balance, finding).in_model(tag)),
        );
    }
}

/// The family of a reason of the board; `None` if it is no finding or another family has it.
fn family_of(reason: &Finding) -> Option<Family> {
    Some(match reason.code.as_str() {
        "position_empty" | "part_not_serviceable" | "part_type_not_taken" => Family::Seats,
        "pairing_not_accepted" | "pairing_accepted" => Family::Sets,
        "defect_open" if reason.severity == Severity::Ground => Family::Defects,
        "never_weighed" | "unweighed_moves" | "cg_outside_range" => Family::Balance,
        code if code.starts_with("campaign_") => Family::Campaigns,
        code if code.starts_with("check_") || code.ends_with("_unchecked") => Family::Checks,
        _ => return None,
    })
}
