//! Open defects of a model and what it carries, with the class each has on the day asked about and the terms it is
//! flown with.

use chrono::{Days, NaiveDate};
use preen_domain::{
    facts::{Defect, Fact, Noun, Restriction, Subject},
    ids::{DeferralId, MemberId, ModelId, PartId},
    time::{Instant, day_of},
    words::{ClosureKind, DefectCause, PartKind, RestrictionKind, Severity},
};

use super::{
    Asked, Book, checks, each,
    places::{carried, carrier, kind_of, positions, stay_at},
};

pub struct Open<'a> {
    pub defect: &'a Defect,
    pub severity: Severity,
    /// Flights until it grounds.
    pub flights_left: Option<i64>,
    /// Flights until its class rises by itself.
    pub any_flights_left: Option<i64>,
    /// Last day before its class rises by itself, where a day does that.
    pub limit_on: Option<NaiveDate>,
    /// Kind, number and day of each restriction that still holds.
    pub restrictions: Vec<(RestrictionKind, Option<f64>, Option<NaiveDate>)>,
}

impl Open<'_> {
    pub fn name(&self) -> String {
        name(self.defect)
    }
}

/// Its tag, or its id.
pub fn name(defect: &Defect) -> String {
    defect.tag.as_ref().map_or_else(|| defect.id.to_string(), ToString::to_string)
}

/// Who signed its deferrals, the first one first; stated with the defect itself, who found it did.
pub fn signers(book: &Book, defect: &Defect, as_of: Instant) -> Vec<MemberId> {
    let mut list: Vec<((Instant, Option<DeferralId>), MemberId)> = Vec::new();
    for recorded in book.of_noun(Noun::Defects).chain(book.of_noun(Noun::Deferrals)) {
        match &recorded.fact {
            Fact::Defect(found) if found.id == defect.id && is_deferred_at_once(found) => {
                list.push(((found.occurred_at, None), found.found_by.unwrap_or(recorded.recorded_by)));
            }
            Fact::Deferral(later) if later.defect == defect.id && later.occurred_at <= as_of => {
                let by = later.deferred_by.unwrap_or(recorded.recorded_by);
                list.push(((later.occurred_at, Some(later.id)), by));
            }
            _ => {}
        }
    }
    list.sort();
    list.into_iter().map(|(_, by)| by).collect()
}

fn is_deferred_at_once(defect: &Defect) -> bool {
    defect.restriction.is_some()
        || !defect.restrictions.is_empty()
        || (defect.severity == Severity::Watch && defect.fix_by_on.is_some())
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
            list.push(judge(book, defect, asked));
        }
    }
    list
}

/// What was said last about how it may be flown.
struct Said<'a> {
    at: Instant,
    restrictions: Vec<&'a Restriction>,
    fix_by_on: Option<NaiveDate>,
    within_flights: Option<u32>,
    is_extension: bool,
}

fn said_last<'a>(book: &'a Book, defect: &'a Defect, as_of: Instant) -> Said<'a> {
    let mut times = u32::from(is_deferred_at_once(defect));
    let mut last = None;
    for deferral in each!(book, Deferral) {
        if deferral.defect != defect.id || deferral.occurred_at > as_of {
            continue;
        }
        times += 1;
        let key = (deferral.occurred_at, deferral.id);
        if last.is_none_or(|(known, _)| key > known) {
            last = Some((key, deferral));
        }
    }
    match last {
        Some((_, deferral)) => Said {
            at: deferral.occurred_at,
            restrictions: deferral.restrictions.iter().collect(),
            fix_by_on: deferral.fix_by_on,
            within_flights: deferral.within_flights,
            is_extension: times > 1,
        },
        None => Said {
            at: defect.occurred_at,
            restrictions: defect.restriction.iter().chain(&defect.restrictions).collect(),
            fix_by_on: defect.fix_by_on,
            within_flights: None,
            is_extension: false,
        },
    }
}

/// Flights with it on board since then, in whichever model it was.
fn flown_with(book: &Book, defect: &Defect, since: Instant, as_of: Instant) -> i64 {
    let mut count = 0;
    for flight in each!(book, Flight) {
        let at = flight.occurred_at;
        if since <= at && at <= as_of && is_in(book, defect, flight.model, at) {
            count += 1;
        }
    }
    count
}

