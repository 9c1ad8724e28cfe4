//! The fleet board of a chosen day: which models may fly, the one reason that matters most, what falls due next.

use std::sync::Arc;

use actix_web::web::ServiceConfig;
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::{FleetBoard, ModelVerdict, NextDue, may_fly};
use preen_domain::facts::Noun;
use preen_domain::finding::Finding;
use preen_domain::fleet::Fleet;
use preen_domain::ids::ModelId;
use preen_domain::words::State;

use super::fault::PageFault;
use super::frame::{Frame, Room};
use super::guest::Visit;
use super::words::{self, Word};
use crate::answers::ask::Ask;
use crate::desk::BOARDS;
use crate::told::short;

/// What the board can be narrowed to.
const FILTERS: &[&str] = &["owner", "design", "state"];

/// One model on the board.
struct Row {
    model: String,
    design: String,
    owner: String,
    state: Word,
    restrictions: Vec<String>,
    reason: Option<Finding>,
    more: usize,
    flights_left: Option<i64>,
    next_due: Option<NextDue>,
}

/// A choice of a filter.
struct Choice {
    value: String,
    text: String,
    is_chosen: bool,
}

#[derive(Template)]
#[template(path = "pages/board.html")]
struct BoardPage {
    frame: Frame,
    on: String,
    rows: Vec<Row>,
    owners: Vec<Choice>,
    designs: Vec<Choice>,
    states: Vec<Choice>,
    is_narrowed: bool,
    /// How many of those shown stand in each state, as a sentence.
    counts: Vec<(Word, usize)>,
    caution: String,
}

/// A restriction in words.
pub fn restriction(one: &preen_domain::answers::Tightest) -> String {
    let words = one.kind.as_str().replace('_', " ");
    match (one.value, one.until_on) {
        (Some(value), _) => format!("{words}: {}", short(value)),
        (None, Some(day)) => format!("{words}: {day}"),
        (None, None) => words,
    }
}

fn row(fleet: &Fleet, model: Option<ModelId>, verdict: ModelVerdict) -> Row {
    let design = model.and_then(|id| fleet.design_of(id)).map(|design| design.tag.to_string());
    let mut reasons = verdict.reasons.into_iter();
    let reason = reasons.next();
    Row {
        design: design.unwrap_or_default(),
        owner: verdict.owner.unwrap_or_else(|| "club".to_owned()),
        state: words::state(verdict.state),
        restrictions: verdict.tightest.iter().map(restriction).collect(),
        reason,
        more: reasons.count(),
        flights_left: verdict.flights_left,
        next_due: verdict.next_due,
        model: verdict.model,
    }
}

fn choices(mut values: Vec<String>, chosen: Option<&str>) -> Vec<Choice> {
    values.sort();
    values.dedup();
    let made = values.into_iter().map(|value| Choice {
        is_chosen: chosen == Some(value.as_str()),
        text: value.replace('_', " "),
        value,
    });
    made.collect()
}

fn page(ask: &Ask, board: FleetBoard, frame: Frame) -> BoardPage {
    let fleet = &ask.held.fleet;
    let wanted = |name: &str| ask.parameter(name).filter(|value| !value.is_empty());
    let seen: Vec<(State, Row)> = board
        .models
        .into_iter()
        .filter(|verdict| ask.sees_model_tagged(&verdict.model))
        .map(|verdict| {
            let id = ask.held.names.find(Noun::Models, &verdict.model).map(ModelId);
            (verdict.state, row(fleet, id, verdict))
        })
        .collect();
    let owners = choices(seen.iter().map(|(_, row)| row.owner.clone()).collect(), wanted("owner"));
    let designs = choices(seen.iter().map(|(_, row)| row.design.clone()).collect(), wanted("design"));
    let states = choices(seen.iter().map(|(state, _)| state.as_str().to_owned()).collect(), wanted("state"));
    let fits = |name: &str, value: &str| wanted(name).is_none_or(|wanted| wanted == value);
    let shown: Vec<(State, Row)> = seen
        .into_iter()
        .filter(|(state, row)| {
            fits("owner", &row.owner) && fits("design", &row.design) && fits("state", state.as_str())
        })
        .collect();
    let counts = State::ALL
        .iter()
        .map(|state| (words::state(*state), shown.iter().filter(|(one, _)| one == state).count()))
        .filter(|(_, count)| *count > 0)
        .collect();
    BoardPage {
        on: ask.moment.on.to_string(),
        is_narrowed: FILTERS.iter().any(|name| wanted(name).is_some()),
        rows: shown.into_iter().map(|(_, row)| row).collect(),
        frame,
        owners,
        designs,
        states,
        counts,
        caution: board.caution,
    }
}

/// Shows the board.
#[get("/")]
async fn show_board(visit: Visit) -> Result<HttpResponse, PageFault> {
    let ask = Arc::new(visit.ask(FILTERS).await?);
    let work = |ask: &Ask| may_fly(&ask.held.fleet, ask.moment);
    let page = |board| {
        let frame = Frame::of(&ask, &visit.actor, Room::Board, "Which models may fly");
        Ok(page(&ask, board, frame))
    };
    visit.answer_apart(&ask, (&BOARDS, work), page).await
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_board);
}
