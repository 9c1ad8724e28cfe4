//! The one route that needs no token: exchanging the set-up code for the first member and his first token.

use actix_web::{HttpResponse, post};
use preen_domain::facts::{Fact, Member, Recorded};
use preen_domain::ids::TokenId;
use preen_domain::rules;
use preen_domain::text::{Tag, Text};
use preen_domain::words::{Role, Scope};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::store;
use crate::access::tokens::{hash_of, is_club_name};
use crate::db::door::Kept;
use crate::exchange::programme::default_programme;
use crate::problem::{Problem, TokenFault};
use crate::resources::body::{Body, parse_fact};
use crate::resources::tokens::http::{TokenRecord, TokenRequest, make_in_door};
use crate::routes::Routes;
use crate::state::Shared;

/// The set-up code and who uses it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SetUp {
    /// Short name of the club.
    pub club: Tag,
    /// The code that `preen-server init` printed.
    pub code: String,
    /// The first member; must hold the role `keeper`.
    pub member: Member,
}

/// The first member, and a token of his with every scope.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct SetUpDone {
    /// As recorded.
    pub member: Recorded<Member>,
    /// The first token; its text is shown this once.
    pub token: TokenRecord,
}

/// Begins a club: the set-up code is exchanged for the first member and his first token. The club gets the
/// default inspection programme.
#[utoipa::path(
    tag = "set-up",
    security(()),
    request_body = SetUp,
    responses((status = 201, description = "The club has begun; the code is used up.", body = SetUpDone))
)]
#[post("/setup")]
pub async fn begin_club(state: Shared, body: Body) -> Result<HttpResponse, Problem> {
    let wanted: SetUp = parse_fact("", body.read().await?)?;
    if !is_club_name(wanted.club.as_str()) {
        return Err(Problem::field("/club", "This cannot be the short name of a club."));
    }
    if !wanted.member.roles.contains(&Role::Keeper) {
        return Err(Problem::field("/member/roles", "The first member must hold the role `keeper`."));
    }
    let unknown = || Problem::NotSignedIn(TokenFault::Unknown);
    let club = wanted.club.to_string();
    let done = state
        .door
        .write(&club, wanted.member.id, move |change| {
            if change.club().setup_hash.as_deref() != Some(hash_of(&wanted.code).as_str()) {
                return Err(unknown());
            }
            let fact = Fact::Member(wanted.member.clone());
            let broken = rules::check(change.fleet(), &fact, change.now());
            if !broken.is_empty() {
                return Err(Problem::broken_rules(&broken));
            }
            let recorded = change.record("begin_club", fact)?;
            let programme = default_programme().map_err(|faults| Problem::Internal(faults.to_string()))?;
            change.record("begin_club", Fact::Programme(programme))?;
            let label = Text::try_from("first token".to_owned())
                .map_err(|error| Problem::Internal(error.to_string()))?;
            let token = TokenRequest {
                id: TokenId(uuid::Uuid::now_v7()),
                member: None,
                label,
                scopes: Scope::ALL.iter().copied().collect(),
                expires_at: None,
            };
            let token = make_in_door(change, &token, wanted.member.id)?;
            let club = change.club().id.clone();
            store::end_setup(change.conn(), &club)?;
            Ok(Kept::Recorded(SetUpDone { member: recorded.with(wanted.member), token }))
        })
        .await?;
    Ok(HttpResponse::Created().json(done))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(begin_club);
}
