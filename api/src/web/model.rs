//! One model: drawn with its parts, what stands against it, what falls due, its balance, defects and history.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get};
use askama::Template;
use chrono_tz::Tz;
use preen_domain::answers::{
    Balanced, CAUTION, DefectStanding, DueItem, ModelUsage, ModelVerdict, balance, due_of_model, may_fly_one,
    model_usage, open_defects_of_model, seats as every_seat,
};
use preen_domain::facts::{Inside, Noun, Position, Subject};
use preen_domain::finding::Finding;
use preen_domain::fleet::{Fitted, Fleet};
use preen_domain::ids::ModelId;
use preen_domain::time::Instant;

use super::draw::due_line::{DueLine, due_line};
use super::draw::plan::{Plan, Spot, plan};
use super::draw::range::{Range, range};
use super::fault::PageFault;
use super::frame::{Frame, Room};
use super::guest::Visit;
use super::photos::{Shown, defect_of, shown};
use super::words::{self, Word};
use crate::answers::ask::Ask;
use crate::resources::entry::not_found;
use crate::told::{day, fixed, moment};

/// Lines of the history that are shown; the newest.
const LINES: usize = 25;

/// A seat and what sits in it.
struct Seat {
    path: String,
    name: String,
    tag: String,
    part: String,
    since: String,
    flights: u64,
    word: Option<Word>,
    number: Option<usize>,
    said: Vec<Finding>,
    /// Behind the datum, right of the centreline, above the datum; unknown where the design does not name the seat.
    place_mm: Option<(f64, f64, f64)>,
}

fn place_mm(position: &Position) -> (f64, f64, f64) {
    (position.x_mm, position.y_mm, position.z_mm)
}

/// A line of what happened.
struct Happened {
    at: Instant,
    day: String,
    what: &'static str,
    text: String,
}

#[derive(Template)]
#[template(path = "pages/model.html")]
struct ModelPage {
    frame: Frame,
    model: String,
    design: String,
    owner: String,
    state: Word,
    verdict: ModelVerdict,
    usage: ModelUsage,
    plan: Option<Plan>,
    seats: Vec<Seat>,
    due: DueLine,
    checks: Vec<(Word, DueItem)>,
    balance: Option<(Balanced, Option<Range>)>,
    defects: Vec<(Option<Word>, DefectStanding)>,
    photos: Vec<Shown>,
    history: Vec<Happened>,
    caution: &'static str,
}

/// Whether something said is about a tag or a path, or names it.
fn names(said: &Finding, wanted: &str) -> bool {
    let is_part_of_a_name = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | '/');
    let mut words = said.text.split(|c| !is_part_of_a_name(c)).map(|word| word.trim_end_matches('.'));
    said.subject == wanted || words.any(|word| word == wanted)
}

/// The seats of a model from the nose of the list down: what is fitted, then what is empty.
fn seats(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    (verdict, defects): (&ModelVerdict, &[DefectStanding]),
    at: Instant,
) -> Vec<Seat> {
    let zone = fleet.club().zone;
    let mut number = 0;
    let mut numbered = |said: &[Finding]| {
        (!said.is_empty()).then(|| {
            number += 1;
            number
        })
    };
    let about = |tag: &str, path: &str| -> Vec<Finding> {
        let is_about = |one: &&Finding| {
            let of_defect = defects.iter().find(|defect| defect.defect == one.subject);
            of_defect.is_some_and(|defect| defect.subject == tag) || names(one, tag) || names(one, path)
        };
        verdict.reasons.iter().filter(is_about).cloned().collect()
    };
    let mut made: Vec<Seat> = fitted
        .iter()
        .map(|one| {
            let tag = fleet.component_tag(one.id);
            let said = about(&tag, "\u{0}");
            Seat {
                path: one.path.clone(),
                name: one.position.map_or_else(String::new, |position| position.name.to_string()),
                part: fleet.part_of(one.id).map_or_else(String::new, |part| part.tag.to_string()),
                since: day(one.in_model_since, zone),
                flights: fleet.model_usage(model, one.in_model_since, at).flights,
                word: said.first().map(|worst| words::severity(worst.severity)),
                number: numbered(&said),
                place_mm: one.position.map(place_mm),
                said,
                tag,
            }
        })
        .collect();
    for seat in every_seat(fleet, model, at).into_iter().filter(|seat| seat.held.is_none()) {
        let said = about("\u{0}", &seat.path);
        made.push(Seat {
            name: seat.position.name.to_string(),
            tag: String::new(),
            part: String::new(),
            since: String::new(),
            flights: 0,
            word: said.first().map(|worst| words::severity(worst.severity)),
            number: numbered(&said),
            place_mm: Some(place_mm(seat.position)),
            said,
            path: seat.path,
        });
    }
    made
}

fn spots(seats: &[Seat]) -> Vec<Spot> {
    let made = seats.iter().filter_map(|seat| {
        Some(Spot {
            tag: seat.tag.clone(),
            path: seat.path.clone(),
            place_mm: seat.place_mm?,
            word: seat.word,
            number: seat.number,
        })
    });
    made.collect()
}

