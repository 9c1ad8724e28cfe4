//! Items of a check that were failed and that nobody followed up, whatever became of the check as a whole: a check
//! after a flight or before the first of the day counts here like any other.
//!
//! A failure that names a part goes with the part, from model to model. It is followed up by the item passed again
//! (alone or with its whole group), by a defect, or by a repair. The class of a failure is what the programme says of
//! it; unknown is not good, so words that say nothing ground.

use std::collections::BTreeMap;

use super::Moment;
use crate::{
    facts::{Inspection, InspectionItem, Item, Recorded, Subject},
    finding::Finding,
    fleet::{Fitted, Fleet, Place},
    ids::{ComponentId, InspectionId, ModelId},
    time::{Instant, day_of, end_of_day, start_of_day},
    words::{CheckResult, ItemResult, Severity},
};

/// An item that was failed, and on what.
#[derive(Debug, Clone, Copy)]
struct FailedItem<'a> {
    check: &'a Recorded<Inspection>,
    item: &'a InspectionItem,
    part: Option<ComponentId>,
}

/// What the failed items of checks say against flying a model: on the model, and on every part that it carries.
pub(crate) fn failed_item_reasons(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    moment: Moment,
) -> Vec<Finding> {
    let own = fleet.model(model).map_or(&[][..], |file| file.inspections.until(moment.as_of));
    let of_parts = fitted.iter().flat_map(|part| checks_of_part(fleet, part.id, moment.as_of));
    let checks = own.iter().chain(of_parts);
    let carried = |part: ComponentId| fitted.iter().find(|fitted| fitted.id == part);
    newest(checks, |failed| match failed.part {
        None => failed.check.fact.model == Some(model),
        Some(part) => carried(part).is_some(),
    })
    .into_iter()
    .filter(|failed| !is_followed_up(fleet, failed, moment.as_of))
    .map(|failed| {
        let seat = failed.part.and_then(carried).and_then(|fitted| fitted.position);
        finding(fleet, Some(model), &failed, seat.map(|position| position.kind.as_str()))
    })
    .collect()
}

/// The same of a part that is in no model.
pub(crate) fn failed_items_of_part(fleet: &Fleet, part: ComponentId, as_of: Instant) -> Vec<Finding> {
    let checks = checks_of_part(fleet, part, as_of);
    newest(checks, |failed| failed.part == Some(part))
        .into_iter()
        .filter(|failed| !is_followed_up(fleet, failed, as_of))
        .map(|failed| finding(fleet, None, &failed, None))
        .collect()
}

/// Checks of a part alone, and checks of models that name it.
fn checks_of_part(
    fleet: &Fleet,
    part: ComponentId,
    as_of: Instant,
) -> impl Iterator<Item = &Recorded<Inspection>> {
    let file = fleet.component(part);
    let alone = file.map_or(&[][..], |file| file.inspections.until(as_of));
    let named = file.map_or(&[][..], |file| file.named_in_checks.until(as_of));
    alone.iter().chain(named)
}

/// The newest failure of each item on each part, or on the model as a whole.
fn newest<'a>(
    checks: impl Iterator<Item = &'a Recorded<Inspection>>,
    concerns: impl Fn(&FailedItem<'a>) -> bool,
) -> Vec<FailedItem<'a>> {
    type Key<'a> = (&'a str, &'a str, Option<ComponentId>);
    let mut list: BTreeMap<Key<'a>, FailedItem<'a>> = BTreeMap::new();
    // A passed check holds no failed item: a rule sees to that.
    for check in checks.filter(|check| check.fact.result != CheckResult::Pass) {
        for item in check.fact.items.iter().filter(|item| item.result == ItemResult::Fail) {
            let failed = FailedItem { check, item, part: item.component.or(check.fact.component) };
            if !concerns(&failed) {
                continue;
            }
            let key = (check.fact.group.as_str(), item.item.as_str(), failed.part);
            let known = list.entry(key).or_insert(failed);
            if moment_of(check) > moment_of(known.check) {
                *known = failed;
            }
        }
    }
    list.into_values().collect()
}

fn moment_of(check: &Recorded<Inspection>) -> (Instant, InspectionId) {
    (check.fact.occurred_at, check.fact.id)
}

