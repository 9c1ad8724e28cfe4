//! Exchanging parts: what comes off, what goes on, what that does to balance and checks, and only then the record.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get, post};
use askama::Template;
use preen_domain::answers::{
    Exchange, FitRequest, RemoveRequest, Seat, SwapAnswer, SwapPlan, SwapRequest, candidates, plan_fit,
    plan_removal, plan_swap, seats,
};
use preen_domain::facts::Noun;
use preen_domain::fleet::Fleet;
use preen_domain::ids::{ComponentId, InstallationId, MemberId, ModelId, RemovalId};
use preen_domain::rules::Broken;
use preen_domain::time::Instant;
use preen_domain::words::RemovalReason;
use uuid::Uuid;

use super::draw::range::{Range, range};
use super::fault::{PageFault, see_other};
use super::form::{Fields, Filled, Posted};
use super::frame::{Frame, Room, send, send_refused};
use super::guest::Visit;
use crate::access::actor::Actor;
use crate::access::sight::Finds as _;
use crate::answers::ask::Ask;
use crate::answers::exchange;
use crate::problem::Problem;

/// Where, what goes on, why, and when: what the page is asked with.
const ASKED: &[&str] = &["path", "on_part", "reason", "at", "done"];
/// Nothing goes on.
const NOTHING: &str = "-";

/// A seat to choose.
struct Place {
    path: String,
    name: String,
    held: String,
}

/// A part to choose.
struct Choice {
    tag: String,
    location: String,
    state: String,
    against: Vec<String>,
}

/// What the exchange would do.
struct Preview {
    answer: SwapAnswer,
    before: Option<Range>,
    after: Option<Range>,
}

#[derive(Template)]
#[template(path = "pages/swap.html")]
struct SwapPage {
    frame: Frame,
    model: String,
    form: Filled,
    places: Vec<Place>,
    path: String,
    held: String,
    choices: Vec<Choice>,
    wanted: String,
    reasons: Vec<&'static str>,
    preview: Option<Preview>,
    installation: Uuid,
    removal: Uuid,
    is_done: bool,
}

/// What is to be done with one seat.
enum Deed {
    Swap(SwapRequest),
    Fit(ComponentId, FitRequest),
    Remove(ComponentId, RemoveRequest),
}

impl Deed {
    fn plan(
        &self,
        fleet: &Fleet,
        model: ModelId,
        member: MemberId,
        now: Instant,
    ) -> Result<SwapPlan, Vec<Broken>> {
        match self {
            Self::Swap(request) => plan_swap(fleet, model, request, member, now),
            Self::Fit(component, request) => plan_fit(fleet, *component, request, member, now),
            Self::Remove(component, request) => plan_removal(fleet, *component, request, member, now),
        }
    }
}

/// Ids and moment of an exchange: the same when it is sent twice.
struct Stamp {
    installation: Uuid,
    removal: Uuid,
    at: Instant,
}

/// What the fields ask for.
fn deed(ask: &Ask, seat: &Seat<'_>, fields: &Fields, stamp: &Stamp) -> Result<Deed, Problem> {
    let on = match fields.need("on_part")? {
        NOTHING => None,
        tag => {
            let id = ask.sight().find(Noun::Components, tag);
            Some(ComponentId(
                id.ok_or_else(|| Problem::field("/on_part", format!("There is no part `{tag}`.")))?,
            ))
        }
    };
    let reason = || -> Result<RemovalReason, Problem> {
        let text = fields.need("reason")?;
        text.parse().map_err(|_unknown| {
            Problem::field("/reason", format!("`{text}` is no reason to take a part off."))
        })
    };
    let note = fields.get("note").map(|text| text.to_owned().try_into()).transpose();
    let note = note.map_err(|error| Problem::field("/note", format!("The note {error}.")))?;
    let (installation, removal) = (InstallationId(stamp.installation), RemovalId(stamp.removal));
    Ok(match (seat.held, on) {
        (Some(_), Some(on)) => {
            let exchange =
                Exchange { path: seat.path.clone(), on, installation, removal, reason: reason()?, note };
            Deed::Swap(SwapRequest { occurred_at: stamp.at, done_by: None, exchanges: vec![exchange] })
        }
        (None, Some(on)) => Deed::Fit(
            on,
            FitRequest {
                id: installation,
                inside: seat.inside,
                position: seat.position.path.clone(),
                occurred_at: stamp.at,
                fitted_by: None,
                note,
            },
        ),
        (Some(held), None) => Deed::Remove(
            held,
            RemoveRequest { id: removal, occurred_at: stamp.at, reason: reason()?, removed_by: None, note },
        ),
        (None, None) => {
            return Err(Problem::field("/on_part", "The seat is empty already: choose what goes on."));
        }
    })
}

fn choices(fleet: &Fleet, seat: &Seat<'_>, at: Instant) -> Vec<Choice> {
    let told = |id: ComponentId| fleet.component(id);
    candidates(fleet, seat, at)
        .into_iter()
        .map(|one| Choice {
            tag: fleet.component_tag(one.component),
            location: told(one.component)
                .and_then(|file| file.location_at(at))
                .unwrap_or_default()
                .to_owned(),
            state: told(one.component)
                .map(|file| file.state_at(at).as_str().replace('_', " "))
                .unwrap_or_default(),
            against: one.against.into_iter().map(|broken| crate::problem::sentence(&broken.text)).collect(),
        })
        .collect()
}