fn is_in(book: &Book, defect: &Defect, model: ModelId, at: Instant) -> bool {
    match defect.subject {
        Subject::Model(of) => of == model,
        Subject::Component(part) => carrier(book, part, at).is_some_and(|(of, _)| of == model),
    }
}

/// At its limit R becomes G and W becomes R by itself: a stated last day, else 30 days for R and the next N25 for W; a
/// count of flights where one is stated. After a day that a restriction names, or with its flights flown, it is G.
pub fn judge<'a>(book: &Book, defect: &'a Defect, asked: Asked) -> Open<'a> {
    let said = said_last(book, defect, asked.as_of);
    let flown = flown_with(book, defect, said.at, asked.as_of);
    let left = |allowed: i64| if allowed > flown { allowed - flown } else { 0 };
    let mut until_on: Option<NaiveDate> = None;
    let mut any_day: Option<NaiveDate> = None;
    let mut flights_left: Option<i64> = None;
    let mut restrictions = Vec::new();
    for restriction in &said.restrictions {
        let mut number = restriction.value;
        if let (RestrictionKind::MaxFlights, Some(allowed)) = (restriction.kind, restriction.value) {
            let more = left(allowed.floor() as i64);
            flights_left = Some(flights_left.map_or(more, |known| known.min(more)));
            number = Some(more as f64);
        }
        if let Some(day) = restriction.until_on {
            any_day = Some(any_day.map_or(day, |known| known.min(day)));
            if restriction.kind == RestrictionKind::UntilDate {
                until_on = Some(until_on.map_or(day, |known| known.min(day)));
            }
        }
        restrictions.push((restriction.kind, number, restriction.until_on.or(said.fix_by_on)));
    }
    let is_forbidden =
        until_on.is_some_and(|day| asked.on > day) || flights_left.is_some_and(|more| more <= 0);
    let within_left = said.within_flights.map(|within| left(i64::from(within)));
    let stated = said.fix_by_on.or(any_day);
    let any_flights_left = match (within_left, flights_left) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    };
    let from = if said.is_extension { said.at } else { defect.occurred_at };
    let limit_on = match defect.severity {
        Severity::Ground => None,
        Severity::Restrict => Some(stated.unwrap_or(day_of(from, book.zone) + Days::new(30))),
        Severity::Watch => stated,
    };
    let is_flown_off = within_left.is_some_and(|more| more <= 0);
    let severity = match defect.severity {
        Severity::Ground => Severity::Ground,
        _ if is_forbidden => Severity::Ground,
        Severity::Restrict => {
            if limit_on.is_some_and(|last_on| asked.on > last_on) || is_flown_off {
                Severity::Ground
            } else {
                Severity::Restrict
            }
        }
        Severity::Watch => {
            let is_over = match stated {
                Some(last_on) => asked.on > last_on,
                None => each!(book, Inspection).any(|inspection| {
                    inspection.group.as_str() == "N25"
                        && checks::is_done(book, inspection)
                        && inspection.occurred_at > said.at
                        && inspection.occurred_at <= asked.as_of
                        && inspection
                            .model
                            .is_some_and(|model| is_in(book, defect, model, inspection.occurred_at))
                }),
            };
            if is_over || is_flown_off { Severity::Restrict } else { Severity::Watch }
        }
    };
    if defect.severity == Severity::Restrict
        && let Some(more) = within_left
    {
        flights_left = Some(flights_left.map_or(more, |known| known.min(more)));
        restrictions.push((RestrictionKind::MaxFlights, Some(more as f64), said.fix_by_on));
    }
    if severity == Severity::Ground {
        restrictions.clear();
    }
    Open { defect, severity, flights_left, any_flights_left, limit_on, restrictions }
}

/// What two defects have in common that are the same: cause, kind of part and of position, or place on a model.
type Sort = (DefectCause, Option<PartKind>, Option<String>, Option<String>);

fn sort_of(book: &Book, defect: &Defect) -> Option<Sort> {
    let cause = defect.cause?;
    if cause == DefectCause::Unknown || cause == DefectCause::Other {
        return None;
    }
    match defect.subject {
        Subject::Model(_) => {
            Some((cause, None, None, Some(defect.place.as_ref()?.to_string().to_lowercase())))
        }
        Subject::Component(part) => {
            let stay = stay_at(book, part, defect.occurred_at);
            let position = stay.and_then(|stay| {
                positions(book, stay.inside).into_iter().find(|position| position.path == stay.position)
            });
            let kind = position.map(|position| position.kind.to_string());
            Some((cause, Some(kind_of(book, part)), kind, None))
        }
    }
}

