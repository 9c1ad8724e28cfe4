//! Questions that wait for somebody to settle them.

use actix_web::{HttpRequest, HttpResponse, get};
use preen_domain::answers::{Answer, OpenQuestions, open_questions};
use preen_domain::facts::{Fact, Noun, Question, QuestionReason};
use preen_domain::rules::may::may_read_names;
use utoipa_actix_web::service_config::ServiceConfig;

use super::ask::Ask;
use crate::access::actor::Reader;
use crate::access::sight::Sight;
use crate::problem::Problem;
use crate::resources::body::{make_whole, resolve};
use crate::resources::page::Pairs;
use crate::state::Shared;

/// Lists what was sent and could not be recorded, why, and what stands against it now.
#[utoipa::path(
    tag = "answers",
    responses((status = 200, description = "The questions that nobody has settled.", body = Answer<OpenQuestions>))
)]
#[get("/open-questions")]
pub async fn list_open_questions(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &[]).await?;
    Ok(ask.answer(|| questions_seen(&ask)))
}

/// The open questions that the asker may see.
pub fn questions_seen(ask: &Ask) -> OpenQuestions {
    let fleet = &ask.held.fleet;
    let sight = ask.sight();
    let mut open = open_questions(fleet, ask.moment.as_of, |question| read(question, &sight));
    let own = fleet.member_tag(ask.member);
    let reads_names = may_read_names(fleet, ask.member);
    open.questions.retain(|question| {
        question.sent_by == own || (ask.sees_all && (question.noun != Noun::Members || reads_names))
    });
    open
}

/// What was sent, as the fact it would become.
fn read(question: &Question, sight: &Sight<'_>) -> Result<Fact, Vec<QuestionReason>> {
    let mut json = question.fact.clone();
    resolve(question.noun, "", &mut json, sight).map_err(|problem| problem.reasons())?;
    Fact::from_json(question.noun, make_whole(json)).map_err(|error| {
        let text = format!("It does not read as one of the {}: {error}.", question.noun);
        vec![QuestionReason { code: "unreadable".to_owned(), pointer: String::new(), text }]
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(list_open_questions);
}
