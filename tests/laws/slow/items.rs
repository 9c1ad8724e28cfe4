//! Items of checks that were failed and that nobody followed up.

use chrono::Days;
use preen_domain::{
    facts::{Inspection, InspectionItem, Repair, Subject},
    ids::{ComponentId, ModelId},
    time::day_of,
    words::{CheckResult, ItemResult, Severity},
};

use super::{
    Asked, Book, checks, defects, each,
    places::{carried, carrier, position_of},
    verdict::Reason,
};

/// One failure: the check, its item, the part it names.
type Failure<'a> = (&'a Inspection, &'a InspectionItem, Option<ComponentId>);

fn all<'a>(book: &'a Book, asked: Asked) -> Vec<Failure<'a>> {
    let mut list: Vec<Failure<'a>> = Vec::new();
    for check in each!(book, Inspection) {
        for item in &check.items {
            if item.result == ItemResult::Fail && check.occurred_at <= asked.as_of {
                list.push((check, item, item.component.or(check.component)));
            }
        }
    }
    let is_newest = |one: &Failure<'a>| {
        !list.iter().any(|other| {
            other.0.group == one.0.group
                && other.1.item == one.1.item
                && other.2 == one.2
                && (one.2.is_some() || one.0.model == other.0.model)
                && (other.0.occurred_at, other.0.id) > (one.0.occurred_at, one.0.id)
        })
    };
    let mut newest: Vec<Failure<'a>> = list.iter().copied().filter(is_newest).collect();
    // An item named twice in one check is one failure.
    newest.dedup_by(|a, b| a.0.id == b.0.id && a.1.item == b.1.item && a.2 == b.2);
    newest
}

/// What they say against a model: its own, and those of every part that it carries.
pub fn reasons(book: &Book, model: ModelId, asked: Asked) -> Vec<Reason> {
    let parts = carried(book, model, asked.as_of);
    let mut list = Vec::new();
    for failure @ (check, item, part) in all(book, asked) {
        let seat = match part {
            None if check.model == Some(model) => None,
            None => continue,
            Some(part) => match parts.iter().find(|carried| carried.component == part) {
                Some(carried) => position_of(book, carried).map(|position| position.kind.as_str()),
                None => continue,
            },
        };
        if !is_followed_up(book, failure, asked) {
            list.push(Reason::new("check_item_failed", class(book, failure, seat), item.item.as_str()));
        }
    }
    list
}

/// The same for parts in no model, as the audit has them.
pub fn of_part(book: &Book, part: ComponentId, asked: Asked) -> Vec<Reason> {
    let own = all(book, asked).into_iter().filter(|failure| failure.2 == Some(part));
    own.filter(|failure| !is_followed_up(book, *failure, asked))
        .map(|failure| Reason::new("check_item_failed", class(book, failure, None), failure.1.item.as_str()))
        .collect()
}

fn class(book: &Book, (check, item, _): Failure<'_>, seat: Option<&str>) -> Severity {
    let programme = checks::programme_of_check(book, check);
    let Some(asked) = programme.and_then(|programme| {
        programme.items.iter().find(|known| known.code == item.item && known.group == check.group)
    }) else {
        return Severity::Ground;
    };
    let mut worst = None;
    for limit in &asked.limits {
        let is_for_seat = limit.position_kinds.is_empty()
            || seat.is_none_or(|seat| limit.position_kinds.iter().any(|kind| kind.as_str() == seat));
        if let Some(value) = item.value
            && is_for_seat
        {
            worst = worst.max(super::readings::class_of(limit, value));
        }
    }
    // The few wordings of the programme of these histories.
    worst.unwrap_or(match asked.if_failed.as_str() {
        "R" | "loose R; rub W" | "W; over 30 N R" => Severity::Restrict,
        "W" | "W; contest G" => Severity::Watch,
        _ => Severity::Ground,
    })
}

fn is_followed_up(book: &Book, failure: Failure<'_>, asked: Asked) -> bool {
    let (check, item, part) = failure;
    let passed_again = each!(book, Inspection).any(|later| {
        let speaks_of_it = |named: Option<ComponentId>| match (part, named) {
            (None, named) => named.is_none() && later.model == check.model,
            (Some(part), Some(named)) => part == named,
            (Some(part), None) => later.model.is_some_and(|model| {
                carrier(book, part, later.occurred_at).is_some_and(|(holder, _)| holder == model)
            }),
        };
        let is_whole_pass = later.result == CheckResult::Pass && speaks_of_it(later.component);
        let has_item = later.items.iter().any(|done| {
            done.item == item.item
                && (done.result == ItemResult::Pass || done.result == ItemResult::NotApplicable)
                && speaks_of_it(done.component.or(later.component))
        });
        later.group == check.group
            && later.occurred_at <= asked.as_of
            && (later.occurred_at, later.id) > (check.occurred_at, check.id)
            && (is_whole_pass || has_item)
    });
    let day = day_of(check.occurred_at, book.zone);
    let is_then = |at| (day..=day + Days::new(1)).contains(&day_of(at, book.zone));
    let reported = each!(book, Defect).any(|defect| {
        let on_part = part.is_some_and(|part| defect.subject == Subject::Component(part));
        let on_model = match part {
            None => check.model == Some(defect.model),
            Some(_) => check.model.is_some_and(|model| defect.subject == Subject::Model(model)),
        };
        let was_open = on_part
            && defect.severity >= class(book, failure, None)
            && defects::is_open(book, defect, check.occurred_at);
        defect.occurred_at <= asked.as_of
            && (was_open || (is_then(defect.occurred_at) && (on_part || on_model)))
    });
    let repaired = each!(book, Repair).any(|repair: &Repair| {
        let is_of_it = match part {
            Some(part) => repair.components.contains(&part),
            None => {
                repair.components.is_empty()
                    && check.model == Some(repair.model)
                    && is_then(repair.occurred_at)
            }
        };
        is_of_it && repair.occurred_at >= check.occurred_at && repair.occurred_at <= asked.as_of
    });
    passed_again || reported || repaired
}

/// Whether the newest check of a group on a part alone was failed, with no done one in the model since.
pub fn failed_alone(book: &Book, model: ModelId, group: &str, part: ComponentId, asked: Asked) -> bool {
    let mut newest: Option<&Inspection> = None;
    for check in each!(book, Inspection) {
        let is_alone = check.component == Some(part) && check.model.is_none();
        if is_alone && check.group.as_str() == group && check.occurred_at <= asked.as_of {
            let is_later =
                newest.is_none_or(|known| (check.occurred_at, check.id) > (known.occurred_at, known.id));
            newest = if is_later { Some(check) } else { newest };
        }
    }
    let Some(newest) = newest.filter(|newest| newest.result == CheckResult::Fail) else { return false };
    !each!(book, Inspection).any(|check| {
        check.model == Some(model)
            && check.group.as_str() == group
            && check.occurred_at <= asked.as_of
            && (check.occurred_at, check.id) > (newest.occurred_at, newest.id)
            && checks::is_done(book, check)
            && carrier(book, part, check.occurred_at).is_some_and(|(holder, _)| holder == model)
    })
}
