//! Routes of tokens. The secret is shown once, in the answer to the request that made it.

use std::collections::BTreeSet;

use actix_web::{HttpResponse, delete, get, post};
use preen_domain::facts::Noun;
use preen_domain::ids::{MemberId, TokenId};
use preen_domain::rules::may::{Act, Asker, may};
use preen_domain::text::Text;
use preen_domain::time::Instant;
use preen_domain::words::Scope;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::store;
use crate::access::actor::{Actor, Reader, Writer};
use crate::access::sight::{Finds, sight_of};
use crate::access::tokens::{TokenRow, hash_of, join_scopes, new_secret, parse_scopes};
use crate::db::door::{Change, DoorError, Kept};
use crate::problem::{FieldError, Problem};
use crate::resources::body::{Body, parse_fact};
use crate::resources::page::{Listed, Pairs};
use crate::routes::Routes;
use crate::state::{Shared, State};

/// A token that is wanted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TokenRequest {
    /// Id made by the client (UUIDv7).
    pub id: TokenId,
    /// Whose it will be, by id or tag; absent: the asker's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub member: Option<MemberId>,
    /// What it is for, in words.
    pub label: Text,
    /// What it may be used for; the same twice counts once.
    #[schema(value_type = Vec<Scope>, min_items = 1)]
    pub scopes: BTreeSet<Scope>,
    /// When it ends; absent: never.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<Instant>,
}

/// A token as it is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TokenRecord {
    /// Its id.
    pub id: TokenId,
    /// Whose it is.
    pub member: MemberId,
    /// What it is for, in words.
    pub label: String,
    /// What it may be used for.
    pub scopes: BTreeSet<Scope>,
    /// When it was made.
    pub created_at: Instant,
    /// By whom.
    pub created_by: MemberId,
    /// When it ends.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<Instant>,
    /// When it was taken back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revoked_at: Option<Instant>,
    /// The token itself; shown only in the answer that made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub token: Option<String>,
}

impl TokenRecord {
    fn read(row: &TokenRow) -> Result<Self, DoorError> {
        let broken = |text: String| DoorError::Broken(format!("token {}: {text}", row.id));
        Ok(Self {
            id: row.id.parse().map_err(|error| broken(format!("{error}")))?,
            member: row.member.parse().map_err(|error| broken(format!("{error}")))?,
            label: row.label.clone(),
            scopes: parse_scopes(&row.scopes).map_err(broken)?,
            created_at: Instant::from_micros(row.created_at),
            created_by: row.created_by.parse().map_err(|error| broken(format!("{error}")))?,
            expires_at: row.expires_at.map(Instant::from_micros),
            revoked_at: row.revoked_at.map(Instant::from_micros),
            token: None,
        })
    }
}

/// Makes a token inside the door: its row, its entry in the trail, and the text shown once.
pub fn make_in_door(
    change: &mut Change<'_>,
    wanted: &TokenRequest,
    member: MemberId,
) -> Result<TokenRecord, Problem> {
    let secret = new_secret()?;
    let row = TokenRow {
        club_id: change.club().id.clone(),
        id: wanted.id.to_string(),
        member: member.to_string(),
        label: wanted.label.to_string(),
        scopes: join_scopes(&wanted.scopes),
        secret_hash: hash_of(&secret),
        created_at: change.now().micros(),
        created_by: change.by().to_string(),
        expires_at: wanted.expires_at.map(Instant::micros),
        revoked_at: None,
    };
    let mut record = TokenRecord::read(&row)?;
    let payload = serde_json::to_string(&record).map_err(|error| Problem::Internal(error.to_string()))?;
    record.token = Some(format!("preen_{}_{secret}", row.club_id));
    store::insert(change.conn(), row).map_err(DoorError::from)?;
    change.note("make_token", "tokens", wanted.id.0, payload)?;
    Ok(record)
}

fn may_manage(change: &Change<'_>, actor: &Actor, member: MemberId) -> Result<(), Problem> {
    let asker = Asker { member: actor.member, has_history: actor.scopes.contains(&Scope::History) };
    may(change.fleet(), asker, Act::ManageTokens(member), change.now()).map_err(Problem::NotAllowed)
}

fn find_member(names: &dyn Finds, name: &str) -> Result<MemberId, Problem> {
    names
        .find(Noun::Members, name)
        .map(MemberId)
        .ok_or_else(|| Problem::NotFound(format!("There is no `{name}` among the members.")))
}

/// Makes an access token, for oneself or (the keeper) for another member.
#[utoipa::path(
    tag = "tokens",
    request_body = TokenRequest,
    responses(
        (status = 201, description = "Made; `token` is shown this once.", body = TokenRecord),
        (status = 200, description = "It was made before; its text is not shown again.", body = TokenRecord),
    )
)]
#[post("/tokens")]
pub async fn make_token(state: Shared, actor: Writer, body: Body) -> Result<HttpResponse, Problem> {
    let actor = actor.0;
    let mut body = body.read().await?;
    let held = actor.fleet(&state).await?;
    if let Some(Value::String(name)) = body.get_mut("member") {
        *name = find_member(&sight_of(&actor, &held, state.now()), name)
            .map_err(|problem| {
                Problem::InvalidFields(vec![FieldError::new(
                    "/member",
                    "unknown_reference",
                    problem.to_string(),
                )])
            })?
            .to_string();
    }
    let record = make(&state, &actor, parse_fact("", body)?).await?;
    let mut response = if record.token.is_some() { HttpResponse::Created() } else { HttpResponse::Ok() };
    Ok(response.json(record))
}

