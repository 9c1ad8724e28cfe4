//! Open defects of a model and what it carries, with the class each has on the day asked about.

use chrono::Days;
use preen_domain::{
    facts::{Defect, Subject},
    ids::ModelId,
    time::{Instant, day_of},
    words::{CheckResult, RestrictionKind, Severity},
};

use super::{Asked, Book, each, places::carried, usage};

pub struct Open<'a> {
    pub defect: &'a Defect,
    pub severity: Severity,
    pub flights_left: Option<i64>,
}

impl Open<'_> {
    pub fn name(&self) -> String {
        self.defect.tag.as_ref().map_or_else(|| self.defect.id.to_string(), ToString::to_string)
    }
}

/// Found by then, and neither closed nor mended by a released repair.
pub fn is_open(book: &Book, defect: &Defect, as_of: Instant) -> bool {
    let is_closed =
        each!(book, Closure).any(|closure| closure.defect == defect.id && closure.occurred_at <= as_of);
    let is_mended = each!(book, Repair).any(|repair| {
        repair.defect == Some(defect.id)
            && each!(book, Release).any(|release| release.repair == repair.id && release.occurred_at <= as_of)
    });
    defect.occurred_at <= as_of && !is_closed && !is_mended
}

pub fn open_on<'a>(book: &'a Book, model: ModelId, asked: Asked) -> Vec<Open<'a>> {
    let parts = carried(book, model, asked.as_of);
    let mut list = Vec::new();
    for defect in each!(book, Defect) {
        let here = match defect.subject {
            Subject::Model(of) => of == model,
            Subject::Component(of) => parts.iter().any(|part| part.component == of),
        };
        if here && is_open(book, defect, asked.as_of) {
            list.push(judge(book, model, defect, asked));
        }
    }
    list
}

/// At its limit R becomes G and W becomes R by itself: a stated last day, else 30 days for R and the next N25 for W;
/// a count of flights where one is stated.
fn judge<'a>(book: &Book, model: ModelId, defect: &'a Defect, asked: Asked) -> Open<'a> {
    let restriction = defect.restriction.as_ref();
    let mut flights_left = None;
    if let Some(restriction) = restriction
        && restriction.kind == RestrictionKind::MaxFlights
        && let Some(allowed) = restriction.value
    {
        let flown = usage::of_model(book, model, |at| defect.occurred_at <= at && at <= asked.as_of).flights;
        flights_left = Some(allowed.floor() as i64 - i64::try_from(flown).unwrap());
    }
    let stated = defect.fix_by_on.or(restriction.and_then(|restriction| restriction.until_on));
    let severity = match defect.severity {
        Severity::Ground => Severity::Ground,
        Severity::Restrict => {
            let last_on = stated.unwrap_or(day_of(defect.occurred_at, book.zone) + Days::new(30));
            let is_flown_off = flights_left.is_some_and(|left| left <= 0);
            if asked.on > last_on || is_flown_off { Severity::Ground } else { Severity::Restrict }
        }
        Severity::Watch => {
            let is_over = match stated {
                Some(last_on) => asked.on > last_on,
                None => each!(book, Inspection).any(|inspection| {
                    inspection.model == Some(model)
                        && inspection.group.as_str() == "N25"
                        && inspection.result != CheckResult::Fail
                        && inspection.occurred_at > defect.occurred_at
                        && inspection.occurred_at <= asked.as_of
                }),
            };
            if is_over { Severity::Restrict } else { Severity::Watch }
        }
    };
    Open { defect, severity, flights_left }
}
