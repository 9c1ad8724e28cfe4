//! How a defect stands, and putting it off: previewed, or recorded as a deferral.

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use preen_domain::answers::{Answer, DefectStanding, DeferralAnswer, plan_deferral};
use preen_domain::asked;
use preen_domain::facts::{Deferral, Noun};
use preen_domain::ids::DefectId;
use preen_domain::rules::may::may_see_defect;
use preen_domain::words::Scope;

use super::ask::Ask;
use crate::access::actor::{Actor, Reader, Writer};
use crate::access::sight::sight_of;
use crate::db::door::{Change, Kept};
use crate::problem::Problem;
use crate::resources::body::{Body, fill_in, is_preview, parse_fact, resolve};
use crate::resources::entry::{check_allowed, check_allowed_to, check_names, not_found};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::{Shared, State};

/// Says how a defect stands on a day: its class, its restrictions and their limit, who may put it off.
#[utoipa::path(
    tag = "answers",
    params(("id" = String, Path, description = "Id or tag of the defect.")),
    responses((status = 200, description = "Its standing.", body = Answer<DefectStanding>))
)]
#[get("/defects/{id}/standing")]
pub async fn show_defect_standing(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["defects", &id, "standing"]).await?;
    let standing = asked::defect_standing(&ask.asked(), &id)?;
    Ok(ask.answer(|| standing))
}

/// Defers a defect, or extends its deferral, or says beforehand what that would do.
///
/// `defect` is known from the path and may be left out.
#[utoipa::path(
    tag = "defects",
    params(
        ("id" = String, Path, description = "Id or tag of the defect."),
        ("preview" = Option<bool>, Query, description = "Only say what it would do; nothing is recorded."),
    ),
    request_body = Deferral,
    responses(
        (status = 201, description = "Recorded.", body = DeferralAnswer),
        (status = 200, description = "A preview, or it was recorded before.", body = DeferralAnswer),
    )
)]
#[post("/defects/{id}/deferral")]
pub async fn defer_defect(
    state: Shared,
    actor: Writer,
    id: web::Path<String>,
    query: Pairs,
    body: Body,
) -> Result<HttpResponse, Problem> {
    let held = actor.0.fleet(&state).await?;
    let unknown = || not_found(Noun::Defects, &id);
    let defect = DefectId(held.names.find(Noun::Defects, &id).ok_or_else(unknown)?);
    if !may_see_defect(&held.fleet, actor.0.member, defect, state.now()) {
        return Err(unknown());
    }
    let mut body = body.read().await?;
    resolve(Noun::Deferrals, "", &mut body, &sight_of(&actor.0, &held, state.now()))?;
    fill_in(&mut body, "defect", &defect.to_string())?;
    let deferral: Deferral = parse_fact("", body)?;
    if is_preview(&query)? {
        let answer = preview(&state, &actor.0, &deferral).await?;
        return Ok(HttpResponse::Ok().json(answer));
    }
    let has_history = actor.0.scopes.contains(&Scope::History);
    let (answer, is_new) = state
        .door
        .write(&actor.0.club, actor.0.member, move |change| record(change, &deferral, has_history))
        .await?;
    let mut response = if is_new { HttpResponse::Created() } else { HttpResponse::Ok() };
    Ok(response.json(answer))
}

/// The same answer, and the same refusals, without a trace.
async fn preview(state: &State, actor: &Actor, deferral: &Deferral) -> Result<DeferralAnswer, Problem> {
    let held = actor.fleet(state).await?;
    let now = state.now();
    check_allowed_to(&held.fleet, actor, &deferral.clone().into(), now)?;
    let plan = plan_deferral(&held.fleet, deferral, actor.member, now)
        .map_err(|broken| Problem::broken_rules(&broken))?;
    Ok(DeferralAnswer { is_preview: true, ..plan.answer })
}

fn record(
    change: &mut Change<'_>,
    deferral: &Deferral,
    has_history: bool,
) -> Result<Kept<(DeferralAnswer, bool)>, Problem> {
    if let Some(revision) = change.revision_of(deferral.id.0)? {
        let before = change.fleet_at(revision - 1)?;
        let fact = deferral.clone().into();
        if change.facts_of(revision)? == [fact]
            && let Ok(again) = plan_deferral(&before, deferral, change.by(), change.now())
        {
            return Ok(Kept::Unchanged((again.answer, false)));
        }
        return Err(Problem::IdTaken(format!(
            "The id {} was recorded at revision {revision} with other content. Make a new id.",
            deferral.id
        )));
    }
    check_names(change, &deferral.clone().into())?;
    check_allowed(change, &deferral.clone().into(), has_history)?;
    let plan = plan_deferral(change.fleet(), deferral, change.by(), change.now())
        .map_err(|broken| Problem::broken_rules(&broken))?;
    change.record("defer_defect", plan.fact)?;
    Ok(Kept::Recorded((plan.answer, true)))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(show_defect_standing).service(defer_defect);
}