/// Makes a token; its text is in the answer unless it was made before.
pub async fn make(state: &State, actor: &Actor, wanted: TokenRequest) -> Result<TokenRecord, Problem> {
    let actor = actor.clone();
    let member = wanted.member.unwrap_or(actor.member);
    if wanted.scopes.is_empty() {
        return Err(Problem::field("/scopes", "A token needs at least one scope."));
    }
    if wanted.expires_at.is_some_and(|end| end <= state.now()) {
        return Err(Problem::field("/expires_at", "It would have ended already: choose a later moment."));
    }
    let is_own = member == actor.member;
    if is_own && actor.session().is_some() {
        // Whoever signed in with the password may make tokens for programs, but not one to enter what others
        // did: that scope is handed on from token to token, or given by the keeper.
        if wanted.scopes.contains(&Scope::History) {
            return Err(Problem::field(
                "/scopes",
                "The scope `history` is given by the keeper, not by signing in.",
            ));
        }
    } else if is_own && !wanted.scopes.is_subset(&actor.scopes) {
        return Err(Problem::field("/scopes", "A token cannot make one that may do more than itself."));
    }
    let club = actor.club.clone();
    state
        .door
        .write(&club, actor.member, move |change| {
            may_manage(change, &actor, member)?;
            let club = change.club().id.clone();
            let known = store::find(change.conn(), &club, &wanted.id.to_string()).map_err(DoorError::from)?;
            match known {
                None => Ok(Kept::Recorded(make_in_door(change, &wanted, member)?)),
                Some(row) => {
                    let record = TokenRecord::read(&row)?;
                    let is_same = record.member == member
                        && record.label == wanted.label.as_str()
                        && record.scopes == wanted.scopes
                        && record.expires_at == wanted.expires_at;
                    if is_same {
                        Ok(Kept::Unchanged(record))
                    } else {
                        Err(Problem::IdTaken(format!(
                            "Another token has the id {}. Make a new id.",
                            record.id
                        )))
                    }
                }
            }
        })
        .await
}

/// Lists one's own tokens, or (the keeper) those of another member.
#[utoipa::path(
    tag = "tokens",
    params(("member" = Option<String>, Query, description = "Id or tag of the member; absent: the asker.")),
    responses(
        (status = 200, description = "All of them, the ended and revoked too.", body = Listed<TokenRecord>),
        (status = 404, description = "There is no such member.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"),
    )
)]
#[get("/tokens")]
pub async fn list_tokens(state: Shared, actor: Reader, query: Pairs) -> Result<HttpResponse, Problem> {
    let actor = actor.0;
    let held = actor.fleet(&state).await?;
    let mut member = actor.member;
    for (name, value) in &query.0 {
        if name != "member" {
            return Err(Problem::bad_parameter(
                name,
                "The list of tokens knows no such parameter. It knows: member.".into(),
            ));
        }
        member = find_member(&sight_of(&actor, &held, state.now()), value)?;
    }
    actor.may(&held.fleet, Act::ManageTokens(member), state.now())?;
    let items = list_of(&state, &actor, member).await?;
    Ok(HttpResponse::Ok().json(Listed { items, next: None }))
}

/// The tokens of a member of the actor's club, whoever may ask for them.
pub async fn list_of(state: &State, actor: &Actor, member: MemberId) -> Result<Vec<TokenRecord>, Problem> {
    let club = actor.club.clone();
    let rows = state
        .door
        .read(move |_, conn| store::list(conn, &club, &member.to_string()).map_err(DoorError::from))
        .await?;
    Ok(rows.iter().map(TokenRecord::read).collect::<Result<_, _>>()?)
}

/// Takes a token back for good.
#[utoipa::path(
    tag = "tokens",
    params(("id" = String, Path, description = "Id of the token.")),
    responses((status = 200, description = "Taken back.", body = TokenRecord))
)]
#[delete("/tokens/{id}")]
pub async fn revoke_token(
    state: Shared,
    actor: Writer,
    id: actix_web::web::Path<String>,
) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(revoke(&state, &actor.0, &id).await?))
}

/// Takes back a token that the actor may manage.
pub async fn revoke(state: &State, actor: &Actor, id: &str) -> Result<TokenRecord, Problem> {
    let actor = actor.clone();
    let club = actor.club.clone();
    let unknown = Problem::NotFound(format!("There is no `{id}` among the tokens."));
    let id: TokenId = id.parse().map_err(|_not_an_id: uuid::Error| unknown.clone())?;
    let record = state
        .door
        .write(&club, actor.member, move |change| {
            let club = change.club().id.clone();
            let row = store::find(change.conn(), &club, &id.to_string()).map_err(DoorError::from)?;
            let mut record = TokenRecord::read(&row.ok_or_else(|| unknown.clone())?)?;
            // Whether another member has a token of this id is none of the asker's business.
            may_manage(change, &actor, record.member).map_err(|_not_allowed| unknown)?;
            if record.revoked_at.is_some() {
                return Ok(Kept::Unchanged(record));
            }
            record.revoked_at = Some(change.now());
            let now = change.now().micros();
            store::revoke(change.conn(), &club, &id.to_string(), now).map_err(DoorError::from)?;
            let payload =
                serde_json::to_string(&record).map_err(|error| Problem::Internal(error.to_string()))?;
            change.note("revoke_token", "tokens", id.0, payload)?;
            Ok::<_, Problem>(Kept::Recorded(record))
        })
        .await?;
    state.tokens.forget(id);
    Ok(record)
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_tokens).service(make_token).service(revoke_token);
}