/// Names of defects that came back on their model within 50 flights or 90 days and say nothing of why.
pub fn came_back(book: &Book, as_of: Instant) -> Vec<String> {
    let counts = |defect: &&Defect| {
        let is_found_wrong = each!(book, Closure).any(|closure| {
            closure.defect == defect.id
                && closure.occurred_at <= as_of
                && closure.kind == ClosureKind::FoundWrong
        });
        defect.occurred_at <= as_of && !is_found_wrong && sort_of(book, defect).is_some()
    };
    let mut list = Vec::new();
    for later in each!(book, Defect).filter(counts) {
        let has_earlier = each!(book, Defect).filter(counts).any(|earlier| {
            let between = each!(book, Flight)
                .filter(|flight| {
                    flight.model == later.model
                        && earlier.occurred_at <= flight.occurred_at
                        && flight.occurred_at < later.occurred_at
                })
                .count();
            let days = day_of(later.occurred_at, book.zone) - day_of(earlier.occurred_at, book.zone);
            (earlier.occurred_at, earlier.id) < (later.occurred_at, later.id)
                && earlier.model == later.model
                && sort_of(book, earlier) == sort_of(book, later)
                && (between <= 50 || days.num_days() <= 90)
        });
        if has_earlier && later.cause_note.is_none() {
            list.push(later.tag.as_ref().map_or_else(|| later.id.to_string(), ToString::to_string));
        }
    }
    list.sort();
    list
}

/// What a campaign is asked over: part types with their batches, each where the same defect was found on three models
/// within 90 days of the newest and some of them are covered by no campaign.
pub fn campaigns_suggested(book: &Book, as_of: Instant) -> Vec<String> {
    let mut sorts: Vec<Sort> = Vec::new();
    let is_found_wrong = |defect: &Defect| {
        each!(book, Closure).any(|closure| {
            closure.defect == defect.id
                && closure.occurred_at <= as_of
                && closure.kind == ClosureKind::FoundWrong
        })
    };
    let mut known: Vec<(&Defect, Sort)> = Vec::new();
    for defect in each!(book, Defect) {
        let Some(sort) = sort_of(book, defect) else { continue };
        if defect.occurred_at > as_of || is_found_wrong(defect) || matches!(defect.subject, Subject::Model(_))
        {
            continue;
        }
        if !sorts.contains(&sort) {
            sorts.push(sort.clone());
        }
        known.push((defect, sort));
    }
    let mut list = Vec::new();
    for sort in sorts {
        let same: Vec<&Defect> =
            known.iter().filter(|(_, of)| *of == sort).map(|(defect, _)| *defect).collect();
        let on = |defect: &Defect| day_of(defect.occurred_at, book.zone);
        let newest_on = same.iter().map(|defect| on(defect)).max().unwrap();
        let recent: Vec<&Defect> =
            same.into_iter().filter(|defect| on(defect) + Days::new(90) >= newest_on).collect();
        let mut models: Vec<ModelId> = recent.iter().map(|defect| defect.model).collect();
        models.sort();
        models.dedup();
        if models.len() < 3 {
            continue;
        }
        let mut types: Vec<(PartId, Option<String>)> = Vec::new();
        for defect in recent {
            let Subject::Component(part) = defect.subject else { continue };
            let data = book.component(part);
            types.push((data.part, data.batch.as_ref().map(ToString::to_string)));
        }
        types.sort();
        types.dedup();
        let is_open_case = types.iter().any(|(part, batch)| {
            !each!(book, Campaign).any(|campaign| {
                campaign.occurred_at <= as_of
                    && campaign.part == *part
                    && (campaign.batch.is_none()
                        || campaign.batch.as_ref().map(ToString::to_string) == *batch)
                    && (campaign.position_kind.is_none()
                        || campaign.position_kind.as_ref().map(ToString::to_string) == sort.2)
            })
        });
        if is_open_case {
            let named = |(part, batch): &(PartId, Option<String>)| match batch {
                Some(batch) => format!("{}/{batch}", book.part(*part).tag),
                None => book.part(*part).tag.to_string(),
            };
            list.push(types.iter().map(named).collect::<Vec<_>>().join(", "));
        }
    }
    list.sort();
    list
}
