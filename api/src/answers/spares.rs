//! What spares a team should take, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, SparesWanted, TeamSpares, team_spares};
use preen_domain::facts::Noun;
use preen_domain::ids::{ContestId, ModelId};
use preen_domain::words::EntryState;
use utoipa_actix_web::service_config::ServiceConfig;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::state::Shared;

/// Says how many spares of each kind a team should take, by the flights to come and by how often such parts failed on
/// record, against the shelf; and what to pack.
#[utoipa::path(
    tag = "answers",
    params(
        ("contest" = Option<String>, Query, description = "The contest, by id or tag: every model of its entries, with \
            training and every round that may be flown. Give this, or `models` with `flights`."),
        ("models" = Option<String>, Query, description = "Models by id or tag, separated by commas."),
        ("flights" = Option<u32>, Query, minimum = 1, maximum = 100000, description = "Flights that each of them will make, 1 to 100000."),
        ("target" = Option<f64>, Query, exclusive_minimum = 0.0, maximum = 0.999999, description = "The chance of being enough that is wanted of each kind; 0.95 if \
            absent."),
    ),
    responses((status = 200, description = "Kind by kind, and a packing list.", body = Answer<TeamSpares>))
)]
#[get("/spares")]
pub async fn show_spares(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask =
        Ask::read(&state, &actor.0, &request, query, &["contest", "models", "flights", "target"]).await?;
    if !ask.sees_all {
        return Err(Problem::NotAllowed("Spares of a team are for those who see the whole fleet.".into()));
    }
    let wanted = read(&ask)?;
    let spares = team_spares(&ask.held.fleet, &wanted, ask.moment)
        .map_err(|why| Problem::bad_parameter("target", format!("{why}.")))?;
    Ok(ask.answer(|| spares))
}

fn read(ask: &Ask) -> Result<SparesWanted, Problem> {
    let target = match ask.parameter("target") {
        None => 0.95,
        Some(text) => {
            text.parse::<f64>().ok().filter(|target| *target > 0.0 && *target <= 0.999_999).ok_or_else(
                || Problem::bad_parameter("target", format!("`{text}` is no chance such as 0.95.")),
            )?
        }
    };
    let flights = ask
        .parameter("flights")
        .map(|text| {
            text.parse::<u32>().ok().filter(|flights| (1..=100_000).contains(flights)).ok_or_else(|| {
                Problem::bad_parameter(
                    "flights",
                    format!("`{text}` is no number of flights from 1 to 100000."),
                )
            })
        })
        .transpose()?;
    let named = ask.models()?;
    let contest = ask.item("contest", Noun::Contests)?.map(ContestId);
    let (mut models, flights) = match (contest, named, flights) {
        (Some(contest), named, flights) => {
            let (entered, most) = entered(ask, contest)?;
            (named.unwrap_or(entered), flights.unwrap_or(most))
        }
        (None, Some(models), Some(flights)) => (models, flights),
        (None, Some(_), None) => {
            let text = "Say how many flights each model will make, such as `flights=20`.";
            return Err(Problem::bad_parameter("flights", text.into()));
        }
        (None, None, _) => {
            let text = "Name a contest, or `models` with `flights`.";
            return Err(Problem::bad_parameter("contest", text.into()));
        }
    };
    models.sort();
    models.dedup();
    if flights == 0 || models.is_empty() {
        let text = "The contest has no entry, or no round: give `models` and `flights`.";
        return Err(Problem::bad_parameter("contest", text.into()));
    }
    Ok(SparesWanted { models, flights, target })
}

/// The models first flown in the entries that stand, and the most flights that each may make.
fn entered(ask: &Ask, contest: ContestId) -> Result<(Vec<ModelId>, u32), Problem> {
    let fleet = &ask.held.fleet;
    let fact = fleet
        .contest(contest)
        .map(|contest| &contest.fact)
        .ok_or_else(|| Problem::bad_parameter("contest", "There was no such contest by then.".into()))?;
    let models = fleet
        .contest_entries()
        .map(|(_, entry)| &entry.fact)
        .filter(|entry| entry.contest == contest && entry.state == EntryState::Entered)
        .map(|entry| entry.model)
        .collect();
    Ok((models, fact.flights_max().saturating_add(fact.training_flights)))
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(show_spares);
}
