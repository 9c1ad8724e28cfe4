//! The records audit, over HTTP.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, FindingCounts, Findings, findings};
use preen_domain::words::Severity;
use utoipa_actix_web::service_config::ServiceConfig;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::state::Shared;

/// Audits the record of the whole club, the worst finding first.
#[utoipa::path(
    tag = "answers",
    params(
        ("model" = Option<String>, Query, description = "Only what concerns this model, by id or tag."),
        ("severity" = Option<Severity>, Query, description = "Only findings of this class."),
        ("code" = Option<String>, Query, description = "Only findings of this code, such as reading_beyond_limit."),
    ),
    responses(
        (status = 200, description = "One item a finding.", body = Answer<Findings>),
        (status = 404, description = "There is no such model, or none that the asker may know of.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/findings")]
pub async fn list_findings(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["model", "severity", "code"]).await?;
    let model = ask.parameter("model").map(|name| ask.model(name)).transpose()?;
    let model = model.map(|model| ask.held.fleet.model_tag(model));
    let severity: Option<Severity> = ask
        .parameter("severity")
        .map(str::parse)
        .transpose()
        .map_err(|unknown| Problem::bad_parameter("severity", format!("{unknown}.")))?;
    Ok(ask.answer(|| {
        let mut audit = audit_seen(&ask);
        audit.findings.retain(|found| {
            model.as_ref().is_none_or(|wanted| found.model.as_ref() == Some(wanted))
                && severity.is_none_or(|wanted| wanted == found.finding.severity)
                && ask.parameter("code").is_none_or(|wanted| wanted == found.finding.code)
        });
        Findings { counts: FindingCounts::of(&audit.findings), ..audit }
    }))
}

/// The audit as far as the asker sees it.
pub fn audit_seen(ask: &Ask) -> Findings {
    let mut audit = findings(&ask.held.fleet, ask.moment);
    if !ask.sees_all {
        // What is about no model is about the club: for those who see all of it.
        audit.findings.retain(|found| found.model.as_ref().is_some_and(|model| ask.sees_model_tagged(model)));
        audit.counts = FindingCounts::of(&audit.findings);
    }
    audit
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(list_findings);
}
