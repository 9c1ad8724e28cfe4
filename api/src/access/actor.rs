//! The one who asks, as the handlers' signatures demand: `Reader` for questions, `Writer` for changes.

use std::collections::BTreeSet;

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest, http::header};
use futures_util::future::LocalBoxFuture;
use preen_domain::ids::{MemberId, TokenId};
use preen_domain::words::Scope;

use super::tokens;
use crate::db::door::DoorError;
use crate::db::fleet::Held;
use crate::problem::{Problem, TokenFault};
use crate::state::{Shared, State};

/// A member who has shown a valid token.
#[derive(Clone, Debug)]
pub struct Actor {
    /// The club of the token; nothing outside it can be reached.
    pub club: String,
    /// The member.
    pub member: MemberId,
    /// The token shown.
    pub token: TokenId,
    /// What the token may be used for.
    pub scopes: BTreeSet<Scope>,
}

/// An actor whose token may read.
pub struct Reader(pub Actor);

/// An actor whose token may write.
pub struct Writer(pub Actor);

impl Actor {
    async fn find(request: &HttpRequest) -> Result<Self, Problem> {
        let state = request
            .app_data::<Shared>()
            .cloned()
            .ok_or_else(|| Problem::Internal("the state is missing".to_owned()))?;
        let text = bearer(request)?;
        let (club, secret) = tokens::split(&text).map_err(Problem::NotSignedIn)?;
        let token = match state.tokens.get(&text) {
            Some(token) => token,
            None => {
                let (club, secret) = (club.to_owned(), secret.to_owned());
                let token = state.door.read(move |_, conn| tokens::find(conn, &club, &secret)).await?;
                state.tokens.put(&text, &token);
                token
            }
        };
        token.check(state.now()).map_err(Problem::NotSignedIn)?;
        Ok(Self { club: club.to_owned(), member: token.member, token: token.id, scopes: token.scopes })
    }

    fn demand(&self, scope: Scope) -> Result<(), Problem> {
        if self.scopes.contains(&scope) { Ok(()) } else { Err(Problem::ScopeMissing(scope.as_str())) }
    }

    /// The newest Fleet of the actor's club.
    pub async fn fleet(&self, state: &State) -> Result<Held, DoorError> {
        state.door.fleet(&self.club).await
    }
}

fn bearer(request: &HttpRequest) -> Result<String, Problem> {
    let Some(value) = request.headers().get(header::AUTHORIZATION) else {
        return Err(Problem::NotSignedIn(TokenFault::Missing));
    };
    let malformed = Problem::NotSignedIn(TokenFault::Malformed);
    let Ok(text) = value.to_str() else { return Err(malformed) };
    match text.split_once(' ') {
        Some((scheme, token)) if scheme.eq_ignore_ascii_case("bearer") => Ok(token.trim().to_owned()),
        Some(_) | None => Err(malformed),
    }
}

impl FromRequest for Reader {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let actor = Actor::find(&request).await?;
            actor.demand(Scope::Read)?;
            Ok(Self(actor))
        })
    }
}

impl FromRequest for Writer {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let actor = Actor::find(&request).await?;
            actor.demand(Scope::Write)?;
            Ok(Self(actor))
        })
    }
}
