//! One part: where it is, its life line through all models, its readings with limits and forecast, what happened.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::{
    ComponentUsage, TrendQuestion, WearSeries, component_history, component_trend, component_usage,
};
use preen_domain::facts::Subject;
use preen_domain::fleet::Place;
use preen_domain::ids::ComponentId;

use super::draw::life::{LifeLine, life_line};
use super::draw::series::{Chart, chart};
use super::fault::PageFault;
use super::frame::{Frame, Room};
use super::guest::Visit;
use super::photos::{Shown, shown};
use crate::answers::ask::Ask;
use crate::told::{day, moment};

/// Lines of the history that are shown; the newest.
const LINES: usize = 60;

/// Something that happened to the part.
struct Happened {
    day: String,
    kind: String,
    tag: String,
    by: String,
    text: String,
}

/// A stretch in a position, in words.
struct Stretch {
    model: String,
    path: String,
    from: String,
    to: String,
    flights: u64,
    riggings: u64,
}

#[derive(Template)]
#[template(path = "pages/component.html")]
struct ComponentPage {
    frame: Frame,
    tag: String,
    facts: Vec<(&'static str, String)>,
    place: String,
    place_link: Option<String>,
    usage: ComponentUsage,
    life: Option<LifeLine>,
    stretches: Vec<Stretch>,
    series: Vec<(WearSeries, Option<Chart>)>,
    photos: Vec<Shown>,
    history: Vec<Happened>,
    older: usize,
}

fn page(ask: &Ask, frame: Frame, id: ComponentId) -> ComponentPage {
    let fleet = &ask.held.fleet;
    let at = ask.moment.as_of;
    let zone = fleet.club().zone;
    let usage = component_usage(fleet, id, at);
    let file = fleet.component(id);
    let state = file.map(|file| file.state_at(at).as_str().replace('_', " ")).unwrap_or_default();
    let location = file.and_then(|file| file.location_at(at)).unwrap_or_default().to_owned();
    let mut facts = vec![("state", state)];
    if let Some(data) = fleet.component_data(id) {
        let part = fleet.part_of(id).map_or_else(String::new, |part| part.tag.to_string());
        facts.extend([
            ("type", part),
            ("mass without what sits in it", format!("{} g", crate::told::short(data.mass_g))),
        ]);
        let known = [
            ("batch", data.batch.as_ref().map(ToString::to_string)),
            ("serial", data.serial.as_ref().map(ToString::to_string)),
            ("seat", data.seat.as_ref().map(ToString::to_string)),
            ("acquired", data.acquired_on.map(|day| day.to_string())),
            ("note", data.note.as_ref().map(ToString::to_string)),
        ];
        facts.extend(known.into_iter().filter_map(|(name, value)| value.map(|value| (name, value))));
    }
    let (place, place_link) = match fleet.place_at(id, at) {
        Place::InModel(model, path) => {
            let tag = fleet.model_tag(model);
            (format!("in {tag} at {path}"), Some(format!("/models/{tag}")))
        }
        Place::InPanel(panel, path) => {
            let tag = fleet.component_tag(panel);
            (format!("in {tag} at {path}, which is in no model"), Some(format!("/components/{tag}")))
        }
        Place::Loose if location.is_empty() => ("in no model".to_owned(), None),
        Place::Loose => (format!("in no model: {location}"), None),
    };
    let stretches = usage.spans.iter().map(|span| Stretch {
        model: span.model.clone(),
        path: span.path.clone(),
        from: day(span.from, zone),
        to: span.to.map_or_else(|| "today".to_owned(), |to| day(to, zone)),
        flights: span.flights,
        riggings: span.riggings,
    });
    let told = component_history(fleet, id, at);
    let older = told.events.len().saturating_sub(LINES);
    let history = told.events.into_iter().rev().take(LINES).map(|one| Happened {
        day: moment(one.at, zone),
        kind: one.kind,
        tag: one.tag.unwrap_or_default(),
        by: one.by,
        text: one.text,
    });
    let repairs = history_marks(fleet, id, at);
    ComponentPage {
        frame,
        tag: fleet.component_tag(id),
        facts,
        place,
        place_link,
        life: life_line(&usage.spans, &repairs, at, zone),
        stretches: stretches.rev().collect(),
        usage,
        series: component_trend(fleet, id, &TrendQuestion::default(), at)
            .series
            .into_iter()
            .map(|series| {
                let drawn = series.readings.iter().any(|one| one.is_fitted).then(|| chart(&series));
                (series, drawn)
            })
            .collect(),
        photos: shown(fleet, fleet.photos_of(Subject::Component(id)), at),
        history: history.collect(),
        older,
    }
}

/// When it was repaired, and what it was called.
fn history_marks(
    fleet: &preen_domain::fleet::Fleet,
    id: ComponentId,
    at: preen_domain::time::Instant,
) -> Vec<(preen_domain::time::Instant, String)> {
    let file = fleet.component(id);
    let repairs = file.into_iter().flat_map(|file| file.repairs.iter()).filter_map(|id| fleet.repair(*id));
    let repairs = repairs.filter_map(|file| file.repair.as_ref()).map(|one| &one.fact);
    repairs.filter(|fact| fact.occurred_at <= at).map(|fact| (fact.occurred_at, fact.name())).collect()
}

/// Shows a part.
#[get("/components/{tag}")]
async fn show_component(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    let id = ask.component(&tag)?;
    visit.answer(&ask, || {
        let frame = Frame::of(&ask, &visit.actor, Room::Shelf, ask.held.fleet.component_tag(id));
        Ok(page(&ask, frame, id))
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_component);
}
