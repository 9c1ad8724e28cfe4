//! Settling a question by recording what was sent, as it was or put right, in one change with its settlement.

use actix_web::{HttpResponse, post, web};
use preen_domain::facts::{Fact, Noun, Recorded, Settlement};
use preen_domain::ids::{QuestionId, SettlementId};
use preen_domain::rules::may::may_see;
use preen_domain::text::Text;
use preen_domain::time::Instant;
use preen_domain::words::Scope;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::access::actor::{Actor, Writer};
use crate::access::sight::{Finds as _, Sight, sight_of};
use crate::db::door::{Change, Kept};
use crate::problem::{FieldError, Problem};
use crate::resources::body::{Body, make_whole, parse_as_sent, resolve};
use crate::resources::entry::{add_in_door, not_found};
use crate::resources::nouns::add_any;
use crate::routes::Routes;
use crate::state::{Shared, State};

/// How a question is settled.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Settling {
    /// Id of the settlement, made by the client (UUIDv7).
    pub id: SettlementId,
    /// When.
    pub occurred_at: Instant,
    /// How it was settled, or why nothing is recorded.
    pub text: Text,
    /// Record what was sent, as it was sent.
    #[serde(default)]
    pub record_as_sent: bool,
    /// Record this instead: the whole fact, put right.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fact: Option<Value>,
}

/// A question that is settled, and what was recorded for it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Settled {
    /// The settlement.
    pub settlement: Recorded<Settlement>,
    /// What was recorded for it; null if it was left out.
    pub recorded: Option<RecordedFor>,
}

/// What was recorded for a question.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RecordedFor {
    /// Its noun.
    pub noun: Noun,
    /// Its id.
    pub id: Uuid,
    /// The revision at which it was recorded.
    pub revision: i64,
}

/// Settles a question: what was sent is recorded, as it was or put right, or left out with the reason.
///
/// What is recorded passes the same rules as if it were posted now, and both are recorded or neither. Work that
/// another did is entered for them with the scope `history` only.
#[utoipa::path(
    tag = "questions",
    params(("id" = QuestionId, Path, description = "Id of the question.")),
    request_body = Settling,
    responses(
        (status = 201, description = "Settled.", body = Settled),
        (status = 200, description = "It was settled so before.", body = Settled),
    )
)]
#[post("/questions/{id}/settlement")]
pub async fn settle_by_recording(
    state: Shared,
    actor: Writer,
    id: web::Path<String>,
    body: Body,
) -> Result<HttpResponse, Problem> {
    let held = actor.0.fleet(&state).await?;
    let question = sight_of(&actor.0, &held, state.now()).find(Noun::Questions, &id).map(QuestionId);
    let question = question.ok_or_else(|| not_found(Noun::Questions, &id))?;
    let (settled, is_new) =
        decide(&state, &actor.0, question, parse_as_sent("", body.read().await?)?).await?;
    Ok(if is_new { HttpResponse::Created() } else { HttpResponse::Ok() }.json(settled))
}

/// Settles a question that the actor may see; says too whether that is new.
pub async fn decide(
    state: &State,
    actor: &Actor,
    question: QuestionId,
    settling: Settling,
) -> Result<(Settled, bool), Problem> {
    if settling.record_as_sent && settling.fact.is_some() {
        let text = "Send the fact put right, or `record_as_sent`: true, not both.";
        return Err(Problem::field("/fact", text));
    }
    let has_history = actor.scopes.contains(&Scope::History);
    state
        .door
        .write(&actor.club, actor.member, move |change| settle(change, question, settling, has_history))
        .await
}

fn settle(
    change: &mut Change<'_>,
    id: QuestionId,
    settling: Settling,
    has_history: bool,
) -> Result<Kept<(Settled, bool)>, Problem> {
    let file = change.fleet().question(id).filter(|file| file.question.is_some());
    let asked = file.and_then(|file| file.question.clone());
    let asked = asked.filter(|asked| {
        let question = Fact::Question(asked.fact.clone());
        asked.recorded_by == change.by() || may_see(change.fleet(), change.by(), &question, change.now())
    });
    let asked = asked.ok_or_else(|| not_found(Noun::Questions, &id.to_string()))?;
    let settlement =
        Settlement { id: settling.id, question: id, occurred_at: settling.occurred_at, text: settling.text };
    let entered = match add_in_door::<Settlement>(change, "settle_by_recording", settlement, has_history)? {
        Kept::Recorded(entered) => entered,
        Kept::Unchanged(entered) => {
            let settled = Settled { settlement: entered.stored, recorded: None };
            return Ok(Kept::Unchanged((settled, false)));
        }
    };
    let sent = if settling.record_as_sent { Some(asked.fact.fact.clone()) } else { settling.fact };
    let recorded = match sent {
        None => None,
        Some(mut json) => {
            // Who did the work stays who sent it, unless that was said.
            if let (Some(field), Some(object)) = (asked.fact.noun.signer_field(), json.as_object_mut())
                && asked.recorded_by != change.by()
                && object.get(field).is_none_or(Value::is_null)
            {
                object.insert(field.to_owned(), Value::String(asked.recorded_by.to_string()));
            }
            let noun = asked.fact.noun;
            let sight = Sight::new(change.fleet(), change.names(), change.by(), change.now());
            resolve(noun, "/fact", &mut json, &sight)?;
            // What it has to read as is said by the question on record, not by the request.
            let fact = Fact::from_json(noun, make_whole(json)).map_err(|error| {
                let text = format!("It does not read as one of the {noun}: {error}.");
                Problem::RefusedByRule(vec![FieldError::new("/fact", "unreadable", text)])
            })?;
            let id = fact.id();
            let revision = match add_any(change, "settle_by_recording", fact, None, has_history) {
                Ok(Kept::Recorded(revision) | Kept::Unchanged(revision)) => revision,
                Err(problem) => return Err(inside_fact(problem)),
            };
            Some(RecordedFor { noun, id, revision })
        }
    };
    Ok(Kept::Recorded((Settled { settlement: entered.stored, recorded }, true)))
}

/// The same complaint with pointers into the fact of the request.
fn inside_fact(problem: Problem) -> Problem {
    let within = |errors: Vec<FieldError>| {
        let within = |error: FieldError| FieldError { pointer: format!("/fact{}", error.pointer), ..error };
        errors.into_iter().map(within).collect()
    };
    match problem {
        Problem::InvalidFields(errors) => Problem::InvalidFields(within(errors)),
        Problem::RefusedByRule(errors) => Problem::RefusedByRule(within(errors)),
        other => other,
    }
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(settle_by_recording);
}
