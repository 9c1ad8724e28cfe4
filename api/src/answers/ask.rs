//! What all questions have in common: when they are asked about, what was known, and whether the asker has the
//! answer already.

use std::sync::Arc;

use actix_web::http::header;
use actix_web::web::Bytes;
use actix_web::{HttpRequest, HttpResponse, ResponseError as _};
use preen_domain::answers::{Moment, frame};
use preen_domain::asked::{self, Asked, Refused, Sight, Wanted};
use preen_domain::facts::Noun;
use preen_domain::ids::{ComponentId, MemberId, ModelId};
use preen_domain::time::Instant;
use serde::Serialize;
use uuid::Uuid;

use super::kept::{KeptAnswers, Key};
use crate::access::actor::Actor;
use crate::db::fleet::Held;
use crate::desk::Desk;
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::state::State;

/// An answer with its validator.
fn found(etag: String, body: Bytes) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((header::ETAG, etag))
        .insert_header((header::VARY, "Authorization, Cookie"))
        .content_type("application/json")
        .body(body)
}

/// Looks at the parameters of a question, and answers it when it is called.
pub type Find<T> = for<'a> fn(&Asked<'a>) -> Result<Box<dyn FnOnce() -> T + 'a>, Refused>;

/// The parameters of the question what changed, which needs an earlier Fleet too.
const CHANGES: &[&str] = &["since"];

/// A question about the fleet, with all that it depends on.
pub struct Ask {
    /// The Fleet as it was known.
    pub held: Held,
    /// The moment and day asked about.
    pub moment: Moment,
    /// Who asks.
    pub member: MemberId,
    /// Whether the asker sees the whole fleet, or only what is on loan to them.
    pub sees_all: bool,
    /// The service's clock.
    pub now: Instant,
    pairs: Vec<(String, String)>,
    seen: Option<String>,
    club: String,
    path: String,
    kept: Arc<KeptAnswers>,
}

impl Ask {
    /// Reads the common parameters of the question behind a path, and sees to it that no others come along.
    pub async fn read(
        state: &State,
        actor: &Actor,
        request: &HttpRequest,
        query: Pairs,
        path: &[&str],
    ) -> Result<Self, Problem> {
        let known = if path == ["changes"] { Some(CHANGES) } else { asked::parameters(path) };
        Self::with(state, actor, request, query, known.unwrap_or_default()).await
    }

    /// The same for what is no question of the interface, such as a sheet; `known` are its own parameters.
    pub async fn with(
        state: &State,
        actor: &Actor,
        request: &HttpRequest,
        query: Pairs,
        known: &[&str],
    ) -> Result<Self, Problem> {
        let now = state.now();
        let newest = actor.fleet(state).await?;
        let of = (&*newest.fleet, &newest.names);
        let wanted = Wanted::read(&query.0, known, of, actor.member, now)?;
        let held = match wanted.at_revision {
            None => newest,
            Some(revision) => state.door.fleet_at(&actor.club, revision).await?,
        };
        let seen = request.headers().get(header::IF_NONE_MATCH).and_then(|value| value.to_str().ok());
        Ok(Self {
            held,
            moment: wanted.moment,
            member: actor.member,
            sees_all: wanted.sees_all,
            now,
            seen: seen.map(ToOwned::to_owned),
            pairs: query.0,
            club: actor.club.clone(),
            path: request.uri().to_string(),
            kept: Arc::clone(&state.kept),
        })
    }

    /// The same for a page: forms send the fields that nobody filled in too, and those mean nothing.
    pub async fn of_page(
        state: &State,
        actor: &Actor,
        request: &HttpRequest,
        mut query: Pairs,
        known: &[&str],
    ) -> Result<Self, Problem> {
        query.0.retain(|(_, value)| !value.is_empty());
        Self::with(state, actor, request, query, known).await
    }

