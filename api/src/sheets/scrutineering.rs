//! The model sheet for scrutineers: what the model measures against its class, and where its centre of gravity lies
//! with every step of ballast.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{ClassCheck, class_check};
use preen_domain::facts::Noun;
use preen_domain::ids::ModelId;
use preen_domain::words::EntryState;

use super::press::Template;
use super::sheet::{Cell, Sheet, narrow, number, wide};
use super::{PAPER, answer, blank};
use crate::access::actor::Reader;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;
use crate::told::{fixed, short, weekday};
use preen_domain::asked::class_asked_for;

/// Steps of ballast that are printed at most; of more, evenly spread ones.
const STEPS: usize = 40;

/// Prints what a model measures against its class, with every step of ballast and its marks.
#[utoipa::path(
    tag = "sheets",
    params(
        ("id" = String, Path, description = "Id or tag of the model."),
        ("class" = Option<String>, Query,
            description = "The class by its tag, such as F5J; the one its design is built for if not given.")
    ),
    responses((status = 200, description = "The sheet.", content_type = "application/pdf", body = Vec<u8>))
)]
#[get("/models/{id}/scrutineering.pdf")]
pub async fn print_scrutineering(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::with(&state, &actor.0, &request, query, &[PAPER, "class"]).await?;
    let model = ask.model(&id)?;
    let class = class_asked_for(&ask.asked(), model)?;
    let checked = class_check(&ask.held.fleet, model, class, ask.moment.as_of)
        .ok_or_else(|| not_found(Noun::Models, &id))?;
    let sheet = compose(&ask, model, &checked)?;
    answer(&ask, Template::Sheet, sheet, &format!("scrutineering-{}.pdf", checked.model)).await
}

fn compose(ask: &Ask, model: ModelId, checked: &ClassCheck) -> Result<Sheet, Problem> {
    let fleet = &ask.held.fleet;
    let title = format!("Model sheet {} for {}", checked.model, checked.class);
    let mut sheet = blank(ask, title, format!("{} · {}", checked.title, weekday(ask.moment.on)))?;
    let known = |value: Option<f64>, places: usize, unit: &str| {
        value.map_or_else(|| "not known".to_owned(), |value| format!("{} {unit}", fixed(value, places)))
    };
    let design = fleet.design_of(model);
    let range = design.map_or_else(String::new, |design| {
        format!("{} to {} mm", short(design.cg_min_mm), short(design.cg_max_mm))
    });
    let fitted = &checked.as_fitted;
    sheet.facts(
        2,
        [
            ("mass without ballast", known(fitted.mass_g, 1, "g")),
            ("area that counts", known(fitted.area_dm2, 2, "dm²")),
            ("loading without ballast", known(fitted.loading_g_dm2, 2, "g/dm²")),
            ("span", known(design.map(|design| design.span_m), 3, "m")),
            ("centre of gravity", known(fitted.x_mm, 2, "mm behind the datum")),
            ("allowed by the design", range),
            ("identification marks", marks(ask, model)),
            ("datum", design.map_or_else(String::new, |design| design.datum.to_string())),
        ],
    );
    let confirmed = match (&checked.confirmed_by, checked.confirmed_on) {
        (Some(by), Some(on)) => format!("compared with the edition in force by {by} on {on}"),
        _ => {
            "nobody has compared these limits with the edition in force: the result is unconfirmed".to_owned()
        }
    };
    sheet.heading("Against the class");
    sheet.text(format!("{}, {}; {confirmed}.", checked.edition, checked.source));
    let rows = fitted
        .rows
        .iter()
        .map(|row| {
            let limit = |at: Option<f64>| at.map_or_else(|| "–".to_owned(), short);
            vec![
                Cell::from(row.quantity.as_str().replace('_', " ")),
                row.value.map_or_else(|| "not known".to_owned(), short).into(),
                limit(row.min).into(),
                limit(row.max).into(),
                Cell::strong(row.verdict.as_str().replace('_', " ")),
                row.value_from.as_str().into(),
                Cell::ROOM,
            ]
        })
        .collect();
    sheet.form(
        vec![
            narrow("what"),
            number("value"),
            number("least"),
            number("most"),
            narrow("stands"),
            wide("from", 1.4),
            wide("measured at check-in", 1.0),
        ],
        rows,
    );
    sheet.text(format!("Result: {}. {}.", checked.result.as_str(), checked.text));
    ballast(&mut sheet, checked);
    for assumption in &checked.assumptions {
        sheet.text(format!("Rests on: {assumption}."));
    }
    sheet.text("The scales and rules at the event count, and what the contest director decides.");
    Ok(sheet)
}

fn ballast(sheet: &mut Sheet, checked: &ClassCheck) {
    sheet.heading("Steps of ballast");
    let every = checked.ballast.len().div_ceil(STEPS).max(1);
    let rows = checked
        .ballast
        .iter()
        .step_by(every)
        .map(|step| {
            let between = if (step.x_to_mm - step.x_from_mm).abs() < 0.005 {
                fixed(step.x_from_mm, 2)
            } else {
                format!("{} to {}", fixed(step.x_from_mm, 2), fixed(step.x_to_mm, 2))
            };
            vec![
                Cell::from(step.slugs.as_str()),
                fixed(step.added_g, 1).into(),
                fixed(step.mass_g, 1).into(),
                step.loading_g_dm2.map_or_else(String::new, |loading| fixed(loading, 2)).into(),
                between.into(),
                if step.is_cg_inside { "inside" } else { "outside" }.into(),
                if step.broken.is_empty() {
                    step.verdict.as_str().replace('_', " ")
                } else {
                    step.broken.join("; ")
                }
                .into(),
            ]
        })
        .collect();
    sheet.table(
        vec![
            wide("slugs", 1.2),
            number("ballast, g"),
            number("mass, g"),
            number("loading, g/dm²"),
            number("CG, mm"),
            narrow("range"),
            wide("class", 1.2),
        ],
        rows,
        "No slugs that fit, or no cells, are on record.",
    );
    if every > 1 {
        sheet.text(format!("Of {} steps, one in {every} is printed.", checked.ballast.len()));
    }
}

/// The marks of the newest entry with this model that still stands.
fn marks(ask: &Ask, model: ModelId) -> String {
    let fleet = &ask.held.fleet;
    let entered = fleet
        .contest_entries()
        .map(|(_, entry)| &entry.fact)
        .filter(|entry| entry.state != EntryState::Withdrawn)
        .filter(|entry| entry.model == model || entry.reserves.contains(&model))
        .filter_map(|entry| {
            let contest = fleet.contest(entry.contest)?;
            Some((contest.fact.first_on, entry.marks.as_ref()?, entry.mark_height_mm))
        })
        .max_by_key(|(on, ..)| *on);
    match entered {
        Some((_, marks, Some(height_mm))) => format!("{marks}, {} mm high", short(height_mm)),
        Some((_, marks, None)) => marks.to_string(),
        None => "none on record".to_owned(),
    }
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(print_scrutineering);
}
