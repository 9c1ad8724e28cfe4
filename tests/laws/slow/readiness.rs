//! What falls due before a last round, in plain words: the counter now and everything that may still be flown reaches
//! the due point, or its day comes; whatever an event opened and whatever was never done. Tolerance counts for nothing.

use chrono::{Days, NaiveDate};
use preen_domain::{
    ids::ModelId,
    words::{CheckState, Counter},
};

use super::{
    Asked, Book,
    checks::{self, Check},
    usage,
};

/// Code of a group, whether it falls due, and whether done today it would do so again.
pub type Said = (String, bool, Option<bool>);

/// What lies ahead.
#[derive(Debug, Clone, Copy)]
pub struct Coming {
    pub training: i64,
    pub rounds: i64,
    pub first_on: NaiveDate,
    pub last_on: NaiveDate,
}

/// A part of a total in proportion, a started one counted whole.
fn share(total: u64, flights: u64, of: i64) -> i64 {
    let (total, flights) = (i64::try_from(total).unwrap(), i64::try_from(flights.max(1)).unwrap());
    let mut whole = total * of / flights;
    if whole * flights < total * of {
        whole += 1;
    }
    whole
}

fn added(book: &Book, model: ModelId, counter: Counter, asked: Asked, coming: Coming) -> i64 {
    let used = usage::of_model(book, model, |at| at <= asked.as_of);
    let days = (coming.last_on - coming.first_on).num_days() + 1;
    match counter {
        Counter::Flights | Counter::Launches | Counter::Charges => coming.training + coming.rounds,
        Counter::MotorS => {
            share(used.motor_s, used.flights, coming.training)
                + share(used.motor_s, used.flights, coming.rounds)
        }
        Counter::AirtimeH => {
            let hours = (used.airtime_min / 60.0 + 1e-9).floor() as u64 + 1;
            share(hours, used.flights, coming.training) + share(hours, used.flights, coming.rounds)
        }
        Counter::Riggings | Counter::Matings => share(used.riggings, used.flights, coming.training) + days,
    }
}

/// Every check of a model, in the order of its programme.
pub fn of_model(book: &Book, model: ModelId, asked: Asked, coming: Coming) -> Vec<Said> {
    let programme = book.programme(model).unwrap();
    let mut list = Vec::new();
    for check in checks::of_model(book, model, asked) {
        let group = programme.groups.iter().find(|group| group.code.as_str() == check.group).unwrap();
        let last = match (check.due_at_count, check.now_at_count, group.counter) {
            (Some(_), Some(now), Some(counter)) => Some(now + added(book, model, counter, asked, coming)),
            _ => None,
        };
        let mut falls = check.state == CheckState::NeverDone || !check.opened_by.is_empty();
        falls |= matches!((check.due_at_count, last), (Some(due), Some(last)) if due <= last);
        falls |= check.due_on.is_some_and(|on| on <= coming.last_on);
        let has_interval =
            group.every_count.is_some() || group.every_days.is_some() || group.every_months.is_some();
        let again = (falls && has_interval).then(|| again(&check, group, last, asked, coming));
        list.push((check.group, falls, again));
    }
    list
}

fn again(
    check: &Check,
    group: &preen_domain::facts::Group,
    last: Option<i64>,
    asked: Asked,
    coming: Coming,
) -> bool {
    let mut again = false;
    if let (Some(every), Some(now), Some(last)) = (group.every_count, check.now_at_count, last) {
        let base = match check.due_at_count {
            Some(due) if now >= due && now <= due + check.tolerance_count => due,
            _ => now,
        };
        again |= base + i64::from(every) <= last;
    }
    let next_on: Option<Box<dyn Fn(NaiveDate) -> NaiveDate>> = match (group.every_days, group.every_months) {
        (Some(days), _) => Some(Box::new(move |from| from + Days::new(u64::from(days)))),
        (None, Some(months)) => Some(Box::new(move |from| checks::months_after(from, months))),
        (None, None) => None,
    };
    if let Some(next_on) = next_on {
        let base = match check.due_on {
            Some(due) if asked.on >= due && asked.on <= due + Days::new(u64::from(group.tolerance_days)) => {
                due
            }
            _ => asked.on,
        };
        again |= next_on(base) <= coming.last_on;
    }
    again
}