/// What happened to a model, the newest first.
fn history(fleet: &Fleet, model: ModelId, at: Instant, zone: Tz) -> Vec<Happened> {
    let Some(file) = fleet.model(model) else { return Vec::new() };
    let mut made = Vec::new();
    let mut put = |at: Instant, what: &'static str, text: String| {
        made.push(Happened { at, day: moment(at, zone), what, text });
    };
    for row in file.flights.until(at).rev().take(LINES) {
        let minutes = f64::from(row.airtime_s) / 60.0;
        let looked = if row.is_post_flight_logged { "" } else { ", no after-flight check" };
        let launches = if row.launches > 1 { format!("{} launches, ", row.launches) } else { String::new() };
        put(
            row.at,
            "flight",
            format!("{launches}{} min, landing {}{looked}", fixed(minutes, 1), row.landing.as_str()),
        );
    }
    for check in file.inspections.until(at).iter().rev().take(LINES) {
        put(check.fact.occurred_at, "check", format!("{}: {}", check.fact.group, check.fact.result.as_str()));
    }
    for weighing in file.weighings.until(at).iter().rev().take(LINES) {
        let fact = &weighing.fact;
        put(
            fact.occurred_at,
            "weighing",
            format!("{} g, CG {} mm", fixed(fact.mass_g, 1), fixed(fact.x_mm, 2)),
        );
    }
    for event in file.events.until(at).iter().rev().take(LINES) {
        put(event.fact.occurred_at, "event", event.fact.kind.as_str().replace('_', " "));
    }
    for occupant in fleet.occupants(Inside::Model(model)) {
        let (tag, span) = (fleet.component_tag(occupant.component), &occupant.span);
        if span.from <= at && !span.is_start_of_record {
            put(span.from, "on", format!("{tag} into {}", span.position));
        }
        if let Some(to) = span.to.filter(|to| *to <= at) {
            put(to, "off", format!("{tag} from {}", span.position));
        }
    }
    let repairs =
        file.repairs.iter().filter_map(|id| fleet.repair(*id)).filter_map(|file| file.repair.as_ref());
    for repair in repairs.filter(|repair| repair.fact.occurred_at <= at) {
        put(repair.fact.occurred_at, "repair", format!("{}: {}", repair.fact.name(), repair.fact.text));
    }
    made.sort_by_key(|one| std::cmp::Reverse(one.at));
    made.truncate(LINES);
    made
}

/// Photos of the model, and those of its parts that show what is wrong with them.
fn photos(
    fleet: &Fleet,
    model: ModelId,
    fitted: &[Fitted<'_>],
    defects: &[DefectStanding],
    at: Instant,
) -> Vec<Shown> {
    let of_parts = fitted.iter().flat_map(|part| fleet.photos_of(Subject::Component(part.id)));
    let is_open = |name: String| defects.iter().any(|open| open.defect == name);
    let of_parts = of_parts.filter(|photo| defect_of(fleet, &photo.fact).is_some_and(is_open));
    shown(fleet, fleet.photos_of(Subject::Model(model)).chain(of_parts), at)
}

fn page(ask: &Ask, frame: Frame, model: ModelId) -> Option<ModelPage> {
    let fleet = &ask.held.fleet;
    let at = ask.moment.as_of;
    let (data, design) = (fleet.model_data(model)?, fleet.design_of(model)?);
    let verdict = may_fly_one(fleet, model, ask.moment)?;
    let fitted = fleet.fitted(model, at);
    let defects = open_defects_of_model(fleet, model, ask.moment);
    let seats = seats(fleet, model, &fitted, (&verdict, &defects), at);
    let held = balance(fleet, model, at);
    let cg = held.as_ref().map(|held| (held.x_mm, held.y_mm, held.z_mm));
    let items = due_of_model(fleet, model, ask.moment);
    let is_judged = verdict.state != preen_domain::words::State::Incomplete;
    Some(ModelPage {
        model: data.tag.to_string(),
        design: design.tag.to_string(),
        owner: data.owner.map_or_else(|| "the club".to_owned(), |owner| fleet.member_tag(owner)),
        state: words::state(verdict.state),
        usage: model_usage(fleet, model, at),
        plan: Some(plan(design, &spots(&seats), cg.filter(|_| is_judged))),
        due: due_line(&items, ask.moment.on),
        checks: items.into_iter().map(|item| (words::check(item.state), item)).collect(),
        balance: held.map(|held| {
            let drawn =
                is_judged.then(|| range(held.x_mm, held.u_x_mm, (held.range.min_mm, held.range.max_mm)));
            (held, drawn)
        }),
        photos: photos(fleet, model, &fitted, &defects, at),
        defects: defects.into_iter().map(|one| (one.severity.map(words::severity), one)).collect(),
        history: history(fleet, model, at, fleet.club().zone),
        caution: CAUTION,
        seats,
        verdict,
        frame,
    })
}

/// Shows a model.
#[get("/models/{tag}")]
async fn show_model(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    let model = ask.model(&tag)?;
    visit.answer(&ask, || {
        let frame = Frame::of(&ask, &visit.actor, Room::Board, ask.held.fleet.model_tag(model));
        Ok(page(&ask, frame, model).ok_or_else(|| not_found(Noun::Models, &tag))?)
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_model);
}
