//! How a part wears, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{Answer, ComponentTrend, TrendQuestion, component_trend};
use utoipa_actix_web::service_config::ServiceConfig;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::state::Shared;

/// Fits the readings of a component since its last re-work, and says when limits will be reached.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the component."),
        ("quantity" = Option<String>, Query, description = "One quantity; all that were read if not given."),
        ("by" = Option<preen_domain::words::WearCounter>, Query,
            description = "The use to count; what drives the wear of such a part if not given."),
        ("whole_history" = Option<bool>, Query,
            description = "Fit all readings; refused where a re-work or a change of method started them anew.")
    ),
    responses((status = 200, description = "One series a quantity.", body = Answer<ComponentTrend>))
)]
#[get("/components/{id}/trend")]
pub async fn show_component_trend(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["quantity", "by", "whole_history"]).await?;
    let component = ask.component(&id)?;
    let question = read_question(&ask)?;
    let answer = component_trend(&ask.held.fleet, component, &question, ask.moment.as_of);
    match (&question.quantity, answer.series.is_empty()) {
        (Some(quantity), true) => {
            let known = match answer.quantities.join(", ") {
                none if none.is_empty() => "nothing was read on it by then".to_owned(),
                known => format!("what was read on it: {known}"),
            };
            Err(Problem::bad_parameter(
                "quantity",
                format!("There is no reading of `{quantity}` on {}; {known}.", answer.component),
            ))
        }
        _ => Ok(ask.answer(|| answer)),
    }
}

fn read_question(ask: &Ask) -> Result<TrendQuestion, Problem> {
    let by = ask.parameter("by").map(str::parse).transpose();
    let is_whole_history = match ask.parameter("whole_history") {
        None | Some("false") => false,
        Some("true") => true,
        Some(other) => {
            return Err(Problem::bad_parameter(
                "whole_history",
                format!("`{other}` is neither true nor false."),
            ));
        }
    };
    Ok(TrendQuestion {
        quantity: ask.parameter("quantity").map(ToOwned::to_owned),
        by: by.map_err(|unknown| Problem::bad_parameter("by", format!("{unknown}.")))?,
        is_whole_history,
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(show_component_trend);
}
