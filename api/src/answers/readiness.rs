//! How ready models, entries and the team are for a contest, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{
    Ahead, Answer, ContestReadiness, EntryReadiness, ModelReadiness, Moment, contest_readiness,
    entry_readiness, model_readiness,
};
use preen_domain::facts::Noun;
use preen_domain::ids::{ContestId, EntryId};
use utoipa_actix_web::service_config::ServiceConfig;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::{Problem, ProblemBody};
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::state::Shared;

/// The longest look ahead of a single model, flights.
const MOST_FLIGHTS: u32 = 2_000;

/// Says which entries can go to a contest, and what must be done first: checks, defects, campaigns, parts, loans,
/// papers, as they will stand at the last round.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the contest."),
        ("pilot" = Option<String>, Query, description = "Only the entries of this member, by id or tag."),
    ),
    responses(
        (status = 200, description = "The team, entry by entry.", body = Answer<ContestReadiness>),
        (status = 404, description = "There is no such contest, or none that the asker may know of.",
            body = ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/contests/{id}/readiness")]
pub async fn show_contest_readiness(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &[]).await?;
    let unknown = || not_found(Noun::Contests, &id);
    let contest = ask.held.names.find(Noun::Contests, &id).filter(|_| ask.sees_all).ok_or_else(unknown)?;
    let contest = ContestId(contest);
    let pilot = ask.parameter("pilot").and(ask.moment.pilot);
    let fleet = &ask.held.fleet;
    fleet.contest(contest).ok_or_else(unknown)?;
    let answer = contest_readiness(fleet, contest, pilot, ask.moment).ok_or_else(unknown)?;
    Ok(ask.answer(|| answer))
}

/// Says whether an entry can go to its contest, and what must be done first.
#[utoipa::path(
    tag = "answers",
    params(("id" = String, Path, description = "Id or tag of the entry.")),
    responses(
        (status = 200, description = "The entry with its models.", body = Answer<EntryReadiness>),
        (status = 404, description = "There is no such entry, or none that the asker may know of.",
            body = ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/entries/{id}/readiness")]
pub async fn show_entry_readiness(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &[]).await?;
    let unknown = || not_found(Noun::Entries, &id);
    let entry = ask.held.names.find(Noun::Entries, &id).filter(|_| ask.sees_all).ok_or_else(unknown)?;
    let answer = entry_readiness(&ask.held.fleet, EntryId(entry), ask.moment).ok_or_else(unknown)?;
    Ok(ask.answer(|| answer))
}

/// Says what stands against a model until the last round of a contest, or until so many flights are flown by a day.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the model."),
        ("contest" = Option<String>, Query,
            description = "The contest, by id or tag; else `flights` and `until_on` say what lies ahead."),
        ("flights" = Option<u32>, Query, minimum = 0, maximum = 2000,
            description = "Flights that lie ahead; 0 if not given."),
        ("until_on" = Option<chrono::NaiveDate>, Query,
            description = "The last day that is looked at; the day asked about if not given."),
    ),
    responses(
        (status = 200, description = "The model.", body = Answer<ModelReadiness>),
        (status = 400, description = "A parameter does not fit.",
            body = ProblemBody, content_type = "application/problem+json"),
        (status = 404, description = "There is no such model, or none that the asker may know of.",
            body = ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/models/{id}/readiness")]
pub async fn show_model_readiness(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["contest", "flights", "until_on"]).await?;
    let model = ask.model(&id)?;
    let fleet = &ask.held.fleet;
    let contest = ask.item("contest", Noun::Contests)?.and_then(|contest| fleet.contest(ContestId(contest)));
    let ahead = match contest {
        Some(_) if ask.parameter("flights").or(ask.parameter("until_on")).is_some() => {
            return Err(Problem::bad_parameter(
                "contest",
                "Give a contest, or flights and a day, not both.".to_owned(),
            ));
        }
        Some(contest) => Ahead::of_contest(fleet, &contest.fact),
        None => by_hand(&ask)?,
    };
    // Asked without a pilot it is asked for the owner.
    let owner = fleet.model_data(model).and_then(|data| data.owner);
    let pilot = if ask.parameter("pilot").is_some() { ask.moment.pilot } else { owner.or(ask.moment.pilot) };
    let moment = Moment { pilot, ..ask.moment };
    let answer =
        model_readiness(fleet, model, &ahead, &[], moment).ok_or_else(|| not_found(Noun::Models, &id))?;
    Ok(ask.answer(|| answer))
}

fn by_hand(ask: &Ask) -> Result<Ahead<'static>, Problem> {
    let flights = match ask.parameter("flights") {
        None => 0,
        Some(text) => text.parse().ok().filter(|flights| *flights <= MOST_FLIGHTS).ok_or_else(|| {
            Problem::bad_parameter(
                "flights",
                format!("`{text}` is not a number of flights from 0 to {MOST_FLIGHTS}."),
            )
        })?,
    };
    let until_on = match ask.parameter("until_on") {
        None => ask.moment.on,
        Some(text) => text.parse().map_err(|_not_a_day: chrono::ParseError| {
            Problem::bad_parameter("until_on", format!("`{text}` is not a day such as 2026-05-31."))
        })?,
    };
    if until_on < ask.moment.on {
        return Err(Problem::bad_parameter("until_on", format!("{until_on} lies before {}.", ask.moment.on)));
    }
    Ok(Ahead::of_flights(flights, until_on))
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(show_contest_readiness);
    config.service(show_entry_readiness);
    config.service(show_model_readiness);
}