fn preview(
    ask: &Ask,
    actor: &Actor,
    model: ModelId,
    seat: &Seat<'_>,
    fields: &Fields,
) -> Result<Preview, Problem> {
    let stamp = Stamp { installation: Uuid::now_v7(), removal: Uuid::now_v7(), at: ask.now };
    let plan = deed(ask, seat, fields, &stamp)?
        .plan(&ask.held.fleet, model, actor.member, ask.now)
        .map_err(|broken| Problem::broken_rules(&broken))?;
    let answer = SwapAnswer { is_preview: true, ..plan.answer };
    let drawn = |x_mm: f64| answer.range.as_ref().map(|held| range(x_mm, None, (held.min_mm, held.max_mm)));
    Ok(Preview {
        before: answer.before.and_then(|before| drawn(before.x_mm)),
        after: answer.after.and_then(|after| drawn(after.x_mm)),
        answer,
    })
}

fn page(ask: &Ask, actor: &Actor, model: ModelId, form: Filled) -> SwapPage {
    let fleet = &ask.held.fleet;
    let tag = fleet.model_tag(model);
    let all = seats(fleet, model, ask.now);
    let held = |seat: &Seat<'_>| seat.held.map(|id| fleet.component_tag(id)).unwrap_or_default();
    let path = form.fields.get("path").unwrap_or_default().to_owned();
    let wanted = form.fields.get("on_part").unwrap_or_default().to_owned();
    let seat = all.iter().find(|seat| seat.path == path);
    let mut form = form;
    let mut shown = None;
    if let Some(seat) = seat.filter(|_| !wanted.is_empty() && form.fault.is_none()) {
        match preview(ask, actor, model, seat, &form.fields) {
            Ok(made) => shown = Some(made),
            Err(problem) => form.fault = Some(problem.body()),
        }
    }
    SwapPage {
        frame: Frame::of(ask, actor, Room::Board, format!("Exchange parts of {tag}")),
        model: tag,
        places: all
            .iter()
            .map(|seat| Place {
                path: seat.path.clone(),
                name: seat.position.name.to_string(),
                held: held(seat),
            })
            .collect(),
        held: seat.map(held).unwrap_or_default(),
        choices: seat.map(|seat| choices(fleet, seat, ask.now)).unwrap_or_default(),
        path: seat.map(|seat| seat.path.clone()).unwrap_or_default(),
        wanted,
        reasons: RemovalReason::ALL.iter().map(|reason| reason.as_str()).collect(),
        preview: shown,
        installation: Uuid::now_v7(),
        removal: Uuid::now_v7(),
        is_done: form.fields.get("done").is_some(),
        form,
    }
}

/// Shows what can be exchanged, and what an exchange would do.
#[get("/models/{tag}/swap")]
async fn show_swap(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let fields = visit.fields();
    let ask = visit.ask(ASKED).await?;
    let model = ask.model(&tag)?;
    send(&page(&ask, &visit.actor, model, Filled { fields, fault: None }))
}

/// Records an exchange that was looked at before.
#[post("/models/{tag}/swap")]
async fn send_swap(posted: Posted, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = posted.ask().await?;
    let Posted { actor, fields, state, .. } = posted;
    let model = ask.model(&tag)?;
    match record(&state, &ask, &actor, model, &fields).await {
        Ok(path) => {
            let query =
                serde_urlencoded::to_string([("path", path.as_str()), ("done", "1")]).unwrap_or_default();
            Ok(see_other(&format!("/models/{}/swap?{query}", ask.held.fleet.model_tag(model))))
        }
        Err(problem) => {
            let status = problem.kind().0;
            send_refused(status, &page(&ask, &actor, model, Filled::refused(fields, &problem)))
        }
    }
}

async fn record(
    state: &crate::state::State,
    ask: &Ask,
    actor: &Actor,
    model: ModelId,
    fields: &Fields,
) -> Result<String, Problem> {
    let id = |name: &str| -> Result<Uuid, Problem> {
        fields.need(name)?.parse().map_err(|_bad| Problem::field(format!("/{name}"), "This is not an id."))
    };
    let stamp = Stamp {
        installation: id("installation")?,
        removal: id("removal")?,
        at: fields.moment("at", ask.held.fleet.club().zone, ask.now)?,
    };
    let deed = {
        let all = seats(&ask.held.fleet, model, ask.now);
        let path = fields.need("path")?;
        let unknown = || Problem::field("/path", format!("There is no seat `{path}` now: choose again."));
        deed(ask, all.iter().find(|seat| seat.path == path).ok_or_else(unknown)?, fields, &stamp)?
    };
    match deed {
        Deed::Swap(request) => exchange::swap(state, actor, false, model, request).await?,
        Deed::Fit(component, request) => exchange::fit(state, actor, false, component, request).await?,
        Deed::Remove(component, request) => {
            exchange::take_out(state, actor, false, component, request).await?
        }
    };
    Ok(fields.need("path")?.to_owned())
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_swap).service(send_swap);
}
