//! Taking parts off and putting parts on: previewed, or recorded as the facts of the plan in one change.

use actix_web::{HttpResponse, post, web};
use preen_domain::answers::{
    FitRequest, RemoveRequest, SwapAnswer, SwapPlan, SwapRequest, plan_fit, plan_removal, plan_swap,
};
use preen_domain::facts::{Noun, Reference};
use preen_domain::fleet::Fleet;
use preen_domain::ids::{ComponentId, MemberId, ModelId};
use preen_domain::rules::Broken;
use preen_domain::rules::may::{may_see_component, may_see_model};
use preen_domain::time::Instant;
use preen_domain::words::Scope;
use uuid::Uuid;

use crate::access::actor::{Actor, Writer};
use crate::access::sight::sight_of;
use crate::db::door::{Change, Kept};
use crate::problem::Problem;
use crate::resources::body::{Body, is_preview, parse_fact, resolve_at_pointers};
use crate::resources::entry::{check_allowed, not_found};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::{Shared, State};

/// Exchanges parts of a model, or says beforehand what that would do.
#[utoipa::path(
    tag = "exchange",
    params(
        ("id" = String, Path, description = "Id or tag of the model."),
        ("preview" = Option<bool>, Query, description = "Only say what it would do; nothing is recorded."),
    ),
    request_body = SwapRequest,
    responses(
        (status = 201, description = "Recorded.", body = SwapAnswer),
        (status = 200, description = "A preview, or it was recorded before.", body = SwapAnswer),
    )
)]
#[post("/models/{id}/swap")]
pub async fn swap_parts(
    state: Shared,
    actor: Writer,
    id: web::Path<String>,
    query: Pairs,
    body: Body,
) -> Result<HttpResponse, Problem> {
    const POINTERS: &[Reference] = &[("/done_by", Noun::Members), ("/exchanges/*/on", Noun::Components)];
    let held = actor.0.fleet(&state).await?;
    let unknown = || not_found(Noun::Models, &id);
    let model = ModelId(held.names.find(Noun::Models, &id).ok_or_else(unknown)?);
    if !may_see_model(&held.fleet, actor.0.member, model, state.now()) {
        return Err(unknown());
    }
    let mut body = body.read().await?;
    resolve_at_pointers(POINTERS, "", &mut body, &sight_of(&actor.0, &held, state.now()))?;
    let request: SwapRequest = parse_fact("", body)?;
    swap(&state, &actor.0, is_preview(&query)?, model, request).await
}

/// Exchanges parts of a model that the asker may see.
pub async fn swap(
    state: &State,
    actor: &Actor,
    is_preview: bool,
    model: ModelId,
    request: SwapRequest,
) -> Result<HttpResponse, Problem> {
    let first = request.exchanges.first().map(|exchange| exchange.removal.0);
    exchange(state, actor, is_preview, "swap_parts", first, move |fleet, member, now| {
        plan_swap(fleet, model, &request, member, now)
    })
    .await
}

/// Puts a component into an empty position, or says beforehand what that would do.
#[utoipa::path(
    tag = "exchange",
    params(
        ("id" = String, Path, description = "Id or tag of the component."),
        ("preview" = Option<bool>, Query, description = "Only say what it would do; nothing is recorded."),
    ),
    request_body = FitRequest,
    responses(
        (status = 201, description = "Recorded.", body = SwapAnswer),
        (status = 200, description = "A preview, or it was recorded before.", body = SwapAnswer),
    )
)]
#[post("/components/{id}/fit")]
pub async fn fit_component(
    state: Shared,
    actor: Writer,
    id: web::Path<String>,
    query: Pairs,
    body: Body,
) -> Result<HttpResponse, Problem> {
    const POINTERS: &[Reference] = &[
        ("/inside/model", Noun::Models),
        ("/inside/component", Noun::Components),
        ("/fitted_by", Noun::Members),
    ];
    let component = find_component(&state, &actor.0, &id).await?;
    let held = actor.0.fleet(&state).await?;
    let mut body = body.read().await?;
    resolve_at_pointers(POINTERS, "", &mut body, &sight_of(&actor.0, &held, state.now()))?;
    let request: FitRequest = parse_fact("", body)?;
    fit(&state, &actor.0, is_preview(&query)?, component, request).await
}

/// Puts a component that the asker may see into an empty position.
pub async fn fit(
    state: &State,
    actor: &Actor,
    is_preview: bool,
    component: ComponentId,
    request: FitRequest,
) -> Result<HttpResponse, Problem> {
    exchange(state, actor, is_preview, "fit_component", Some(request.id.0), move |fleet, member, now| {
        plan_fit(fleet, component, &request, member, now)
    })
    .await
}

