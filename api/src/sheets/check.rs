//! A check sheet: the items of one group of a model's programme, with what is good and room for the reading.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::due_of_model;
use preen_domain::facts::{Item, Noun};
use preen_domain::ids::ModelId;

use super::press::Template;
use super::sheet::{Cell, Sheet, narrow, tick, wide};
use super::{PAPER, answer, blank};
use crate::access::actor::Reader;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;
use crate::told::{limit, weekday};

/// The parameter that names the group.
const GROUP: &str = "group";

/// Prints the items of one check of a model, with what is good and room for readings.
#[utoipa::path(
    tag = "sheets",
    params(
        ("id" = String, Path, description = "Id or tag of the model."),
        ("group" = String, Query, description = "Code of the check group, such as N25.")
    ),
    responses((status = 200, description = "The sheet.", content_type = "application/pdf", body = Vec<u8>))
)]
#[get("/models/{id}/check-sheet.pdf")]
pub async fn print_check_sheet(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::with(&state, &actor.0, &request, query, &[PAPER, GROUP]).await?;
    let model = ask.model(&id)?;
    let tag = ask.held.fleet.model_tag(model);
    let group = ask.parameter(GROUP).ok_or_else(|| {
        Problem::bad_parameter(GROUP, "Say which check is to be printed, such as group=N25.".to_owned())
    })?;
    let sheet = compose(&ask, model, group)?;
    answer(&ask, Template::Sheet, sheet, &format!("check-{group}-{tag}.pdf")).await
}

fn compose(ask: &Ask, model: ModelId, wanted: &str) -> Result<Sheet, Problem> {
    let fleet = &ask.held.fleet;
    let tag = fleet.model_tag(model);
    let programme = fleet
        .programme_of(Some(model))
        .ok_or_else(|| not_found(Noun::Programmes, &format!("the programme of {tag}")))?;
    let group =
        programme.fact.groups.iter().find(|group| group.code.as_str() == wanted).ok_or_else(|| {
            let known: Vec<&str> = programme.fact.groups.iter().map(|group| group.code.as_str()).collect();
            Problem::bad_parameter(
                GROUP,
                format!("{} knows no check `{wanted}`. It knows: {}.", programme.fact.tag, known.join(", ")),
            )
        })?;
    let items: Vec<&Item> = programme.fact.items.iter().filter(|item| item.group == group.code).collect();
    let mut sheet = blank(
        ask,
        format!("{} on {tag}", group.name),
        format!("{} of {} · {}", group.code, programme.fact.tag, weekday(ask.moment.on)),
    )?;
    sheet.is_wide = true;
    let standing = due_of_model(fleet, model, ask.moment).into_iter().find(|item| item.group == wanted);
    if let Some(standing) = standing {
        let last = standing.done_on.map_or_else(|| "not on record".to_owned(), |on| on.to_string());
        let due = match (standing.due_at_count, standing.due_on) {
            (Some(count), Some(on)) => format!("at {count} or on {on}"),
            (Some(count), None) => format!("at {count}"),
            (None, Some(on)) => format!("on {on}"),
            (None, None) => "when something opens it".to_owned(),
        };
        let opened: Vec<&str> = standing.opened_by.iter().map(|one| one.text.as_str()).collect();
        sheet.facts(
            2,
            [
                ("last done", last),
                ("due", due),
                ("stands", standing.state.as_str().replace('_', " ")),
                ("opened by", if opened.is_empty() { "nothing".to_owned() } else { opened.join("; ") }),
            ],
        );
    }
    if let Some(place) = &group.place_and_time {
        sheet.text(place.to_string());
    }
    let columns = vec![
        narrow("item"),
        wide("look at or measure", 2.0),
        wide("good is", 2.2),
        wide("limits", 3.6),
        tick("good"),
        tick("not"),
        tick("not looked at"),
        wide("reading", 1.4),
    ];
    let rows = items
        .into_iter()
        .map(|item| {
            vec![
                Cell::strong(item.code.to_string()),
                item.text.to_string().into(),
                format!("{} (if not: {})", item.pass, item.if_failed).into(),
                item.limits.iter().map(limit).collect::<Vec<_>>().join("\n").into(),
                Cell::TICK,
                Cell::TICK,
                Cell::TICK,
                Cell::ROOM,
            ]
        })
        .collect();
    sheet.form(columns, rows);
    sheet.lines(&["day and time", "done by", "second person, where one is needed", "remarks"]);
    sheet.text("What was not looked at is not good: tick it as not looked at.");
    Ok(sheet)
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(print_check_sheet);
}
