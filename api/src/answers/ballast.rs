//! Ballast for a model: which slugs of the club go into which cells.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::compute::{BadQuestion, BallastCell};
use preen_domain::answers::{Answer, BallastWanted, ModelBallast, NoBallast, ballast};
use preen_domain::facts::Noun;
use preen_domain::formulas::planform::AreaDefinition;
use serde::Deserialize;
use serde::de::IntoDeserializer;
use serde::de::value::Error as NoSuchWord;
use utoipa_actix_web::service_config::ServiceConfig;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::state::Shared;

/// Chooses ballast for a model: whole slugs of the club's stock into cells, for a wanted mass or loading.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the model."),
        ("target_loading_g_dm2" = Option<f64>, Query, description = "Wanted loading; this or `target_mass_g`."),
        ("target_mass_g" = Option<f64>, Query, description = "Wanted mass; this or `target_loading_g_dm2`."),
        ("area" = Option<AreaDefinition>, Query, description = "Which area counts for the loading; `wing` if not given."),
        ("mass_tolerance_g" = Option<f64>, Query, description = "How far the mass may be off; 8 if not given."),
        ("target_x_mm" = Option<f64>, Query,
            description = "Wanted centre of gravity; where it is without ballast if not given."),
        ("x_tolerance_mm" = Option<f64>, Query,
            description = "How far the centre of gravity may be off; 0.5 if not given."),
        ("y_tolerance_mm" = Option<f64>, Query,
            description = "How far the slugs may pull to one side; as `x_tolerance_mm` if not given."),
        ("cells" = Option<String>, Query,
            description = "Other cells than the design's, as `X:CAPACITY` or `X:Y:CAPACITY`, parted by commas."),
    ),
    responses((status = 200, description = "What to load, and what that comes to.", body = Answer<ModelBallast>))
)]
#[get("/models/{id}/ballast")]
pub async fn choose_ballast(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, OWN).await?;
    let model = ask.model(&id)?;
    let wanted = wanted(&ask)?;
    let found = ballast(&ask.held.fleet, model, &wanted, ask.moment.as_of).map_err(|why| match why {
        NoBallast::NoBalance => not_found(Noun::Models, &id),
        NoBallast::NoSlugs { .. } => Problem::bad_parameter("id", format!("{why}.")),
        NoBallast::NoCells { .. } => Problem::bad_parameter("cells", format!("{why}.")),
        NoBallast::NoProjectedArea { .. } => Problem::bad_parameter("area", format!("{why}.")),
        NoBallast::Bad(bad) => refuse(bad),
    })?;
    Ok(ask.answer(|| found))
}

const OWN: &[&str] = &[
    "target_loading_g_dm2",
    "target_mass_g",
    "area",
    "mass_tolerance_g",
    "target_x_mm",
    "x_tolerance_mm",
    "y_tolerance_mm",
    "cells",
];

fn wanted(ask: &Ask) -> Result<BallastWanted, Problem> {
    let number = |name: &str| -> Result<Option<f64>, Problem> {
        let wrong = |value: &str| Problem::bad_parameter(name, format!("`{value}` is not a number."));
        let parse = |value: &str| match value.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(number),
            _ => Err(wrong(value)),
        };
        ask.parameter(name).map(parse).transpose()
    };
    Ok(BallastWanted {
        target_mass_g: number("target_mass_g")?,
        target_loading_g_dm2: number("target_loading_g_dm2")?,
        area: ask.parameter("area").map(area).transpose()?.unwrap_or_default(),
        mass_tolerance_g: number("mass_tolerance_g")?,
        target_x_mm: number("target_x_mm")?,
        x_tolerance_mm: number("x_tolerance_mm")?,
        y_tolerance_mm: number("y_tolerance_mm")?,
        cells: ask.parameter("cells").map(cells).transpose()?,
    })
}

fn area(word: &str) -> Result<AreaDefinition, Problem> {
    let deserializer = IntoDeserializer::<NoSuchWord>::into_deserializer(word);
    AreaDefinition::deserialize(deserializer)
        .map_err(|error| Problem::bad_parameter("area", format!("There is no such area: {error}.")))
}

fn cells(text: &str) -> Result<Vec<BallastCell>, Problem> {
    text.split(',').map(str::trim).map(cell).collect()
}

fn cell(text: &str) -> Result<BallastCell, Problem> {
    let wrong = || {
        Problem::bad_parameter("cells", format!("`{text}` is not X:CAPACITY or X:Y:CAPACITY, such as 62:3."))
    };
    let parts: Vec<&str> = text.split(':').collect();
    let (x, y, capacity) = match parts.as_slice() {
        [x, capacity] => (*x, "0", *capacity),
        [x, y, capacity] => (*x, *y, *capacity),
        _ => return Err(wrong()),
    };
    let place = |text: &str| text.parse::<f64>().ok().filter(|mm| mm.is_finite()).ok_or_else(wrong);
    Ok(BallastCell {
        cell: text.rsplit_once(':').map_or_else(String::new, |(place, _)| place.to_owned()),
        x_mm: place(x)?,
        y_mm: place(y)?,
        capacity: capacity.parse().map_err(|_not_whole| wrong())?,
        pair: None,
    })
}

/// A field at fault is named as the parameter it came by; what came from the record, as the model.
fn refuse(bad: BadQuestion) -> Problem {
    let name = bad.pointer.split('/').nth(1).unwrap_or_default();
    let name = if OWN.contains(&name) { name } else { "id" };
    Problem::bad_parameter(name, format!("{}.", bad.text))
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(choose_ballast);
}