/// Takes a component out of its position, or says beforehand what that would do.
#[utoipa::path(
    tag = "exchange",
    operation_id = "take_component_out",
    params(
        ("id" = String, Path, description = "Id or tag of the component."),
        ("preview" = Option<bool>, Query, description = "Only say what it would do; nothing is recorded."),
    ),
    request_body = RemoveRequest,
    responses(
        (status = 201, description = "Recorded.", body = SwapAnswer),
        (status = 200, description = "A preview, or it was recorded before.", body = SwapAnswer),
    )
)]
#[post("/components/{id}/remove")]
pub async fn take_component_out(
    state: Shared,
    actor: Writer,
    id: web::Path<String>,
    query: Pairs,
    body: Body,
) -> Result<HttpResponse, Problem> {
    const POINTERS: &[Reference] = &[("/removed_by", Noun::Members)];
    let component = find_component(&state, &actor.0, &id).await?;
    let held = actor.0.fleet(&state).await?;
    let mut body = body.read().await?;
    resolve_at_pointers(POINTERS, "", &mut body, &sight_of(&actor.0, &held, state.now()))?;
    let request: RemoveRequest = parse_fact("", body)?;
    take_out(&state, &actor.0, is_preview(&query)?, component, request).await
}

/// Takes a component that the asker may see out of its position.
pub async fn take_out(
    state: &State,
    actor: &Actor,
    is_preview: bool,
    component: ComponentId,
    request: RemoveRequest,
) -> Result<HttpResponse, Problem> {
    exchange(state, actor, is_preview, "take_component_out", Some(request.id.0), move |fleet, member, now| {
        plan_removal(fleet, component, &request, member, now)
    })
    .await
}

async fn find_component(state: &State, actor: &Actor, name: &str) -> Result<ComponentId, Problem> {
    let held = actor.fleet(state).await?;
    let id = held.names.find(Noun::Components, name).map(ComponentId);
    id.filter(|id| may_see_component(&held.fleet, actor.member, *id, state.now()))
        .ok_or_else(|| not_found(Noun::Components, name))
}

/// Plans, and unless only a preview is wanted, records the plan.
async fn exchange(
    state: &State,
    actor: &Actor,
    is_preview: bool,
    act: &'static str,
    first: Option<Uuid>,
    plan: impl Fn(&Fleet, MemberId, Instant) -> Result<SwapPlan, Vec<Broken>> + Send + 'static,
) -> Result<HttpResponse, Problem> {
    if is_preview {
        let held = actor.fleet(state).await?;
        let plan =
            plan(&held.fleet, actor.member, state.now()).map_err(|broken| Problem::broken_rules(&broken))?;
        return Ok(HttpResponse::Ok().json(SwapAnswer { is_preview: true, ..plan.answer }));
    }
    let has_history = actor.scopes.contains(&Scope::History);
    let (answer, is_new) = state
        .door
        .write(&actor.club, actor.member, move |change| {
            if let Some(id) = first
                && let Some(revision) = change.revision_of(id)?
            {
                return repeat(change, revision, plan);
            }
            let plan = plan(change.fleet(), change.by(), change.now())
                .map_err(|broken| Problem::broken_rules(&broken))?;
            record(change, act, plan, has_history)
        })
        .await?;
    let mut response = if is_new { HttpResponse::Created() } else { HttpResponse::Ok() };
    Ok(response.json(answer))
}

fn record(
    change: &mut Change<'_>,
    act: &'static str,
    plan: SwapPlan,
    has_history: bool,
) -> Result<Kept<(SwapAnswer, bool)>, Problem> {
    for fact in plan.facts {
        check_allowed(change, &fact, has_history)?;
        change.record(act, fact)?;
    }
    Ok(Kept::Recorded((SwapAnswer { is_preview: false, ..plan.answer }, true)))
}

/// The same request again: if its facts are on record exactly so, it gets the same answer.
fn repeat(
    change: &mut Change<'_>,
    revision: i64,
    plan: impl Fn(&Fleet, MemberId, Instant) -> Result<SwapPlan, Vec<Broken>>,
) -> Result<Kept<(SwapAnswer, bool)>, Problem> {
    let before = change.fleet_at(revision - 1)?;
    let stored = change.facts_of(revision)?;
    if let Ok(again) = plan(&before, change.by(), change.now())
        && again.facts.len() == stored.len()
        && again.facts.iter().all(|fact| stored.contains(fact))
    {
        return Ok(Kept::Unchanged((SwapAnswer { is_preview: false, ..again.answer }, false)));
    }
    Err(Problem::IdTaken(format!(
        "An id of this request was recorded at revision {revision} with other content. Make new ids."
    )))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(swap_parts).service(fit_component).service(take_component_out);
}