fn is_followed_up(fleet: &Fleet, failed: &FailedItem<'_>, as_of: Instant) -> bool {
    is_passed_again(fleet, failed, as_of)
        || is_reported(fleet, failed, as_of)
        || is_under_repair(fleet, failed, as_of)
}

/// Whether the item was passed since, by itself or with its whole group, on the same thing.
fn is_passed_again(fleet: &Fleet, failed: &FailedItem<'_>, as_of: Instant) -> bool {
    let passes = |check: &Recorded<Inspection>| {
        moment_of(check) > moment_of(failed.check)
            && check.fact.group == failed.check.fact.group
            && passes_on(fleet, &check.fact, failed)
    };
    let models: Vec<ModelId> = match failed.part {
        None => failed.check.fact.model.into_iter().collect(),
        Some(part) => fleet.model_spans(part).into_iter().map(|span| span.model).collect(),
    };
    let on_models = models.into_iter().filter_map(|id| fleet.model(id));
    let on_models = on_models.flat_map(|file| file.inspections.until(as_of));
    let on_part = failed.part.into_iter().flat_map(|part| checks_of_part(fleet, part, as_of));
    on_models.chain(on_part).any(passes)
}

fn passes_on(fleet: &Fleet, check: &Inspection, failed: &FailedItem<'_>) -> bool {
    let holds = |part: ComponentId| {
        check.model.is_some_and(|model| {
            let place = fleet.place_at(part, check.occurred_at);
            matches!(place, Place::InModel(holder, _) if holder == model)
        })
    };
    // Whether what a check says of this part, or of no part, was said of what failed.
    let is_about_it = |said_of: Option<ComponentId>| match (failed.part, said_of) {
        (None, None) => check.model == failed.check.fact.model,
        (None, Some(_)) => false,
        (Some(part), Some(said_of)) => part == said_of,
        (Some(part), None) => holds(part),
    };
    if check.result == CheckResult::Pass && is_about_it(check.component) {
        return true;
    }
    check.items.iter().any(|item| {
        item.item == failed.item.item
            && matches!(item.result, ItemResult::Pass | ItemResult::NotApplicable)
            && is_about_it(item.component.or(check.component))
    })
}

/// The club day of the check and the next one: what is raised for it is raised then. A later defect is about
/// something else.
fn window(fleet: &Fleet, failed: &FailedItem<'_>) -> (Instant, Instant) {
    let zone = fleet.club().zone;
    let day = day_of(failed.check.fact.occurred_at, zone);
    (start_of_day(day, zone), end_of_day(day.succ_opt().unwrap_or(day), zone))
}

/// Whether a defect speaks of it: raised on the part or on the model then, or open on the part already and as bad.
fn is_reported(fleet: &Fleet, failed: &FailedItem<'_>, as_of: Instant) -> bool {
    let (from, to) = window(fleet, failed);
    let at = failed.check.fact.occurred_at;
    let model = failed.check.fact.model;
    let severity = class_of(fleet, failed, None);
    fleet.defects().any(|(_, file)| {
        let Some(defect) = file.defect.as_ref().map(|defect| &defect.fact) else { return false };
        let is_on_part = failed.part.is_some_and(|part| defect.subject == Subject::Component(part));
        let is_on_model = model.is_some_and(|model| match failed.part {
            None => defect.model == model,
            Some(_) => defect.subject == Subject::Model(model),
        });
        let is_then = from <= defect.occurred_at && defect.occurred_at < to;
        let was_open = || {
            defect.occurred_at <= at
                && defect.severity >= severity
                && crate::fleet::terms::is_open(fleet, file, at)
        };
        defect.occurred_at <= as_of
            && ((is_then && (is_on_part || is_on_model)) || (is_on_part && was_open()))
    })
}

