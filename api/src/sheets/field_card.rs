//! The field card of a model, to fill in by hand where no telephone is wanted: what holds today on top, then rows for
//! flights, rigging and what was found.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::may_fly_one;
use preen_domain::facts::Noun;
use preen_domain::ids::ModelId;
use preen_domain::words::Landing;

use super::press::Template;
use super::sheet::{Cell, Column, Sheet, narrow, tick, wide};
use super::{PAPER, answer, blank};
use crate::access::actor::Reader;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;
use crate::told::{short, weekday};

/// Rows for flights: what fits on one page with the rest.
const FLIGHTS: usize = 12;
/// Rows for what was found.
const FOUND: usize = 3;

/// Prints the field card of a model, to fill in by hand.
#[utoipa::path(
    tag = "sheets",
    params(("id" = String, Path, description = "Id or tag of the model.")),
    responses((status = 200, description = "The card.", content_type = "application/pdf", body = Vec<u8>))
)]
#[get("/models/{id}/field-card.pdf")]
pub async fn print_field_card(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::with(&state, &actor.0, &request, query, &[PAPER]).await?;
    let model = ask.model(&id)?;
    let tag = ask.held.fleet.model_tag(model);
    let card = compose(&ask, model)?.ok_or_else(|| not_found(Noun::Models, &id))?;
    answer(&ask, Template::Sheet, card, &format!("field-card-{tag}.pdf")).await
}

fn compose(ask: &Ask, model: ModelId) -> Result<Option<Sheet>, Problem> {
    let Some(verdict) = may_fly_one(&ask.held.fleet, model, ask.moment) else { return Ok(None) };
    let title = format!("Field card {}", verdict.model);
    let mut card = blank(ask, title, weekday(ask.moment.on))?;
    let may = if verdict.may_fly { "yes" } else { "no" };
    let left = verdict.flights_left.map_or_else(|| "not counted".to_owned(), |left| left.to_string());
    let next = verdict.next_due.as_ref().map_or_else(
        || "none known".to_owned(),
        |next| match next.count_left {
            Some(left) => format!("{} on {} or in {left} flights", next.group, next.on),
            None => format!("{} on {}", next.group, next.on),
        },
    );
    card.facts(
        2,
        [
            ("may fly", may.to_owned()),
            ("state", verdict.state.as_str().replace('_', " ")),
            ("flights left", left),
            ("next check", next),
        ],
    );
    let held: Vec<Vec<Cell>> = verdict
        .restrictions
        .iter()
        .map(|one| {
            let value = match (one.value, one.until_on) {
                (Some(value), Some(on)) => format!("{} until {on}", short(value)),
                (Some(value), None) => short(value),
                (None, Some(on)) => format!("until {on}"),
                (None, None) => String::new(),
            };
            vec![Cell::strong(one.kind.as_str().replace('_', " ")), value.into(), one.source.as_str().into()]
        })
        .collect();
    if !held.is_empty() {
        card.heading("Restrictions");
        card.table(vec![narrow("what"), narrow("how much"), wide("from", 1.0)], held, "");
    }
    if !verdict.reasons.is_empty() {
        card.heading("What stands against it or is worth watching");
        card.findings(&verdict.reasons, "");
    }
    card.heading("Flights");
    let landings: Vec<Column> = Landing::ALL.iter().map(|grade| tick(grade.as_str())).collect();
    let mut columns = vec![
        wide("start", 1.2),
        wide("min", 0.8),
        wide("launches", 0.8),
        wide("motor s", 0.8),
        wide("pilot", 0.8),
    ];
    let rooms = columns.len();
    columns.extend(landings);
    columns.push(tick("flap"));
    columns.push(tick("checked after"));
    columns.push(wide("anything unusual", 2.4));
    let row: Vec<Cell> = (0..columns.len())
        .map(|column| if column < rooms || column + 1 == columns.len() { Cell::ROOM } else { Cell::TICK })
        .collect();
    card.form(columns, vec![row; FLIGHTS]);
    card.heading("Rigged, measured, found");
    let columns = vec![
        wide("time", 0.7),
        wide("part", 1.0),
        wide("what", 3.0),
        wide("reading and unit", 1.2),
        wide("by", 0.6),
    ];
    let row = vec![Cell::ROOM; columns.len()];
    card.form(columns, vec![row; FOUND]);
    card.text(
        "Hard landing: do not fly again before the hard-landing check. Enter this card on the day; what is not entered is \
         not known to anybody else.",
    );
    Ok(Some(card))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(print_field_card);
}
