//! The one who asks, as the handlers' signatures demand: `Reader` for questions, `Writer` for changes,
//! `SignedIn` for what concerns the access itself.
//!
//! Access is shown by a bearer token or by the cookie of a session; where both are sent, the token counts.

use std::collections::BTreeSet;

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest, http::header};
use futures_util::future::LocalBoxFuture;
use preen_domain::fleet::Fleet;
use preen_domain::ids::{MemberId, TokenId};
use preen_domain::rules::may::{Act, Asker, may};
use preen_domain::time::Instant;
use preen_domain::words::Scope;

use super::guards::{CSRF_HEADER, check_csrf, check_origin, check_token, is_safe};
use super::sessions::{self, Session};
use super::tokens;
use crate::db::door::DoorError;
use crate::db::fleet::Held;
use crate::problem::{Problem, TokenFault};
use crate::state::{Shared, State};

/// What an actor has shown.
#[derive(Clone, Debug)]
pub enum Shown {
    /// A token.
    Token(TokenId),
    /// The cookie of a session.
    Session(Session),
}

/// A member who has shown a valid token or the cookie of a session.
#[derive(Clone, Debug)]
pub struct Actor {
    /// The club of the access; nothing outside it can be reached.
    pub club: String,
    /// The member.
    pub member: MemberId,
    /// What was shown.
    pub shown: Shown,
    /// What the access may be used for.
    pub scopes: BTreeSet<Scope>,
}

/// An actor who may read.
pub struct Reader(pub Actor);

/// An actor who may write.
pub struct Writer(pub Actor);

/// An actor who may take copies of the record.
pub struct Copier(pub Actor);

/// An actor who may see the calendar. Programs that show calendars send no headers, so that the token may stand in the
/// link itself; such a token must be good for nothing else, since links are kept and passed on.
pub struct Subscriber(pub Actor);

/// A member whose cookie came with a form of a page. Where it came from was checked; the CSRF token stands in the form,
/// which was not read yet.
pub struct FormSender {
    actor: Actor,
    is_shown: bool,
}

impl FormSender {
    /// The actor, once the form has shown the session's token.
    pub fn shown(self, csrf_token: &str) -> Result<Actor, Problem> {
        match self.actor.session() {
            Some(session) if !self.is_shown => check_token(csrf_token.as_bytes(), &session.csrf_token)?,
            Some(_) | None => {}
        }
        Ok(self.actor)
    }
}

/// An actor, whatever the access may be used for, and though a one-time password was not replaced yet.
pub struct SignedIn(pub Actor);

/// Where the CSRF token of a changing request stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Proof {
    /// In its header.
    InHeader,
    /// In the form that is its body.
    InForm,
}

impl Actor {
    /// Refuses what the member may not do.
    pub fn may(&self, fleet: &Fleet, act: Act<'_>, now: Instant) -> Result<(), Problem> {
        may(fleet, Asker { member: self.member, has_history: false }, act, now).map_err(Problem::NotAllowed)
    }

    async fn find(request: &HttpRequest, proof: Proof) -> Result<Self, Problem> {
        let state = state_of(request)?;
        if let Some(text) = bearer(request)? {
            return Self::by_token(&state, &text).await;
        }
        match sessions::cookie(request) {
            Some(cookie) => Self::by_session(&state, request, cookie, proof).await,
            None => Err(Problem::NotSignedIn(TokenFault::Missing)),
        }
    }

    async fn by_token(state: &State, text: &str) -> Result<Self, Problem> {
        let (club, secret) = tokens::split(text).map_err(Problem::NotSignedIn)?;
        let token = match state.tokens.get(text) {
            Some(token) => token,
            None => {
                let turn = state.tokens.turn();
                let (club, secret) = (club.to_owned(), secret.to_owned());
                let token = state.door.read(move |_, conn| tokens::find(conn, &club, &secret)).await?;
                state.tokens.put(text, &token, turn);
                token
            }
        };
        token.check(state.now()).map_err(Problem::NotSignedIn)?;
        let shown = Shown::Token(token.id);
        Ok(Self { club: club.to_owned(), member: token.member, shown, scopes: token.scopes })
    }

