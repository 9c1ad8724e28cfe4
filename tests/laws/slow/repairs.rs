//! Repairs with their work: until when they cure, what has to be looked at again, and whether they were flown since.
//! What a sheet asks for is data of the product; how it counts is written anew here.

use preen_domain::{
    facts::{Group, Repair, RepairStep},
    ids::ModelId,
    time::Instant,
    words::Opener,
    worksheets::{Reopened, worksheet},
};

use super::{
    Book, checks, each,
    places::{carried, carrier},
};

/// Its tag, or its id.
pub fn name(repair: &Repair) -> String {
    repair.tag.as_ref().map_or_else(|| repair.id.to_string(), ToString::to_string)
}

fn work<'a>(book: &'a Book, repair: &'a Repair, as_of: Instant) -> impl Iterator<Item = &'a RepairStep> {
    each!(book, RepairStep).filter(move |work| work.repair == repair.id && work.occurred_at <= as_of)
}

/// Hours until it carries, and whether it may carry structure.
fn hours(resin: &str, temperature_c: Option<f64>) -> (f64, bool) {
    match resin {
        "five_minute_epoxy" => (24.0, false),
        "thirty_minute_epoxy" => (24.0, true),
        "cyanoacrylate" | "hinge_tape" => (1.0, false),
        "canopy_adhesive" => (3.0, false),
        _ => {
            let above_20 = temperature_c.unwrap() - 20.0;
            (24.0 * (-above_20 / 10.0 * std::f64::consts::LN_2).exp(), true)
        }
    }
}

/// The latest end of all cures begun by a moment.
pub fn cures_until(book: &Book, repair: &Repair, as_of: Instant) -> Option<Instant> {
    let mut latest = repair.cure_until_at;
    for done in work(book, repair, as_of) {
        let until = match (done.cure_until_at, done.resin) {
            (Some(until), _) => Some(until),
            (None, None) => None,
            (None, Some(resin)) => {
                let (mut hours, carries) = hours(resin.as_str(), done.temperature_c);
                if carries {
                    hours = hours.max(worksheet(repair.kind).shortest_cure_h.unwrap_or(0.0));
                }
                let minutes = (hours * 60.0 - 1e-6).ceil() as i64;
                Some(done.cure_started_at.unwrap_or(done.occurred_at).plus_seconds(60 * minutes))
            }
        };
        latest = latest.max(until);
    }
    latest
}

/// When the work was over: the start, the last entry, the end of the last cure.
pub fn over_at(book: &Book, repair: &Repair, as_of: Instant) -> Instant {
    let mut last = repair.occurred_at;
    for done in work(book, repair, as_of).filter(|done| !done.is_second_look) {
        last = last.max(done.occurred_at);
    }
    cures_until(book, repair, as_of).map_or(last, |until| until.max(last))
}

fn released_at(book: &Book, repair: &Repair, as_of: Instant) -> Option<Instant> {
    let mut list = each!(book, Release).filter(|release| release.repair == repair.id);
    list.find(|release| release.occurred_at <= as_of).map(|release| release.occurred_at)
}

/// Repairs of the model, or of a part that it carries.
fn here(book: &Book, model: ModelId, as_of: Instant) -> Vec<&Repair> {
    let parts = carried(book, model, as_of);
    let is_here = |repair: &&Repair| {
        if repair.components.is_empty() {
            repair.model == model
        } else {
            parts.iter().any(|part| repair.components.contains(&part.component))
        }
    };
    each!(book, Repair).filter(is_here).filter(|repair| repair.occurred_at <= as_of).collect()
}

/// Released repairs whose sheet was ticked and asks for a group.
pub fn asking_for<'a>(book: &'a Book, model: ModelId, group: &Group, as_of: Instant) -> Vec<&'a Repair> {
    let code = group.code.as_str();
    let mut list = Vec::new();
    for repair in here(book, model, as_of) {
        let is_ticked = work(book, repair, as_of).any(|done| !done.steps.is_empty());
        let asks = asked_of(repair, code).is_some();
        let is_released = released_at(book, repair, as_of).is_some();
        if group.opened_by != Some(Opener::Repair) && is_ticked && asks && is_released {
            list.push(repair);
        }
    }
    list
}

fn asked_of(repair: &Repair, code: &str) -> Option<&'static Reopened> {
    worksheet(repair.kind).reopens.iter().find(|one| {
        let interval = code.strip_prefix(one.group.as_str());
        interval.is_some_and(|rest| rest.chars().all(|c| c.is_ascii_digit()))
    })
}

/// The items of a group that its sheet asks for.
pub fn items_of(repair: &Repair, group: &Group) -> &'static [String] {
    asked_of(repair, group.code.as_str()).map_or(&[][..], |asked| asked.items.as_slice())
}

/// Released repairs that restrict the first flight after them and were not flown since, with the check after that
/// flight passed.
pub fn unflown(book: &Book, model: ModelId, as_of: Instant) -> Vec<String> {
    let mut list = Vec::new();
    for repair in here(book, model, as_of) {
        let Some(since) = released_at(book, repair, as_of) else { continue };
        if !worksheet(repair.kind).restricts_first_flight {
            continue;
        }
        let parts = carried(book, model, as_of);
        let mut is_flown = true;
        if repair.components.is_empty() {
            is_flown = flown(book, since, as_of, |_, of| of == model);
        }
        for mended in &repair.components {
            if parts.iter().any(|part| part.component == *mended) {
                is_flown &= flown(book, since, as_of, |at, of| {
                    carrier(book, *mended, at).is_some_and(|(model, _)| model == of)
                });
            }
        }
        if !is_flown {
            list.push(name(repair));
        }
    }
    list
}

/// Whether there was such a flight with its check.
fn flown(book: &Book, since: Instant, as_of: Instant, counts: impl Fn(Instant, ModelId) -> bool) -> bool {
    each!(book, Flight).any(|flight| {
        let is_checked = || {
            each!(book, Inspection).any(|check| {
                let is_since = check.occurred_at >= flight.occurred_at && check.occurred_at <= as_of;
                check.model == Some(flight.model)
                    && is_since
                    && checks::is_done(book, check)
                    && book.programme(flight.model).is_some_and(|programme| {
                        let mut groups = programme.groups.iter();
                        groups.any(|group| {
                            group.code == check.group && group.opened_by == Some(Opener::EachFlight)
                        })
                    })
            })
        };
        flight.occurred_at >= since
            && flight.occurred_at <= as_of
            && counts(flight.occurred_at, flight.model)
            && (flight.is_post_flight_logged || is_checked())
    })
}
