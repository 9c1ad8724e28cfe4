//! The card of one part: a reading of it, or a defect on it.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get, post};
use askama::Template;
use preen_domain::answers::CAUTION;
use preen_domain::fleet::Fleet;
use preen_domain::ids::{ComponentId, ModelId};

use super::card::{Sent, Subject};
use super::quantities::{Kind, of_model, without_model};
use super::record::{Entry, Keeper, record, send_kept};
use super::sent::Given;
use crate::answers::ask::Ask;
use crate::web::fault::{PageFault, see_other};
use crate::web::form::{Filled, Posted};
use crate::web::frame::{Frame, Room, send_refused};
use crate::web::guest::Visit;

#[derive(Template)]
#[template(path = "pages/field_part.html")]
struct PartPage {
    frame: Frame,
    keeper: Keeper,
    tag: String,
    /// Where it sits, or sat last.
    place: String,
    /// Tag of the model in which it sits or sat last; a defect is recorded on one.
    model: String,
    model_id: String,
    subjects: Vec<Subject>,
    kinds: Vec<Kind>,
    sent: Sent,
    done: &'static str,
    caution: &'static str,
}

/// The model in which a part sits, or sat last, and under which path; whether it is there still.
fn model_of(fleet: &Fleet, part: ComponentId) -> Option<(ModelId, String, bool)> {
    fleet.model_spans(part).pop().map(|span| (span.model, span.path, span.to.is_none()))
}

fn page(ask: &Ask, frame: Frame, keeper: Keeper, part: ComponentId, sent: Sent) -> PartPage {
    let fleet = &ask.held.fleet;
    let tag = fleet.component_tag(part);
    let model = model_of(fleet, part);
    // A reading is judged by the kind of position in which the part sits or sat last.
    let kind = model.as_ref().and_then(|(model, path, _)| {
        let design = fleet.design_of(*model)?;
        let last = path.rsplit('/').next().unwrap_or_default();
        let position = design.positions.iter().find(|position| position.path.as_str() == last)?;
        Some(position.kind.to_string())
    });
    let kind = fleet.position_at(part, ask.moment.as_of).map(|position| position.kind.to_string()).or(kind);
    let place = match &model {
        Some((model, path, true)) => format!("in {} at {path}", fleet.model_tag(*model)),
        Some((model, path, false)) => format!("loose; last in {} at {path}", fleet.model_tag(*model)),
        None => "loose; it never sat in a model".to_owned(),
    };
    let kinds =
        model.as_ref().map_or_else(without_model, |(model, ..)| of_model(fleet, *model, kind.as_deref()));
    PartPage {
        place,
        model: model.as_ref().map(|(model, ..)| fleet.model_tag(*model)).unwrap_or_default(),
        model_id: model.as_ref().map(|(model, ..)| model.to_string()).unwrap_or_default(),
        subjects: vec![Subject {
            value: format!("component:{part}"),
            name: tag.clone(),
            kind: kind.unwrap_or_default(),
        }],
        kinds,
        sent,
        done: Entry::done(ask.parameter("done").unwrap_or_default()),
        caution: CAUTION,
        tag,
        frame,
        keeper,
    }
}

/// Shows the card of a part.
#[get("/field/part/{tag}")]
async fn show_part(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&["done"]).await?;
    let part = ask.component(&tag)?;
    let frame = Frame::of(&ask, &visit.actor, Room::Field, ask.held.fleet.component_tag(part));
    let keeper = Keeper::of(&visit.actor);
    send_kept(&keeper, &page(&ask, frame, keeper.clone(), part, Sent::nothing()))
}

/// Records what a form of the card says.
#[post("/field/part/{tag}")]
async fn send_part(posted: Posted, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = posted.ask().await?;
    let Posted { actor, fields, lost, state, .. } = posted;
    let part = ask.component(&tag)?;
    let tag = ask.held.fleet.component_tag(part);
    let entry = Entry::of(&fields)?;
    let model = model_of(&ask.held.fleet, part).map(|(model, ..)| model.to_string());
    let zone = ask.held.fleet.club().zone;
    let given = Given { model: model.as_deref(), sender: actor.member, now: ask.now, zone };
    let recorded = match lost {
        Some(problem) => Err(problem),
        None => record(&state, &actor, entry, &fields, given).await,
    };
    match recorded {
        Ok(()) => Ok(see_other(&format!("/field/part/{tag}?done={}", entry.noun()))),
        Err(problem) => {
            let frame = Frame::of(&ask, &actor, Room::Field, tag);
            let sent = Sent::refused(entry, Filled::refused(fields, &problem));
            send_refused(problem.kind().0, &page(&ask, frame, Keeper::of(&actor), part, sent))
        }
    }
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_part).service(send_part);
}
