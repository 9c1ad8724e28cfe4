//! Parts that belong together: sets without marks, and joiners that belong to no set with marks. What sits apart from
//! its set in a model is said by the board.

use super::{Audit, Family, PlacedFinding};
use crate::{
    finding::Finding,
    words::{PartKind, Severity},
};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    for (id, _) in audit.components() {
        if audit.fleet.part_of(id).is_none_or(|part| part.kind != PartKind::Joiner) {
            continue;
        }
        let Some(whereabouts) = audit.whereabouts(id) else { continue };
        let mut sets = audit
            .fleet
            .matched_sets()
            .map(|(_, set)| &set.fact)
            .filter(|set| set.component == id || set.mates.contains(&id))
            .peekable();
        let is_in_a_set = sets.peek().is_some();
        if sets.any(|set| set.marks.is_some()) {
            continue;
        }
        let tag = audit.fleet.component_tag(id);
        let note = audit.fleet.component_data(id).and_then(|data| data.note.as_ref());
        let note = note.map(|note| format!(" ({note})")).unwrap_or_default();
        let text = if is_in_a_set {
            format!("the set of {tag} has no marks on record: which way round it goes is not known")
        } else {
            format!(
                "{tag} belongs to no set with marks{note}: it cannot be told where and which way round it goes"
            )
        };
        let finding = Finding::new(
            "joiner_without_marks",
            Severity::Watch,
            &tag,
            text,
            format!("fit {tag}, mark its end faces, and enter the set with its marks"),
        );
        list.push(PlacedFinding::new(Family::Sets, finding).at(&whereabouts));
    }
}
