//! Starting a repair on a model: of a defect, of parts, or of the model as a whole. Its work sheet comes next.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get, post};
use askama::Template;
use preen_domain::answers::open_defects_of_model;
use preen_domain::facts::{Noun, Repair, Subject};
use preen_domain::ids::{DefectId, ModelId};
use preen_domain::words::RepairKind;
use preen_domain::worksheets::worksheet;
use serde_json::{Value, json};
use uuid::Uuid;

use super::fault::{PageFault, see_other};
use super::form::{Fields, Filled, Posted};
use super::frame::{Frame, Room, send, send_refused};
use super::guest::Visit;
use crate::access::actor::Actor;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::entry;
use crate::state::State;

/// The field of a part that is worked on.
const COMPONENT: &str = "component";

/// Something to choose.
struct Choice {
    value: String,
    text: String,
    is_chosen: bool,
}

#[derive(Template)]
#[template(path = "pages/repair_start.html")]
struct StartPage {
    frame: Frame,
    model: String,
    kinds: Vec<Choice>,
    defects: Vec<Choice>,
    parts: Vec<Choice>,
    form: Filled,
    id: Uuid,
}

/// Kinds of repair, in the order of their sheets.
fn kinds(form: &Filled) -> Vec<Choice> {
    let one = |kind: &RepairKind| Choice {
        value: kind.as_str().to_owned(),
        text: format!("{kind} {}", worksheet(*kind).title),
        is_chosen: form.has("kind", kind.as_str(), ""),
    };
    RepairKind::ALL.iter().map(one).collect()
}

fn page(ask: &Ask, actor: &Actor, model: ModelId, form: Filled) -> StartPage {
    let fleet = &ask.held.fleet;
    let tag = fleet.model_tag(model);
    let wanted = form.or("defect", "").to_owned();
    let named: Vec<&str> =
        form.fields.0.iter().filter(|(name, _)| name == COMPONENT).map(|(_, tag)| tag.as_str()).collect();
    // A defect says by itself what is to be worked on, unless somebody has said it.
    let defect = ask.held.names.find(Noun::Defects, &wanted).map(DefectId);
    let defect = defect.and_then(|id| fleet.defect(id)?.defect.as_ref());
    let sits_on = match defect.map(|defect| defect.fact.subject) {
        Some(Subject::Component(part)) if form.fault.is_none() => Some(fleet.component_tag(part)),
        Some(_) | None => None,
    };
    let is_named = |tag: &str| named.contains(&tag) || sits_on.as_deref() == Some(tag);
    let fitted = fleet.fitted(model, ask.moment.as_of).into_iter().map(|one| {
        let tag = fleet.component_tag(one.id);
        (format!("{tag} at {}", one.path), tag)
    });
    let mut parts: Vec<Choice> =
        fitted.map(|(text, value)| Choice { is_chosen: is_named(&value), text, value }).collect();
    // What lies on the bench now can be worked on as well.
    let loose = named.into_iter().map(str::to_owned).chain(sits_on.clone());
    for tag in loose {
        if parts.iter().all(|part| part.value != tag) {
            parts.push(Choice {
                text: format!("{tag}, not in {}", fleet.model_tag(model)),
                value: tag,
                is_chosen: true,
            });
        }
    }
    parts.sort_by_key(|part| !part.is_chosen);
    let defects = open_defects_of_model(fleet, model, ask.moment).into_iter().map(|one| Choice {
        text: format!("{} on {}: {}", one.defect, one.subject, one.text),
        is_chosen: one.defect == wanted,
        value: one.defect,
    });
    StartPage {
        frame: Frame::of(ask, actor, Room::Board, format!("Start a repair on {tag}")),
        kinds: kinds(&form),
        defects: defects.collect(),
        parts,
        model: tag,
        form,
        id: Uuid::now_v7(),
    }
}

/// Shows the form.
#[get("/models/{tag}/repair")]
async fn show_start(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let fields = visit.fields();
    let ask = visit.ask(&["defect", COMPONENT]).await?;
    let model = ask.model(&tag)?;
    send(&page(&ask, &visit.actor, model, Filled { fields, fault: None }))
}

/// Starts it, and leads on to its work sheet.
#[post("/models/{tag}/repair")]
async fn send_start(posted: Posted, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = posted.ask().await?;
    let Posted { actor, fields, state, .. } = posted;
    let model = ask.model(&tag)?;
    match record(&state, &ask, &actor, model, &fields).await {
        Ok(()) => Ok(see_other(&format!("/repairs/{}", fields.need("id")?))),
        Err(problem) => {
            let refused = Filled::refused(fields, &problem);
            send_refused(problem.kind().0, &page(&ask, &actor, model, refused))
        }
    }
}

async fn record(
    state: &State,
    ask: &Ask,
    actor: &Actor,
    model: ModelId,
    fields: &Fields,
) -> Result<(), Problem> {
    let zone = ask.held.fleet.club().zone;
    let parts = fields.0.iter().filter(|(name, _)| name == COMPONENT).map(|(_, tag)| tag);
    let mut body = json!({
        "id": fields.need("id")?,
        "model": model,
        "components": parts.collect::<Vec<_>>(),
        "kind": fields.need("kind")?,
        "occurred_at": fields.moment("at", zone, ask.now)?,
        "text": fields.need("text")?,
    });
    let cure = fields.get("cure_until").map(|_| fields.moment("cure_until", zone, ask.now)).transpose()?;
    let said = [
        ("defect", fields.get("defect").map(Value::from)),
        ("tag", fields.get("number").map(Value::from)),
        ("cure_until_at", cure.map(|at| json!(at))),
        ("material_mass_g", fields.number("material_mass_g")?.map(Value::from)),
        ("x_mm", fields.number("x_mm")?.map(Value::from)),
        ("y_mm", fields.number("y_mm")?.map(Value::from)),
        ("z_mm", fields.number("z_mm")?.map(Value::from)),
        ("slack_used_mm", fields.number("slack_used_mm")?.map(Value::from)),
    ];
    if let Some(map) = body.as_object_mut() {
        let said = said.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?)));
        map.extend(said);
    }
    entry::add::<Repair>(state, actor, "start_repair", body).await.map(|_started| ())
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_start).service(send_start);
}
