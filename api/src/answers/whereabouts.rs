//! Where parts are.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, WhereQuestion, Whereabouts, whereabouts};
use preen_domain::facts::Noun;
use preen_domain::ids::{ComponentId, PartId};
use preen_domain::text::Tag;
use utoipa_actix_web::service_config::ServiceConfig;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::state::Shared;

/// Says where the parts asked for are: in which position of which model, on which shelf, with whom.
#[utoipa::path(
    tag = "answers",
    params(
        ("component" = Option<String>, Query, description = "This component, by id or tag."),
        ("part" = Option<String>, Query, description = "Components of this part type, by id or tag."),
        ("batch" = Option<String>, Query, description = "Components of this batch; `SV08/B` names part and batch."),
        ("position_kind" = Option<String>, Query, description = "Only those that sit in a position of this kind."),
    ),
    responses((status = 200, description = "One row a component.", body = Answer<Whereabouts>))
)]
#[get("/where")]
pub async fn find_whereabouts(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let own = ["component", "part", "batch", "position_kind"];
    let ask = Ask::read(&state, &actor.0, &request, query, &own).await?;
    let mut question = WhereQuestion {
        component: ask.item("component", Noun::Components)?.map(ComponentId),
        part: ask.item("part", Noun::Parts)?.map(PartId),
        batch: None,
        position_kind: ask.parameter("position_kind").map(ToOwned::to_owned),
    };
    if let Some(text) = ask.parameter("batch") {
        let batch = match text.split_once('/') {
            Some((part, batch)) => {
                let unknown = || {
                    Problem::bad_parameter(
                        "batch",
                        format!("There is no `{part}` among the {}.", Noun::Parts),
                    )
                };
                let part = PartId(ask.held.names.find(Noun::Parts, part).ok_or_else(unknown)?);
                if question.part.is_some_and(|said| said != part) {
                    return Err(Problem::bad_parameter(
                        "batch",
                        "It names another part than `part` does.".into(),
                    ));
                }
                question.part = Some(part);
                batch
            }
            None => text,
        };
        let tag: Tag =
            batch.parse().map_err(|error| Problem::bad_parameter("batch", format!("`{batch}` {error}.")))?;
        question.batch = Some(tag);
    }
    Ok(ask.answer(|| {
        let mut answer = whereabouts(&ask.held.fleet, &question, ask.moment);
        answer.components.retain(|row| ask.sees_all || ask.component(&row.component).is_ok());
        answer.models.retain(|tag| ask.sees_model_tagged(tag));
        answer
    }))
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(find_whereabouts);
}
