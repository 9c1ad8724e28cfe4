//! The shelf: consumables out of date or soon so, and parts that have waited for their check.

use super::{Audit, Family, PlacedFinding};
use crate::{
    facts::Lot,
    finding::Finding,
    words::{ComponentState, PartKind, Severity},
};

/// A lot that goes out of date within so many days is said beforehand (common practice, no source).
const SAY_BEFORE_DAYS: i64 = 30;

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    let lots = audit.fleet.lots().filter_map(|(_, lot)| judge(audit, &lot.fact));
    list.extend(lots.map(|finding| PlacedFinding::new(Family::Shelf, finding)));
    for (id, file) in audit.components() {
        let Some(whereabouts) = audit.whereabouts(id) else { continue };
        let is_untested = file.state_at(audit.moment.as_of) == ComponentState::NewUntested;
        if !is_untested || whereabouts.model.is_some() {
            continue;
        }
        let tag = audit.fleet.component_tag(id);
        let is_pack = audit.fleet.part_of(id).is_some_and(|part| part.kind == PartKind::Pack);
        let check = if is_pack { "PK20" } else { "its check" };
        let finding = Finding::new(
            "part_untested",
            Severity::Watch,
            &tag,
            format!("{tag} is untested: it must not be fitted as a spare before it has passed {check}"),
            format!("pass {check} with {tag}, then put it into service"),
        );
        list.push(PlacedFinding::new(Family::Shelf, finding).at(&whereabouts));
    }
}

/// A lot that is used up says nothing any more.
fn judge(audit: &Audit<'_>, lot: &Lot) -> Option<Finding> {
    let last_on = lot.use_by_on.filter(|_| lot.quantity > 0.0)?;
    let left = last_on.signed_duration_since(audit.moment.on).num_days();
    let what = format!("lot {} ({}, {} {} left)", lot.tag, lot.item, lot.quantity, lot.unit);
    let clear_by = format!(
        "throw it away and enter lot {} with 0 {}, or use it before it is out of date",
        lot.tag, lot.unit
    );
    if left < 0 {
        let text = format!("{what} is out of date since {last_on}");
        return Some(Finding::new("lot_out_of_date", Severity::Restrict, lot.tag.as_str(), text, clear_by));
    }
    (left <= SAY_BEFORE_DAYS).then(|| {
        let text = format!("{what} goes out of date on {last_on}, in {left} days");
        Finding::new("lot_out_of_date_soon", Severity::Watch, lot.tag.as_str(), text, clear_by)
    })
}
