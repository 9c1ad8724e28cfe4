//! What was sent and could not be recorded: why, what stands against it now, and settling it.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get, post};
use askama::Template;
use preen_domain::answers::QuestionStanding;
use preen_domain::facts::Noun;
use preen_domain::ids::QuestionId;
use serde_json::{Value, json};

use super::fault::{PageFault, see_other};
use super::form::{Fields, Filled, Posted};
use super::frame::{Frame, Room, send_refused};
use super::guest::Visit;
use crate::access::actor::Actor;
use crate::access::sight::Finds as _;
use crate::answers::ask::Ask;
use crate::problem::Problem;
pub use crate::problem::sentence;
use crate::resources::body::parse_as_sent;
use crate::resources::entry::not_found;
use crate::resources::questions::settle::decide;
use crate::state::State;
use preen_domain::asked;

#[derive(Template)]
#[template(path = "pages/questions.html")]
struct QuestionsPage {
    frame: Frame,
    form: Filled,
    open: Vec<QuestionStanding>,
}

fn page(ask: &Ask, actor: &Actor, form: Filled) -> QuestionsPage {
    QuestionsPage {
        frame: Frame::of(ask, actor, Room::Club, "Questions to settle"),
        form,
        open: asked::questions(&ask.asked()).questions,
    }
}

/// Shows what waits.
#[get("/questions")]
async fn show_questions(visit: Visit) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    visit.answer(&ask, || Ok(page(&ask, &visit.actor, Filled::default())))
}

/// Settles one of them.
#[post("/questions/{id}")]
async fn send_settlement(posted: Posted, id: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = posted.ask().await?;
    let Posted { actor, fields, state, .. } = posted;
    match settle(&state, &ask, &actor, &id, &fields).await {
        Ok(()) => Ok(see_other("/questions")),
        Err(problem) => {
            let status = problem.kind().0;
            send_refused(status, &page(&ask, &actor, Filled::refused(fields, &problem)))
        }
    }
}

async fn settle(state: &State, ask: &Ask, actor: &Actor, name: &str, fields: &Fields) -> Result<(), Problem> {
    let question = ask.sight().find(Noun::Questions, name).map(QuestionId);
    let question = question.ok_or_else(|| not_found(Noun::Questions, name))?;
    let mut body = json!({ "id": fields.need("id")?, "occurred_at": ask.now, "text": fields.need("text")? });
    match fields.need("deed")? {
        "as_sent" => put(&mut body, "record_as_sent", json!(true)),
        "leave_out" => {}
        "other_time" => {
            let file = ask.held.fleet.question(question).and_then(|file| file.question.as_ref());
            let mut fact = file.ok_or_else(|| not_found(Noun::Questions, name))?.fact.fact.clone();
            fields.need("at")?;
            put(&mut fact, "occurred_at", json!(fields.moment("at", ask.held.fleet.club().zone, ask.now)?));
            put(&mut body, "fact", fact);
        }
        other => return Err(Problem::field("/deed", format!("`{other}` is no way to settle a question."))),
    }
    decide(state, actor, question, parse_as_sent("", body)?).await.map(|_settled| ())
}

fn put(object: &mut Value, key: &str, value: Value) {
    if let Some(map) = object.as_object_mut() {
        map.insert(key.to_owned(), value);
    }
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_questions).service(send_settlement);
}
