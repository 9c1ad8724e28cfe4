//! The record itself: questions that wait for a person, and readings that cannot be right or cannot be judged.

use super::{Audit, Family, FoundReading, PlacedFinding};
use crate::{
    answers::doubt::{Doubt, doubts},
    finding::Finding,
    time::day_of,
    words::Severity,
};

pub(super) fn look(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    questions(audit, list);
    for (id, file) in audit.components() {
        let Some(whereabouts) = audit.whereabouts(id) else { continue };
        let tag = audit.fleet.component_tag(id);
        let readings = file.measurements.until(audit.moment.as_of);
        let all: Vec<_> = readings.iter().map(|reading| &reading.fact).collect();
        for Doubt { reading, value, finding } in doubts(audit.fleet, id, &tag, &all) {
            list.push(PlacedFinding {
                reading: Some(FoundReading::of(
                    reading,
                    reading.quantity.as_str(),
                    value,
                    reading.unit.as_str(),
                )),
                ..PlacedFinding::new(Family::Record, finding).at(&whereabouts)
            });
        }
    }
}

fn questions(audit: &Audit<'_>, list: &mut Vec<PlacedFinding>) {
    let as_of = audit.moment.as_of;
    for (id, file) in audit.fleet.questions() {
        let Some(question) = file.question.as_ref().map(|question| &question.fact) else { continue };
        if question.occurred_at > as_of || !file.settlements.until(as_of).is_empty() {
            continue;
        }
        let reasons: Vec<&str> = question.reasons.iter().map(|reason| reason.text.as_str()).collect();
        let on = day_of(question.occurred_at, audit.fleet.club().zone);
        let finding = Finding::new(
            "question_open",
            Severity::Watch,
            id.to_string(),
            format!(
                "one of the {} sent on {on} was refused and waits: {}",
                question.noun,
                reasons.join("; ")
            ),
            format!("settle question {id}"),
        );
        list.push(PlacedFinding::new(Family::Record, finding));
    }
}
