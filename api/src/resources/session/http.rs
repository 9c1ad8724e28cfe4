//! Routes of the session.

use std::collections::BTreeSet;

use actix_web::{HttpRequest, HttpResponse, delete, get, http::header, post};
use preen_domain::facts::Noun;
use preen_domain::fleet::Fleet;
use preen_domain::ids::MemberId;
use preen_domain::text::Tag;
use preen_domain::time::Instant;
use preen_domain::words::{Role, Scope};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::access::actor::{Actor, SignedIn};
use crate::access::guards::{address, check_origin};
use crate::access::passwords::{self, MOST_BYTES, PasswordRow};
use crate::access::sessions::{self, set_cookie};
use crate::access::throttle::{self, Subject};
use crate::access::tokens::is_club_name;
use crate::db::door::DoorError;
use crate::db::names;
use crate::problem::Problem;
use crate::resources::body::{Body, parse_fact};
use crate::routes::Routes;
use crate::state::{Shared, State};

/// Who wants in.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SignIn {
    /// Short name of the club.
    #[schema(example = "quillmarsh")]
    pub club: String,
    /// Tag of the member.
    #[schema(example = "AV")]
    pub member: String,
    /// The password.
    #[schema(format = Password)]
    pub password: String,
}

/// Who is signed in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Whoami {
    /// Short name of the club.
    pub club: String,
    /// The member.
    pub member: MemberId,
    /// The member's tag.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// What the member may do.
    pub roles: Vec<Role>,
    /// What the access may be used for.
    pub scopes: BTreeSet<Scope>,
    /// When the member signed in; absent with a token.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub began_at: Option<Instant>,
    /// When the session ends if it is not used again; absent with a token.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ends_at: Option<Instant>,
    /// What changing requests must send as X-CSRF-Token; absent with a token, which needs none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub csrf_token: Option<String>,
    /// Signed in with a one-time password: a password of one's own must be chosen before anything else.
    pub must_change_password: bool,
}

impl Whoami {
    fn of(fleet: &Fleet, actor: &Actor) -> Self {
        let member = fleet.member(actor.member).map(|file| &file.fact);
        let session = actor.session();
        Self {
            club: actor.club.clone(),
            member: actor.member,
            tag: member.map(|member| member.tag.clone()),
            roles: member.map(|member| member.roles.clone()).unwrap_or_default(),
            scopes: actor.scopes.clone(),
            began_at: session.map(|session| session.began_at),
            ends_at: session.map(|session| session.ends_at),
            csrf_token: session.map(|session| session.csrf_token.clone()),
            must_change_password: session.is_some_and(|session| session.must_change_password),
        }
    }
}

/// The member of a name and their password, as far as there are any.
async fn look_up(
    state: &State,
    club: &str,
    name: &str,
) -> Result<(Option<MemberId>, Option<PasswordRow>), DoorError> {
    // What cannot be a name is nobody's.
    if !is_club_name(club) || Tag::try_from(name.to_owned()).is_err() {
        return Ok((None, None));
    }
    let (club, name, now) = (club.to_owned(), name.to_owned(), state.now());
    state
        .door
        .read(move |_, conn| {
            let Some(id) = names::find_by_tag(conn, &club, Noun::Members, &name)? else {
                return Ok((None, None));
            };
            Ok((Some(MemberId(id)), passwords::find(conn, &club, &id.to_string(), now)?))
        })
        .await
}

/// Signs in with a password and begins a session.
///
/// The answer sets the cookie of the session. An unknown club or member and a wrong password are answered alike
/// and after the same work. After some failures, for a member or from an address, attempts must wait.
#[utoipa::path(
    tag = "access",
    security(()),
    request_body = SignIn,
    responses(
        (status = 201, description = "Signed in.", body = Whoami,
            headers(("Set-Cookie" = String, description = "The cookie `preen_session`."))),
        (status = 403, description = "A page of another origin sent it.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"),
        (status = 429, description = "Too many attempts failed.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json",
            headers(("Retry-After" = i64, description = "Seconds to wait."))),
    )
)]
#[post("/session")]
pub async fn sign_in(state: Shared, request: HttpRequest, body: Body) -> Result<HttpResponse, Problem> {
    check_origin(&request, state.reach, false)?;
    let wanted: SignIn = parse_fact("", body.read().await?)?;
    let (actor, cookie) = begin(&state, &request, wanted).await?;
    let held = actor.fleet(&state).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::SET_COOKIE, cookie))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .json(Whoami::of(&held.fleet, &actor)))
}

