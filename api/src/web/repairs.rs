//! The work sheet of a repair: its steps with cautions where they belong, the cure clock, who may release; ticking a
//! step, and the club release.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get, post};
use askama::Template;
use preen_domain::answers::{RepairSheet, repair_sheet};
use preen_domain::facts::{Noun, Release, RepairStep};
use preen_domain::ids::RepairId;
use serde_json::json;
use uuid::Uuid;

use super::fault::{PageFault, see_other};
use super::form::{Fields, Filled, Posted};
use super::frame::{Frame, Room, send, send_refused};
use super::guest::Visit;
use super::photos::{Shown, add_photos, shown};
use crate::access::actor::Actor;
use crate::access::sight::Finds as _;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::entry::{self, not_found};
use crate::state::State;
use crate::told::moment;

#[derive(Template)]
#[template(path = "pages/repair.html")]
struct RepairPage {
    frame: Frame,
    sheet: RepairSheet,
    /// End of the cure by the club's clock, and in milliseconds for the clock that ticks.
    cure: Option<(String, i64)>,
    photos: Vec<Shown>,
    /// What a photo of it can show: as the form sends it, and its tag.
    subjects: Vec<(String, String)>,
    form: Filled,
    id: Uuid,
    is_done: bool,
}

fn page(ask: &Ask, actor: &Actor, name: &str, form: Filled) -> Result<RepairPage, Problem> {
    let fleet = &ask.held.fleet;
    let unknown = || not_found(Noun::Repairs, name);
    let id = ask.sight().find(Noun::Repairs, name).ok_or_else(unknown)?;
    let sheet = repair_sheet(fleet, RepairId(id), ask.moment.as_of).ok_or_else(unknown)?;
    let zone = fleet.club().zone;
    let photos = fleet.photos_of_repair(RepairId(id)).into_iter();
    let parts = sheet.parts.iter().map(|part| (format!("component:{part}"), part.clone()));
    let model = (format!("model:{}", sheet.model), sheet.model.clone());
    Ok(RepairPage {
        photos: shown(fleet, photos, ask.moment.as_of),
        subjects: parts.chain([model]).collect(),
        frame: Frame::of(ask, actor, Room::Board, format!("{} · {}", sheet.repair, sheet.title)),
        cure: sheet.cure_until_at.map(|at| (moment(at, zone), at.micros() / 1000)),
        is_done: form.fields.get("done").is_some(),
        id: Uuid::now_v7(),
        sheet,
        form,
    })
}

/// Shows a work sheet.
#[get("/repairs/{tag}")]
async fn show_repair(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let fields = visit.fields();
    let ask = visit.ask(&["done"]).await?;
    send(&page(&ask, &visit.actor, &tag, Filled { fields, fault: None })?)
}

/// Ticks a step, adds photos, or gives the club release.
#[post("/repairs/{tag}")]
async fn send_repair(posted: Posted, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = posted.ask().await?;
    let Posted { actor, fields, lost, state, .. } = posted;
    let recorded = match lost {
        Some(problem) => Err(problem),
        None => record(&state, &ask, &actor, &tag, &fields).await,
    };
    match recorded {
        Ok(()) => Ok(see_other(&format!("/repairs/{tag}?done=1"))),
        Err(problem) => {
            let status = problem.kind().0;
            send_refused(status, &page(&ask, &actor, &tag, Filled::refused(fields, &problem))?)
        }
    }
}

async fn record(state: &State, ask: &Ask, actor: &Actor, tag: &str, fields: &Fields) -> Result<(), Problem> {
    let at = fields.moment("at", ask.held.fleet.club().zone, ask.now)?;
    let mut body = json!({ "id": fields.need("id")?, "repair": tag, "occurred_at": at });
    let Some(map) = body.as_object_mut() else { return Ok(()) };
    if let Some(note) = fields.get("note") {
        map.insert("note".to_owned(), json!(note));
    }
    match fields.need("deed")? {
        "release" => {
            if let Some(second) = fields.get("second_person") {
                map.insert("second_person".to_owned(), json!(second));
            }
            entry::add::<Release>(state, actor, "release_repair", body).await?;
        }
        "photo" => add_photos(state, actor, fields, ("repair", tag), at).await?,
        "tick" => {
            let text = fields.need("step")?;
            let number: u32 =
                text.parse().map_err(|_bad| Problem::field("/step", format!("`{text}` is no step.")))?;
            let mut step = json!({ "number": number, "result": fields.need("result")? });
            if let (Some(reason), Some(step)) = (fields.get("reason"), step.as_object_mut()) {
                step.insert("reason".to_owned(), json!(reason));
            }
            map.insert("steps".to_owned(), json!([step]));
            map.remove("note");
            entry::add::<RepairStep>(state, actor, "work_on_repair", body).await?;
        }
        other => return Err(Problem::field("/deed", format!("`{other}` cannot be done here."))),
    }
    Ok(())
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_repair).service(send_repair);
}
