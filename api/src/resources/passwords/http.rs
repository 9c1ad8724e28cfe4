//! The route that sets a password.

use actix_web::{HttpResponse, http::header, put, web};
use preen_domain::facts::Noun;
use preen_domain::ids::MemberId;
use preen_domain::rules::may::{Act, Asker, may};
use preen_domain::time::Instant;
use preen_domain::words::Scope;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::access::actor::{Actor, SignedIn};
use crate::access::passwords::{self, MOST_BYTES, PasswordRow};
use crate::access::sessions::{self, set_cookie};
use crate::access::sight::{Finds as _, sight_of};
use crate::access::throttle::{self, Subject};
use crate::db::door::DoorError;
use crate::problem::{FieldError, Problem};
use crate::resources::body::{Body, parse_fact};
use crate::routes::Routes;
use crate::state::{Shared, State};

/// A new password.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PasswordChange {
    /// The password so far; needed to change one's own in a session.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(format = Password)]
    pub old_password: Option<String>,
    /// The new one: at least 10 characters, at most 256 bytes, of any kind.
    #[schema(format = Password, min_length = 10)]
    pub new_password: String,
}

/// What was set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PasswordSet {
    /// Whose password it is.
    pub member: MemberId,
    /// Set by the keeper for another: it lets in once, within 7 days, to choose one's own.
    pub is_one_time: bool,
    /// When it was set.
    pub changed_at: Instant,
    /// How many sessions of the member ended by it.
    pub sessions_ended: usize,
}

/// Proves that it is the member who changes their own password: by the one so far, or by a token of theirs
/// that may do what a session may.
async fn prove_own(state: &State, actor: &Actor, old: Option<String>) -> Result<(), Problem> {
    let must_change = actor.session().is_some_and(|session| session.must_change_password);
    let Some(old) = old else {
        if must_change || actor.session().is_none() {
            return Ok(());
        }
        return Err(Problem::field("/old_password", "Say the password so far too."));
    };
    if old.len() > MOST_BYTES {
        return Err(Problem::field("/old_password", format!("A password has at most {MOST_BYTES} bytes.")));
    }
    let (club, member, now) = (actor.club.clone(), actor.member.to_string(), state.now());
    let subject = Subject::member(&club, &member);
    throttle::reserve(&state.door, std::slice::from_ref(&subject), now).await?;
    let row = state.door.read(move |_, conn| passwords::find(conn, &club, &member, now)).await?;
    if state.hasher.verify(old, row.map(|row| row.hash)).await? {
        state.door.write_beside(move |conn| throttle::clear(conn, &subject)).await?;
        Ok(())
    } else {
        Err(Problem::InvalidFields(vec![FieldError::new(
            "/old_password",
            "wrong_password",
            "This is not the password so far.",
        )]))
    }
}

/// Sets one's own password, or (the keeper) a one-time password for another member.
///
/// All sessions of the member end by it, and attempts to sign in that failed before are forgotten.
#[utoipa::path(
    tag = "access",
    params(("id" = String, Path, description = "Id or tag of the member.")),
    request_body = PasswordChange,
    responses(
        (status = 200, description = "Set.", body = PasswordSet),
        (status = 429, description = "The password so far was wrong too often.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json",
            headers(("Retry-After" = i64, description = "Seconds to wait."))),
    )
)]
#[put("/members/{id}/password")]
pub async fn set_password(
    state: Shared,
    actor: SignedIn,
    id: web::Path<String>,
    body: Body,
) -> Result<HttpResponse, Problem> {
    let set = set(&state, &actor.0, &id, async || parse_fact("", body.read().await?)).await?;
    let mut response = HttpResponse::Ok();
    if set.member == actor.0.member && actor.0.session().is_some() {
        response.insert_header((header::SET_COOKIE, set_cookie("", state.reach.is_encrypted)));
    }
    Ok(response.json(set))
}

/// Sets the password of the member that a name means; what is wanted is read when it is known who may.
pub async fn set(
    state: &State,
    actor: &Actor,
    id: &str,
    read: impl AsyncFnOnce() -> Result<PasswordChange, Problem>,
) -> Result<PasswordSet, Problem> {
    if actor.session().is_none() {
        // A password lets do both, so the token that sets it must do both.
        actor.demand(Scope::Read)?;
        actor.demand(Scope::Write)?;
    }
    let held = actor.fleet(state).await?;
    let asker = Asker { member: actor.member, has_history: false };
    let member = sight_of(actor, &held, state.now()).find(Noun::Members, id).map(MemberId);
    let unknown = || Problem::NotFound(format!("There is no `{id}` among the members."));
    let member = member.ok_or_else(unknown)?;
    let is_own = member == actor.member;
    if !is_own && actor.session().is_some_and(|session| session.must_change_password) {
        return Err(Problem::PasswordMustChange);
    }
    may(&held.fleet, asker, Act::SetPassword(member), state.now()).map_err(Problem::NotAllowed)?;
    let wanted = read().await?;
    passwords::check(&wanted.new_password, &actor.club)
        .map_err(|text| Problem::field("/new_password", text))?;
    if is_own {
        prove_own(state, actor, wanted.old_password).await?;
    } else if wanted.old_password.is_some() {
        return Err(Problem::field("/old_password", "Leave it out: it is another member's password."));
    }
    let now = state.now();
    let row = PasswordRow {
        club_id: actor.club.clone(),
        member: member.to_string(),
        hash: state.hasher.hash(wanted.new_password).await?,
        is_one_time: !is_own,
        changed_at: now.micros(),
        changed_by: actor.member.to_string(),
    };
    let subject = Subject::member(&actor.club, &row.member);
    let sessions_ended = state
        .door
        .write_beside(move |conn| {
            // The row first: a session that begins at this moment waits for it, or is seen and ended.
            passwords::set(conn, &row)?;
            throttle::clear(conn, &subject)?;
            sessions::end_all(conn, &row.club_id, member)
        })
        .await
        .map_err(|error: DoorError| Problem::from(error))?;
    tracing::info!(club = %actor.club, %member, by = %actor.member, "a password was set");
    Ok(PasswordSet { member, is_one_time: !is_own, changed_at: now, sessions_ended })
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(set_password);
}