    /// The question, for the domain to answer.
    pub fn asked(&self) -> Asked<'_> {
        Asked {
            fleet: &self.held.fleet,
            names: &self.held.names,
            moment: self.moment,
            member: self.member,
            sees_all: self.sees_all,
            now: self.now,
            pairs: &self.pairs,
        }
    }

    /// A parameter of the question's own.
    pub fn parameter(&self, wanted: &str) -> Option<&str> {
        self.asked().parameter(wanted)
    }

    /// The item of a noun that a parameter names.
    pub fn item(&self, wanted: &str, noun: Noun) -> Result<Option<Uuid>, Problem> {
        Ok(self.asked().item(wanted, noun)?)
    }

    /// The items of a noun that a parameter names, with commas between.
    pub fn items(&self, wanted: &str, noun: Noun) -> Result<Option<Vec<Uuid>>, Problem> {
        Ok(self.asked().items(wanted, noun)?)
    }

    /// The models that the parameter `models` names.
    pub fn models(&self) -> Result<Option<Vec<ModelId>>, Problem> {
        Ok(self.asked().models()?)
    }

    /// What the asker may know of.
    pub fn sight(&self) -> Sight<'_> {
        self.asked().sight()
    }

    /// The model that a name in the path means, if the asker may see it.
    pub fn model(&self, name: &str) -> Result<ModelId, Problem> {
        Ok(self.asked().model(name)?)
    }

    /// The component that a name in the path means, if the asker may see it.
    pub fn component(&self, name: &str) -> Result<ComponentId, Problem> {
        Ok(self.asked().component(name)?)
    }

    /// Whether the asker may see a model.
    pub fn sees_model(&self, id: ModelId) -> bool {
        self.asked().sees_model(id)
    }

    /// Whether the asker may see the model with a tag.
    pub fn sees_model_tagged(&self, tag: &str) -> bool {
        self.asked().sees_model_tagged(tag)
    }

    /// Answers, or says that the asker has this answer already. It stays the same as long as the revision does
    /// and until it changes by itself; what the asker may see goes into the validator.
    pub fn answer<T: Serialize>(&self, answer: impl FnOnce() -> T) -> HttpResponse {
        let etag = self.validator();
        if let Some(unchanged) = self.unchanged(&etag) {
            return unchanged;
        }
        let key = self.key(etag);
        let body = match self.kept.get(&key) {
            Some(body) => body,
            None => match self.framed(answer()) {
                Ok(body) => {
                    self.kept.put(key.clone(), &body);
                    body
                }
                Err(problem) => return problem.error_response(),
            },
        };
        found(key.validator, body)
    }

    /// The same for what looks at a whole fleet: worked out at a desk, away from the threads that answer, and once for
    /// all who ask it at the same time.
    ///
    /// # Errors
    /// A parameter does not fit, or too many wait for that desk.
    pub async fn answer_apart<T: Serialize + 'static>(
        self,
        desk: &'static Desk,
        find: Find<T>,
    ) -> Result<HttpResponse, Problem> {
        drop(find(&self.asked())?);
        let etag = self.validator();
        if let Some(unchanged) = self.unchanged(&etag) {
            return Ok(unchanged);
        }
        let (key, kept) = (self.key(etag), Arc::clone(&self.kept));
        let work = async move { desk.compute(move || self.framed(find(&self.asked())?())).await? };
        let body = kept.get_or(&key, work).await?;
        Ok(found(key.validator, body))
    }

    fn key(&self, validator: String) -> Key {
        Key {
            club: self.club.clone(),
            asked: self.path.clone(),
            validator,
            minute: self.moment.as_of.micros().div_euclid(60_000_000),
        }
    }

    fn framed<T: Serialize>(&self, answer: T) -> Result<Bytes, Problem> {
        serde_json::to_vec(&frame(&self.held.fleet, self.moment.as_of, answer))
            // Written into room that doubled as it was filled: what is kept takes what it is long, and no more.
            .map(|body| Bytes::from(body.into_boxed_slice()))
            .map_err(|error| Problem::Internal(error.to_string()))
    }

    /// The validator of an answer. The hash of the trail's entry tells a revision from another of the same number, as
    /// there may be after a database server was lost.
    pub fn validator(&self) -> String {
        let bare = frame(&self.held.fleet, self.moment.as_of, ());
        let view = if self.sees_all { "all".to_owned() } else { self.member.to_string() };
        let pilot = self.moment.pilot.map(|pilot| pilot.to_string()).unwrap_or_default();
        let head = self.held.head.get(..12).unwrap_or_default();
        format!("W/\"{}-{head}-{}-{view}-{pilot}\"", bare.revision, bare.valid_until.micros())
    }

    /// That the asker has the answer with this validator already, if so.
    pub fn unchanged(&self, etag: &str) -> Option<HttpResponse> {
        let seen = self.seen.as_deref()?;
        let is_known = seen.split(',').any(|one| one.trim() == etag || one.trim() == "*");
        is_known.then(|| {
            HttpResponse::NotModified()
                .insert_header((header::ETAG, etag))
                .insert_header((header::VARY, "Authorization, Cookie"))
                .finish()
        })
    }
}
