//! Whether a model is at hand: lent, laid up, sold, lost or written off.

use super::{Moment, whereabouts::running_loan};
use crate::{
    facts::{Event, Recorded},
    finding::Finding,
    fleet::{Fleet, ModelFile},
    ids::ModelId,
    text::Tag,
    time::day_of,
    words::{EventKind, Severity},
};

fn events(fleet: &Fleet, model: ModelId, moment: Moment) -> &[Recorded<Event>] {
    fleet.model(model).map_or(&[][..], |file| file.events.until(moment.as_of))
}

/// Models that are still of the fleet, by tag: sold, lost and written-off ones are left out of boards and lists.
pub(crate) fn in_service(fleet: &Fleet, moment: Moment) -> Vec<(&Tag, ModelId)> {
    files_in_service(fleet, moment).into_iter().map(|(tag, model, _)| (tag, model)).collect()
}

/// The same with what is kept of each.
pub(crate) fn files_in_service(fleet: &Fleet, moment: Moment) -> Vec<(&Tag, ModelId, &ModelFile)> {
    let is_gone =
        |file: &ModelFile| file.events.until(moment.as_of).iter().any(|event| event.fact.kind.ends_service());
    let known = fleet.models().filter(|(_, file)| !is_gone(file));
    let mut models: Vec<_> =
        known.filter_map(|(id, file)| Some((&file.model.as_ref()?.fact.tag, id, file))).collect();
    models.sort_unstable_by_key(|(tag, id, _)| (*tag, *id));
    models
}

/// Says that the model was laid up and not brought back, or is gone; returns whether it is laid up.
pub(crate) fn out_of_use_reason(
    fleet: &Fleet,
    model: ModelId,
    moment: Moment,
    reasons: &mut Vec<Finding>,
) -> bool {
    let events = events(fleet, model, moment);
    let tag = fleet.model_tag(model);
    if let Some(end) = events.iter().find(|event| event.fact.kind.ends_service()) {
        let how = end.fact.kind.as_str().replace('_', " ");
        let on = day_of(end.fact.occurred_at, fleet.club().zone);
        reasons.push(Finding::new(
            "model_gone",
            Severity::Ground,
            &tag,
            format!("{tag} was {how} on {on}"),
            "correct that entry if it is wrong",
        ));
    }
    let turns =
        |event: &&Recorded<Event>| matches!(event.fact.kind, EventKind::LaidUp | EventKind::ReturnedToFlying);
    let last = events.iter().rfind(turns).filter(|event| event.fact.kind == EventKind::LaidUp);
    if let Some(event) = last {
        let since = day_of(event.fact.occurred_at, fleet.club().zone);
        reasons.push(Finding::new(
            "laid_up",
            Severity::Ground,
            &tag,
            format!("{tag} is laid up since {since}"),
            "record its return to flying, then pass DF, N25 and PK20",
        ));
    }
    last.is_some()
}

/// Says that the model is lent; returns whether that keeps the asker from flying it.
pub(crate) fn lent_reason(fleet: &Fleet, model: ModelId, moment: Moment, reasons: &mut Vec<Finding>) -> bool {
    let loans = fleet.model(model).map_or(&[][..], |file| file.loans.as_slice());
    let Some(loan) = running_loan(fleet, loans, moment).and_then(|file| file.loan.as_ref()) else {
        return false;
    };
    let (tag, to) = (fleet.model_tag(model), fleet.member_tag(loan.fact.lent_to));
    let to_asker = moment.pilot == Some(loan.fact.lent_to);
    let late = moment.on > loan.fact.due_back_on;
    let severity = if to_asker { Severity::Watch } else { Severity::Ground };
    reasons.push(Finding::new(
        "on_loan",
        severity,
        &tag,
        format!(
            "lent to {to}, due back {}{}",
            loan.fact.due_back_on,
            if late { ", which is past" } else { "" }
        ),
        format!("{to} returns it"),
    ));
    !to_asker
}
