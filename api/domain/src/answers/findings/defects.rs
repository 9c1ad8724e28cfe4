//! Defects that came back, that nobody deferred, whose class has risen by time alone or is about to. Those that ground
//! are said by the board.

use std::collections::BTreeMap;

use super::{Audit, Family, PlacedFinding};
use crate::{
    answers::{
        defects::{OpenDefect, open_defects},
        defects_near_limit, repeat_defects, undeferred_defects,
    },
    facts::Subject,
    finding::Finding,
    fleet::{Place, terms::name_of},
    ids::ModelId,
    words::Severity,
};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    let (fleet, moment) = (audit.fleet, audit.moment);
    let carriers = carriers(audit);
    let told =
        [undeferred_defects(fleet, moment), defects_near_limit(fleet, moment), repeat_defects(fleet, moment)];
    for finding in told.into_iter().flatten().filter(|finding| finding.severity != Severity::Ground) {
        let model = carriers.get(&finding.subject).copied();
        let placed = PlacedFinding::new(Family::Defects, finding);
        list.push(match model {
            Some(model) => placed.in_model(&fleet.model_tag(model)),
            None => placed,
        });
    }
    for (tag, model) in &audit.models {
        let fitted = fleet.fitted(*model, moment.as_of);
        let open = open_defects(fleet, *model, &fitted, moment);
        let raised = open.iter().filter_map(|open| raised(audit, open));
        list.extend(raised.map(|finding| PlacedFinding::new(Family::Defects, finding).in_model(tag)));
    }
}

/// The model that each defect sits on now, by the defect's name.
fn carriers(audit: &Audit<'_>) -> BTreeMap<String, ModelId> {
    let defects = audit.fleet.defects().filter_map(|(_, file)| file.defect.as_ref());
    defects
        .filter_map(|recorded| {
            let model = match recorded.fact.subject {
                Subject::Model(model) => model,
                Subject::Component(part) => match audit.fleet.place_at(part, audit.moment.as_of) {
                    Place::InModel(model, _) => model,
                    Place::InPanel(..) | Place::Loose => return None,
                },
            };
            Some((name_of(&recorded.fact), model))
        })
        .collect()
}

/// A watched defect that has become one that restricts, by time alone.
fn raised(audit: &Audit<'_>, open: &OpenDefect<'_>) -> Option<Finding> {
    let is_raised = open.severity == Severity::Restrict && open.is_raised();
    is_raised.then(|| {
        let name = open.name();
        let text = format!("{name} was to be watched and its time is over: {}", open.defect().text);
        Finding::new("defect_raised", Severity::Restrict, &name, text, open.clear_by(audit.fleet))
    })
}
