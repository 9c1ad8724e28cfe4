//! How long parts of a type last, by the record of the whole club.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, PartLife, PartLifeQuestion, part_life};
use preen_domain::facts::Noun;
use preen_domain::ids::PartId;
use preen_domain::text::Tag;
use preen_domain::words::Counter;
use utoipa_actix_web::service_config::ServiceConfig;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::state::Shared;

/// Says how long parts of a type last in each kind of position, batch against batch, by failures and by measured wear.
#[utoipa::path(
    tag = "answers",
    params(
        ("part" = String, Query, description = "The part type, by id or tag."),
        ("batches" = Option<String>, Query, description = "These batches, separated by commas; absent: every batch that was in use."),
        ("position_kind" = Option<String>, Query, description = "Only this kind of position; absent: each kind by itself."),
        ("counter" = Option<String>, Query, description = "What is counted: `flights` (if absent), `launches`, `airtime_h`, `motor_s`, `riggings`, `matings`, or for a pack `charges`."),
        ("quantity" = Option<String>, Query, description = "Only wear of this quantity; absent: every quantity that has limits."),
        ("as_new" = Option<f64>, Query, description = "What the quantity reads on a new part; absent: the best reading of a part before its first use."),
        ("confidence" = Option<f64>, Query, description = "Two-sided confidence of all bounds; 0.9 if absent."),
    ),
    responses((status = 200, description = "Kind of position by kind of position.", body = Answer<PartLife>))
)]
#[get("/life")]
pub async fn show_part_life(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let own = ["part", "batches", "position_kind", "counter", "quantity", "as_new", "confidence"];
    let ask = Ask::read(&state, &actor.0, &request, query, &own).await?;
    if !ask.sees_all {
        return Err(Problem::NotAllowed(
            "Statistics of the club's parts are for those who see the whole fleet.".into(),
        ));
    }
    let question = read(&ask)?;
    let known = part_life(&ask.held.fleet, &question, ask.moment.as_of).ok_or_else(|| {
        if ask.held.fleet.part(question.part).is_some() {
            return Problem::bad_parameter("counter", "Charges are counted for packs alone.".into());
        }
        Problem::bad_parameter("part", "There was no such part type by then.".into())
    })?;
    Ok(ask.answer(|| known))
}

fn read(ask: &Ask) -> Result<PartLifeQuestion, Problem> {
    let part = ask.item("part", Noun::Parts)?.map(PartId).ok_or_else(|| {
        Problem::bad_parameter("part", "Say which part type is asked about, such as `part=SV08`.".into())
    })?;
    let mut batches: Vec<Tag> = Vec::new();
    for text in ask.parameter("batches").into_iter().flat_map(|list| list.split(',')) {
        let batch: Tag = text
            .trim()
            .parse()
            .map_err(|error| Problem::bad_parameter("batches", format!("`{text}` {error}.")))?;
        if !batches.contains(&batch) {
            batches.push(batch);
        }
    }
    let counter = ask.parameter("counter").unwrap_or("flights");
    let counter = counter.parse::<Counter>().map_err(
        |_unknown| {
            Problem::bad_parameter(
                "counter",
                format!(
                    "Lives are not counted in `{counter}`: ask for flights, launches, airtime_h, motor_s, riggings, or for a pack charges."
                ),
            )
        },
    )?;
    let quantity = ask.parameter("quantity").map(ToOwned::to_owned);
    let as_new = number(ask, "as_new")?;
    if as_new.is_some() && quantity.is_none() {
        return Err(Problem::bad_parameter(
            "as_new",
            "Say which `quantity` reads that on a new part.".into(),
        ));
    }
    let confidence = number(ask, "confidence")?.unwrap_or(0.9);
    if !(0.5..=0.999).contains(&confidence) {
        return Err(Problem::bad_parameter(
            "confidence",
            "Send a number from 0.5 to 0.999, such as 0.9.".into(),
        ));
    }
    let position_kind = ask.parameter("position_kind").map(ToOwned::to_owned);
    Ok(PartLifeQuestion { part, batches, position_kind, counter, quantity, as_new, confidence })
}

/// A number that a parameter gives.
fn number(ask: &Ask, name: &str) -> Result<Option<f64>, Problem> {
    let read = |text: &str| {
        text.parse::<f64>()
            .ok()
            .filter(|number| number.abs() <= 1e12)
            .ok_or_else(|| Problem::bad_parameter(name, format!("`{text}` is no number such as 0.25.")))
    };
    ask.parameter(name).map(read).transpose()
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(show_part_life);
}
