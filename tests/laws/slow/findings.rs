//! The main families of the records audit: readings over a limit, leads that cannot be terminated again, loans, and parts
//! apart from their set.

use preen_domain::{
    facts::Subject,
    ids::ModelId,
    time::{Instant, day_of},
    words::{ComponentState, EventKind, PartKind, Severity},
};

use super::{
    Asked, Book, each, fits, items,
    places::{carried, carrier, kind_of, state_at},
    readings,
    verdict::{self, Reason, has_empty_seat},
};

/// The codes that are found here.
pub const CODES: &[&str] = &[
    "reading_beyond_limit",
    "no_re_termination_left",
    "loan_late",
    "loan_ends_soon",
    "loan_begins_soon",
    "pairing_accepted",
    "pairing_not_accepted",
    "check_item_failed",
];

/// Code, severity and subject of every finding of these families.
pub fn all(book: &Book, asked: Asked) -> Vec<Reason> {
    let mut list = Vec::new();
    let models: Vec<ModelId> =
        book.models().into_iter().filter(|model| !is_gone(book, *model, asked)).collect();
    for model in &models {
        let programme = book.programme(*model);
        let own = programme
            .map(|programme| readings::beyond(book, Subject::Model(*model), programme, None, asked.as_of));
        for severity in own.into_iter().flatten() {
            list.push(Reason::new("reading_beyond_limit", severity, book.model(*model).tag.as_str()));
        }
        list.extend(items::reasons(book, *model, asked));
        if !has_empty_seat(book, *model, asked) {
            list.extend(fits::reasons(book, *model, asked));
        }
    }
    for component in book.components() {
        let state = state_at(book, component, asked.as_of);
        if state != ComponentState::Serviceable && state != ComponentState::NewUntested {
            continue;
        }
        let holder = carrier(book, component, asked.as_of).map(|(model, _)| model);
        if holder.is_some_and(|model| !models.contains(&model)) {
            continue;
        }
        if holder.is_none() {
            list.extend(items::of_part(book, component, asked));
        }
        let tag = book.component(component).tag.as_str();
        let kind = readings::kind_of_seat(book, component, asked.as_of);
        if let Some(programme) = readings::programme_for(book, holder) {
            let subject = Subject::Component(component);
            for severity in readings::beyond(book, subject, programme, kind.as_deref(), asked.as_of) {
                list.push(Reason::new("reading_beyond_limit", severity, tag));
            }
        }
        if kind_of(book, component) == PartKind::ConnectorHalf
            && let Some(slack_mm) = readings::slack_left(book, component, asked.as_of)
            && slack_mm < 17.0
        {
            list.push(Reason::new("no_re_termination_left", Severity::Watch, tag));
        }
    }
    loans(book, &models, asked, &mut list);
    list.sort();
    list
}

pub fn is_gone(book: &Book, model: ModelId, asked: Asked) -> bool {
    each!(book, Event).any(|event| {
        event.model == model
            && event.occurred_at <= asked.as_of
            && matches!(event.kind, EventKind::Sold | EventKind::Lost | EventKind::WrittenOff)
    })
}

fn loans(book: &Book, models: &[ModelId], asked: Asked, list: &mut Vec<Reason>) {
    for loan in each!(book, Loan) {
        let is_back =
            each!(book, LoanReturn).any(|back| back.loan == loan.id && back.occurred_at <= asked.as_of);
        if loan.occurred_at > asked.as_of || is_back {
            continue;
        }
        let (tag, is_fitted) = match loan.item {
            Subject::Model(model) if models.contains(&model) => (book.model(model).tag.to_string(), false),
            Subject::Model(_) => continue,
            Subject::Component(part) => {
                let holder = carrier(book, part, asked.as_of).map(|(model, _)| model);
                if holder.is_some_and(|model| !models.contains(&model)) {
                    continue;
                }
                let is_fitted = holder.is_some_and(|model| {
                    carried(book, model, asked.as_of).iter().any(|carried| carried.component == part)
                });
                (book.component(part).tag.to_string(), is_fitted)
            }
        };
        let days = |on: chrono::NaiveDate| (on - asked.on).num_days();
        if asked.on > loan.due_back_on {
            let severity = if is_fitted { Severity::Restrict } else { Severity::Watch };
            list.push(Reason::new("loan_late", severity, tag));
        } else if loan.from_on > asked.on {
            if days(loan.from_on) <= 14 {
                list.push(Reason::new("loan_begins_soon", Severity::Watch, tag));
            }
        } else if days(loan.due_back_on) <= 14 {
            list.push(Reason::new("loan_ends_soon", Severity::Watch, tag));
        }
    }
}

/// Code, subject and number of the flights that were flown while something grounded the model, flight by flight.
pub fn flown_while_grounded(book: &Book, models: &[ModelId], as_of: Instant) -> Vec<(String, String, usize)> {
    let mut list: Vec<(String, String, usize)> = Vec::new();
    for model in models.iter().copied() {
        let tag = book.model(model).tag.to_string();
        let mut of_model: Vec<(String, String)> = Vec::new();
        for flight in each!(book, Flight) {
            if flight.model != model || flight.occurred_at > as_of {
                continue;
            }
            let before = Instant::from_micros(flight.occurred_at.micros() - 1);
            let on = day_of(flight.occurred_at, book.zone);
            let then = Asked { as_of: before, on, pilot: None };
            let mut grounds: Vec<(String, String)> = verdict::of_model(book, model, then)
                .reasons
                .into_iter()
                .filter(|reason| reason.severity == Severity::Ground)
                .filter(|reason| reason.code != "check_never_done" && reason.code != "on_loan")
                .map(|reason| (reason.code, reason.subject))
                .collect();
            grounds.sort();
            grounds.dedup();
            of_model.extend(grounds);
        }
        of_model.sort();
        for (code, subject) in of_model {
            let is_same =
                list.last().is_some_and(|(of, known, _)| *of == format!("{tag} {code}") && *known == subject);
            if is_same {
                list.last_mut().unwrap().2 += 1;
            } else {
                list.push((format!("{tag} {code}"), subject, 1));
            }
        }
    }
    list.sort();
    list
}
