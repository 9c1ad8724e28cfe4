//! The club: its members, one's own access tokens, what was sent and waits for somebody to settle, bench sheets; and
//! finding a model or part by its tag.

use actix_web::web::ServiceConfig;
use actix_web::{HttpResponse, get, post};
use askama::Template;
use preen_domain::facts::Noun;
use preen_domain::rules::may::may_read_names;
use preen_domain::words::Scope;
use serde_json::json;

use super::fault::{PageFault, see_other};
use super::form::{Fields, Filled, Posted};
use super::frame::{Frame, Room, send, send_refused};
use super::guest::Visit;
use crate::access::actor::Actor;
use crate::access::sight::Finds as _;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::body::parse_fact;
use crate::resources::tokens::http::{list_of, make, revoke};
use crate::state::State;
use crate::told::day;

/// A member as far as the asker may know.
struct Member {
    tag: String,
    name: String,
    roles: String,
}

/// A token in short.
struct Token {
    id: String,
    label: String,
    scopes: String,
    made: String,
    ends: String,
    is_over: bool,
}

#[derive(Template)]
#[template(path = "pages/club.html")]
struct ClubPage {
    frame: Frame,
    members: Vec<Member>,
    tokens: Vec<Token>,
    scopes: Vec<&'static str>,
    /// A token that was just made: it is shown this once.
    fresh: Option<String>,
    form: Filled,
}

/// What a session may hand on to a program. Entering what others did is given by the keeper alone.
const HANDED_ON: &[Scope] = &[Scope::Read, Scope::Write, Scope::Copy, Scope::Calendar];

fn members(ask: &Ask, actor: &Actor) -> Vec<Member> {
    let fleet = &ask.held.fleet;
    let reads_names = may_read_names(fleet, actor.member);
    let mut made: Vec<Member> = fleet
        .members()
        .filter(|(id, _)| ask.sees_all || *id == actor.member)
        .map(|(id, file)| {
            let fact = &file.fact;
            let roles: Vec<String> = fact.roles.iter().map(|role| role.as_str().replace('_', " ")).collect();
            let name = fact.name.as_ref().filter(|_| reads_names || id == actor.member);
            Member {
                tag: fact.tag.to_string(),
                name: name.map(ToString::to_string).unwrap_or_default(),
                roles: roles.join(", "),
            }
        })
        .collect();
    made.sort_by(|a, b| a.tag.cmp(&b.tag));
    made
}

async fn page(
    state: &State,
    ask: &Ask,
    actor: &Actor,
    form: Filled,
    fresh: Option<String>,
) -> Result<ClubPage, Problem> {
    let zone = ask.held.fleet.club().zone;
    let mut records = list_of(state, actor, actor.member).await?;
    records.sort_by_key(|one| std::cmp::Reverse(one.created_at));
    let tokens = records.into_iter().map(|one| {
        let is_over = one.revoked_at.is_some() || one.expires_at.is_some_and(|end| end <= ask.now);
        let scopes: Vec<&str> = one.scopes.iter().map(|scope| scope.as_str()).collect();
        Token {
            id: one.id.to_string(),
            label: one.label,
            scopes: scopes.join(", "),
            made: day(one.created_at, zone),
            ends: match (one.revoked_at, one.expires_at) {
                (Some(at), _) => format!("taken back {}", day(at, zone)),
                (None, Some(at)) => day(at, zone),
                (None, None) => "when it is taken back".to_owned(),
            },
            is_over,
        }
    });
    Ok(ClubPage {
        frame: Frame::plain(&ask.held.fleet, actor, Room::Club, ask.held.fleet.club().title.clone(), ask.now),
        members: members(ask, actor),
        tokens: tokens.collect(),
        scopes: HANDED_ON.iter().map(|scope| scope.as_str()).collect(),
        fresh,
        form,
    })
}

/// Shows the club.
#[get("/club")]
async fn show_club(visit: Visit) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    send(&page(&visit.state, &ask, &visit.actor, Filled::default(), None).await?)
}

/// Makes a token or takes one back.
#[post("/club")]
async fn send_club(posted: Posted) -> Result<HttpResponse, PageFault> {
    let ask = posted.ask().await?;
    let Posted { actor, fields, state, .. } = posted;
    let done = match fields.get("revoke") {
        Some(id) => revoke(&state, &actor, id).await.map(|_revoked| None),
        None => make_token(&state, &actor, &fields).await,
    };
    match done {
        Ok(None) => Ok(see_other("/club#tokens")),
        // The answer that made it is the only one that shows it: no redirect.
        Ok(fresh) => send(&page(&state, &ask, &actor, Filled::default(), fresh).await?),
        Err(problem) => {
            let status = problem.kind().0;
            send_refused(status, &page(&state, &ask, &actor, Filled::refused(fields, &problem), None).await?)
        }
    }
}

async fn make_token(state: &State, actor: &Actor, fields: &Fields) -> Result<Option<String>, Problem> {
    let scopes: Vec<&str> =
        HANDED_ON.iter().map(|scope| scope.as_str()).filter(|scope| fields.get(scope).is_some()).collect();
    let wanted = json!({ "id": fields.need("id")?, "label": fields.need("label")?, "scopes": scopes });
    Ok(make(state, actor, parse_fact("", wanted)?).await?.token)
}

/// Opens the model or part of a tag, as it is read from a label.
#[get("/find")]
async fn find_tagged(visit: Visit) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&["tag"]).await?;
    let tag = ask.parameter("tag").unwrap_or_default().trim().to_owned();
    let rooms = [(Noun::Models, "models"), (Noun::Components, "components")];
    let tries = [tag.clone(), tag.to_uppercase()];
    for tag in &tries {
        for (noun, room) in rooms {
            if ask.sight().find(noun, tag).is_some() && tag.parse::<preen_domain::text::Tag>().is_ok() {
                return Ok(see_other(&format!("/{room}/{tag}")));
            }
        }
    }
    Err(Problem::NotFound(format!("There is no model and no part with the tag `{tag}`.")).into())
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_club).service(send_club).service(find_tagged);
}