/// Begins a session for whoever knows the password; gives its cookie too.
pub async fn begin(state: &State, request: &HttpRequest, wanted: SignIn) -> Result<(Actor, String), Problem> {
    if wanted.password.len() > MOST_BYTES {
        return Err(Problem::field("/password", format!("A password has at most {MOST_BYTES} bytes.")));
    }
    let now = state.now();
    let (member, row) = look_up(state, &wanted.club, &wanted.member).await?;
    let name = member.map_or(wanted.member, |id| id.to_string());
    let of_member = Subject::member(&wanted.club, &name);
    let of_address = address(request, state.reach).map(Subject::address);
    // The address first, always: two attempts then never wait for each other crosswise.
    let subjects: Vec<Subject> = of_address.clone().into_iter().chain([of_member.clone()]).collect();
    throttle::reserve(&state.door, &subjects, now).await?;
    let hash = row.as_ref().map(|row| row.hash.clone());
    let is_right = state.hasher.verify(wanted.password, hash).await?;
    let (Some(member), Some(row), true) = (member, row, is_right) else {
        tracing::warn!("an attempt to sign in failed");
        // Room for others; of no consequence if it fails.
        let _ = state.door.write_beside(move |conn| throttle::sweep(conn, now)).await;
        return Err(Problem::SignInWrong);
    };
    let begun = state
        .door
        .write_beside(move |conn| {
            if let Some(of_address) = &of_address {
                throttle::forgive(conn, of_address)?;
            }
            throttle::clear(conn, &of_member)?;
            if !passwords::take(conn, &row)? {
                return Ok::<_, DoorError>(None);
            }
            sessions::begin(conn, &row.club_id, member, row.is_one_time, now).map(Some)
        })
        .await?;
    // Somebody set another password while this one was verified.
    let Some((session, cookie)) = begun else { return Err(Problem::SignInWrong) };
    Ok((Actor::of_session(session), set_cookie(&cookie, state.reach.is_encrypted)))
}

/// Says who is signed in, and (with a session) the CSRF token.
#[utoipa::path(
    tag = "access",
    responses((status = 200, description = "The member behind the access.", body = Whoami))
)]
#[get("/session")]
pub async fn find_session(state: Shared, actor: SignedIn) -> Result<HttpResponse, Problem> {
    actor.0.demand(Scope::Read)?;
    let held = actor.0.fleet(&state).await?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .json(Whoami::of(&held.fleet, &actor.0)))
}

/// Signs out: ends the session of the cookie.
#[utoipa::path(
    tag = "access",
    responses(
        (status = 204, description = "Signed out; the cookie is taken back."),
        (status = 404, description = "There is no session: a token was shown.",
            body = crate::problem::ProblemBody, content_type = "application/problem+json"),
    )
)]
#[delete("/session")]
pub async fn sign_out(state: Shared, actor: SignedIn) -> Result<HttpResponse, Problem> {
    let cookie = end(&state, &actor.0).await?;
    Ok(HttpResponse::NoContent().insert_header((header::SET_COOKIE, cookie)).finish())
}

/// Ends the session of an actor; gives the cookie that takes the session's back.
pub async fn end(state: &State, actor: &Actor) -> Result<String, Problem> {
    actor.demand(Scope::Write)?;
    let Some(session) = actor.session().cloned() else {
        let text =
            "A token has no session that could end. Take the token back with DELETE /api/v1/tokens/{id}.";
        return Err(Problem::NotFound(text.to_owned()));
    };
    state.door.write_beside(move |conn| sessions::end(conn, &session)).await?;
    Ok(set_cookie("", state.reach.is_encrypted))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(sign_in).service(find_session).service(sign_out);
}