/// Whether a repair of the part was begun since, or of the model as a whole in those two days.
fn is_under_repair(fleet: &Fleet, failed: &FailedItem<'_>, as_of: Instant) -> bool {
    let at = failed.check.fact.occurred_at;
    let files = match failed.part {
        Some(part) => fleet.component(part).map(|file| &file.repairs),
        None => failed.check.fact.model.and_then(|model| fleet.model(model)).map(|file| &file.repairs),
    };
    let until = if failed.part.is_some() { None } else { Some(window(fleet, failed).1) };
    files
        .into_iter()
        .flatten()
        .filter_map(|id| fleet.repair(*id)?.repair.as_ref())
        .map(|repair| repair.fact.occurred_at)
        .any(|begun| at <= begun && begun <= as_of && until.is_none_or(|until| begun < until))
}

/// The class of a failure: by its reading where the programme has limits for it, else by the programme's words.
fn class_of(fleet: &Fleet, failed: &FailedItem<'_>, position_kind: Option<&str>) -> Severity {
    let Some(item) = item_of(fleet, failed) else { return Severity::Ground };
    let by_value = failed.item.value.and_then(|value| {
        item.limits
            .iter()
            .filter(|limit| {
                let kinds = &limit.position_kinds;
                kinds.is_empty()
                    || position_kind.is_none_or(|kind| kinds.iter().any(|named| named.as_str() == kind))
            })
            .filter_map(|limit| limit.severity_of(value))
            .max()
    });
    by_value.unwrap_or_else(|| class_in_words(item.if_failed.as_str()))
}

fn item_of<'a>(fleet: &'a Fleet, failed: &FailedItem<'_>) -> Option<&'a Item> {
    let check = &failed.check.fact;
    let programme = fleet.programme_of_check(check)?;
    programme.items.iter().find(|item| item.group == check.group && item.code == failed.item.item)
}

/// The worst class that the words of an item name: `G`, `R` or `W` standing alone. A class that holds for a contest
/// only is watched outside of one. Words without a class ground.
fn class_in_words(words: &str) -> Severity {
    let of_clause = |clause: &str| {
        let said = clause.split(|c: char| !c.is_ascii_alphanumeric());
        let worst = said
            .filter_map(|word| match word {
                "G" => Some(Severity::Ground),
                "R" => Some(Severity::Restrict),
                "W" => Some(Severity::Watch),
                _ => None,
            })
            .max();
        worst.map(|worst| if clause.contains("contest") { Severity::Watch } else { worst })
    };
    words.split(';').filter_map(of_clause).max().unwrap_or(Severity::Ground)
}

fn finding(
    fleet: &Fleet,
    model: Option<ModelId>,
    failed: &FailedItem<'_>,
    position_kind: Option<&str>,
) -> Finding {
    let check = &failed.check.fact;
    let code = &failed.item.item;
    let (on, repair) = match failed.part {
        Some(part) => (format!(" on {}", fleet.component_tag(part)), ", repair it"),
        None => (String::new(), ""),
    };
    let seen = match (failed.item.value, failed.item.note.as_ref()) {
        (Some(value), Some(note)) => format!(", {value}: {note}"),
        (Some(value), None) => format!(", {value}"),
        (None, Some(note)) => format!(": {note}"),
        (None, None) => String::new(),
    };
    let what = item_of(fleet, failed).map(|item| format!(" ({})", item.text)).unwrap_or_default();
    let elsewhere = match check.model {
        Some(then) if model.is_some_and(|now| now != then) => format!(" in {}", fleet.model_tag(then)),
        _ => String::new(),
    };
    Finding::new(
        "check_item_failed",
        class_of(fleet, failed, position_kind),
        code.as_str(),
        format!(
            "{code}{what} was failed{on}{elsewhere} at {}{seen}, and nobody followed it up",
            check.occurred_at
        ),
        format!("pass {code} again{on}{repair}, or report the defect"),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_class_that_the_words_name() {
        for (words, expected) in [
            ("G", Severity::Ground),
            ("R", Severity::Restrict),
            ("W", Severity::Watch),
            ("split G; dent W", Severity::Ground),
            ("loose R; rub W", Severity::Restrict),
            ("G for the pack", Severity::Ground),
            ("R below 5.00; G below 4.50", Severity::Ground),
            ("W; contest G", Severity::Watch),
            ("G for contest", Severity::Watch),
            ("W / R", Severity::Restrict),
            ("by value", Severity::Ground),
            ("Gone Wild", Severity::Ground),
        ] {
            assert_eq!(class_in_words(words), expected, "{words}");
        }
    }
}