    async fn by_session(
        state: &State,
        request: &HttpRequest,
        cookie: String,
        proof: Proof,
    ) -> Result<Self, Problem> {
        let now = state.now();
        let session = state.door.read(move |_, conn| sessions::find(conn, &cookie, now)).await?;
        let session = session.ok_or(Problem::SessionEnded)?;
        if !is_safe(request) {
            check_origin(request, state.reach, true)?;
            if proof == Proof::InHeader {
                check_csrf(request, &session.csrf_token)?;
            }
        }
        if session.is_to_be_noted(now) {
            let used = session.clone();
            match state.door.write_beside(move |conn| sessions::note_use(conn, &used, now)).await {
                // What can be read meanwhile is not kept from anybody because nothing can be written.
                Err(DoorError::Busy(reason)) if is_safe(request) => {
                    tracing::warn!(reason, "that a session was used could not be noted");
                }
                noted => noted?,
            }
        }
        Ok(Self::of_session(session))
    }

    /// The member of a session.
    pub fn of_session(session: Session) -> Self {
        let (club, member) = (session.club.clone(), session.member);
        Self { club, member, shown: Shown::Session(session), scopes: sessions::scopes() }
    }

    /// Refuses what the access may not be used for.
    pub fn demand(&self, scope: Scope) -> Result<(), Problem> {
        if self.scopes.contains(&scope) { Ok(()) } else { Err(Problem::ScopeMissing(scope.as_str())) }
    }

    /// The session, if that was shown.
    pub fn session(&self) -> Option<&Session> {
        match &self.shown {
            Shown::Session(session) => Some(session),
            Shown::Token(_) => None,
        }
    }

    async fn with_scope(request: HttpRequest, scope: Scope) -> Result<Self, Problem> {
        let actor = Self::find(&request, Proof::InHeader).await?;
        actor.demand_ready(scope)?;
        Ok(actor)
    }

    /// Refuses what the access may not be used for, and all of it before a one-time password was replaced.
    pub fn demand_ready(&self, scope: Scope) -> Result<(), Problem> {
        self.demand(scope)?;
        match self.session() {
            Some(session) if session.must_change_password => Err(Problem::PasswordMustChange),
            Some(_) | None => Ok(()),
        }
    }

    /// The newest Fleet of the actor's club.
    pub async fn fleet(&self, state: &State) -> Result<Held, DoorError> {
        state.door.fleet(&self.club).await
    }
}

fn state_of(request: &HttpRequest) -> Result<Shared, Problem> {
    request.app_data::<Shared>().cloned().ok_or_else(|| Problem::Internal("the state is missing".to_owned()))
}

fn bearer(request: &HttpRequest) -> Result<Option<String>, Problem> {
    let Some(value) = request.headers().get(header::AUTHORIZATION) else { return Ok(None) };
    let malformed = Problem::NotSignedIn(TokenFault::Malformed);
    let Ok(text) = value.to_str() else { return Err(malformed) };
    match text.split_once(' ') {
        Some((scheme, token)) if scheme.eq_ignore_ascii_case("bearer") => Ok(Some(token.trim().to_owned())),
        Some(_) | None => Err(malformed),
    }
}

impl FromRequest for Reader {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move { Actor::with_scope(request, Scope::Read).await.map(Self) })
    }
}

impl FromRequest for Writer {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move { Actor::with_scope(request, Scope::Write).await.map(Self) })
    }
}

impl FromRequest for Copier {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move { Actor::with_scope(request, Scope::Copy).await.map(Self) })
    }
}

impl FromRequest for Subscriber {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let Some(text) = token_in_link(&request) else {
                return Actor::with_scope(request, Scope::Calendar).await.map(Self);
            };
            let state = state_of(&request)?;
            let actor = Actor::by_token(&state, &text).await?;
            actor.demand(Scope::Calendar)?;
            if actor.scopes.len() > 1 {
                return Err(Problem::LinkTooPowerful);
            }
            Ok(Self(actor))
        })
    }
}

/// The token that stands in the link.
fn token_in_link(request: &HttpRequest) -> Option<String> {
    let pairs = actix_web::web::Query::<Vec<(String, String)>>::from_query(request.query_string()).ok()?;
    pairs.into_inner().into_iter().find(|(name, _)| name == "token").map(|(_, value)| value)
}

impl FromRequest for FormSender {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let is_shown = request.headers().contains_key(CSRF_HEADER);
            let proof = if is_shown { Proof::InHeader } else { Proof::InForm };
            Actor::find(&request, proof).await.map(|actor| Self { actor, is_shown })
        })
    }
}

impl FromRequest for SignedIn {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move { Actor::find(&request, Proof::InHeader).await.map(Self) })
    }
}
