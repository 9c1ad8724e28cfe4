//! The check runner: which checks there are, and one of them item by item with what is good beside each. What was not
//! looked at stays apart: it is never a pass.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get, post};
use askama::Template;
use preen_domain::answers::{DueItem, due_of_model};
use preen_domain::facts::{Group, Inspection, Item, Noun};
use preen_domain::ids::ModelId;
use preen_domain::words::ItemResult;
use serde_json::{Value, json};
use uuid::Uuid;

use super::fault::{PageFault, see_other};
use super::form::{Fields, Filled, Posted};
use super::frame::{Frame, Room, send, send_refused};
use super::guest::Visit;
use super::parcel::pictures;
use super::photos::{Shown, add_photos, shown};
use super::words::{self, Word};
use crate::access::actor::Actor;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::entry::not_found;
use crate::resources::photos::joined::add_with;
use crate::state::State;
use crate::told::{limit, moment};

/// An item with its limits in words and what was chosen before.
struct Asked {
    code: String,
    text: String,
    pass: String,
    if_failed: String,
    limits: Vec<String>,
    has_reading: bool,
}

#[derive(Template)]
#[template(path = "pages/checks.html")]
struct ChecksPage {
    frame: Frame,
    model: String,
    checks: Vec<(Word, DueItem)>,
}

#[derive(Template)]
#[template(path = "pages/check.html")]
struct CheckPage {
    frame: Frame,
    model: String,
    /// The part that is checked alone; empty for the model.
    subject: String,
    group: Group,
    standing: Option<(Word, DueItem)>,
    items: Vec<Asked>,
    /// When it was done last, what that is called in the record, and the photos taken then.
    last: Option<(String, String, Vec<Shown>)>,
    /// What a photo taken then can show: as the form sends it, and its tag.
    subjects: Vec<(String, String)>,
    form: Filled,
    id: Uuid,
    is_done: bool,
}

fn asked(item: &Item) -> Asked {
    Asked {
        code: item.code.to_string(),
        text: item.text.to_string(),
        pass: item.pass.to_string(),
        if_failed: item.if_failed.to_string(),
        limits: item.limits.iter().map(limit).collect(),
        has_reading: item.limits.len() == 1,
    }
}

/// Lists the checks of a model.
#[get("/models/{tag}/checks")]
async fn show_checks(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    let model = ask.model(&tag)?;
    visit.answer(&ask, || {
        let tag = ask.held.fleet.model_tag(model);
        let items = due_of_model(&ask.held.fleet, model, ask.moment);
        Ok(ChecksPage {
            frame: Frame::of(&ask, &visit.actor, Room::Board, format!("Checks of {tag}")),
            model: tag,
            checks: items.into_iter().map(|item| (words::check(item.state), item)).collect(),
        })
    })
}

/// The group of a model's programme with a code, and its items.
fn find_group(ask: &Ask, model: ModelId, code: &str) -> Result<(Group, Vec<Item>), Problem> {
    let programme =
        &ask.held.fleet.programme_of(Some(model)).ok_or_else(|| not_found(Noun::Programmes, code))?.fact;
    let group = programme.groups.iter().find(|group| group.code.as_str() == code);
    let unknown = || Problem::NotFound(format!("The programme {} has no check `{code}`.", programme.tag));
    let group = group.ok_or_else(unknown)?.clone();
    let items = programme.items.iter().filter(|item| item.group == group.code).cloned().collect();
    Ok((group, items))
}

/// The newest check of a group on the model, or on a part alone.
fn last(ask: &Ask, model: ModelId, subject: &str, code: &str) -> Option<(String, String, Vec<Shown>)> {
    let fleet = &ask.held.fleet;
    let checks = if subject.is_empty() {
        &fleet.model(model)?.inspections
    } else {
        &fleet.component(ask.component(subject).ok()?)?.inspections
    };
    let done = checks.until(ask.moment.as_of).iter().rev().find(|one| one.fact.group.as_str() == code)?;
    let photos = fleet.photos_of_check(done.fact.id).into_iter();
    let photos = shown(fleet, photos, ask.moment.as_of);
    Some((moment(done.fact.occurred_at, fleet.club().zone), done.fact.id.to_string(), photos))
}

/// What a photo of a check can show: what was checked, and the parts that the model carries.
fn subjects(ask: &Ask, model: ModelId, subject: &str) -> Vec<(String, String)> {
    if !subject.is_empty() {
        return vec![(format!("component:{subject}"), subject.to_owned())];
    }
    let fleet = &ask.held.fleet;
    let tag = fleet.model_tag(model);
    let parts = fleet.fitted(model, ask.moment.as_of).into_iter().map(|one| {
        let tag = fleet.component_tag(one.id);
        (format!("component:{tag}"), format!("{} ({tag})", one.path))
    });
    std::iter::once((format!("model:{tag}"), tag.clone())).chain(parts).collect()
}

fn page(ask: &Ask, actor: &Actor, model: ModelId, code: &str, form: Filled) -> Result<CheckPage, Problem> {
    let (group, items) = find_group(ask, model, code)?;
    let tag = ask.held.fleet.model_tag(model);
    let subject = form.fields.get("subject").unwrap_or_default().to_owned();
    let on = if subject.is_empty() { tag.clone() } else { subject.clone() };
    let standing = due_of_model(&ask.held.fleet, model, ask.moment)
        .into_iter()
        .find(|item| item.group == code && item.subject == on)
        .map(|item| (words::check(item.state), item));
    let title = format!("{} on {on}", group.code);
    Ok(CheckPage {
        frame: Frame::of(ask, actor, Room::Board, title),
        items: items.iter().map(asked).collect(),
        last: last(ask, model, &subject, code),
        subjects: subjects(ask, model, &subject),
        id: Uuid::now_v7(),
        is_done: form.fields.get("done").is_some(),
        model: tag,
        subject,
        group,
        standing,
        form,
    })
}

/// Shows the items of a check.
#[get("/models/{tag}/checks/{group}")]
async fn show_check(visit: Visit, path: Path<(String, String)>) -> Result<HttpResponse, PageFault> {
    let (tag, code) = path.into_inner();
    let fields = visit.fields();
    let ask = visit.ask(&["subject", "done"]).await?;
    let model = ask.model(&tag)?;
    send(&page(&ask, &visit.actor, model, &code, Filled { fields, fault: None })?)
}

/// Records a check, or adds photos to the one that was done last.
#[post("/models/{tag}/checks/{group}")]
async fn send_check(posted: Posted, path: Path<(String, String)>) -> Result<HttpResponse, PageFault> {
    let (tag, code) = path.into_inner();
    let ask = posted.ask().await?;
    let Posted { actor, fields, lost, state, .. } = posted;
    let model = ask.model(&tag)?;
    let (_, items) = find_group(&ask, model, &code)?;
    let recorded = match (lost, fields.get("deed")) {
        (Some(problem), _) => Err(problem),
        (None, Some("photo")) => {
            let of = ("inspection", fields.get("of").unwrap_or_default());
            add_photos(&state, &actor, &fields, of, ask.now).await
        }
        (None, _) => record(&state, &ask, &actor, (model, &code, &items), &fields).await,
    };
    match recorded {
        Ok(()) => {
            let mut query = vec![("done", "1")];
            query.extend(fields.get("subject").map(|subject| ("subject", subject)));
            let query = serde_urlencoded::to_string(query).unwrap_or_default();
            Ok(see_other(&format!("/models/{}/checks/{code}?{query}", ask.held.fleet.model_tag(model))))
        }
        Err(problem) => {
            let status = problem.kind().0;
            send_refused(status, &page(&ask, &actor, model, &code, Filled::refused(fields, &problem))?)
        }
    }
}

/// What was chosen for each item; one without a choice was not looked at.
fn results(items: &[Item], fields: &Fields) -> Result<Vec<Value>, Problem> {
    let one = |item: &Item| -> Result<Value, Problem> {
        let code = item.code.as_str();
        let result = fields.get(&format!("result.{code}")).unwrap_or(ItemResult::NotLookedAt.as_str());
        let mut made = json!({ "item": code, "result": result });
        if let Some(map) = made.as_object_mut() {
            if let Some(value) = fields.number(&format!("value.{code}"))? {
                map.insert("value".to_owned(), json!(value));
            }
            if let Some(note) = fields.get(&format!("note.{code}")) {
                map.insert("note".to_owned(), json!(note));
            }
        }
        Ok(made)
    };
    items.iter().map(one).collect()
}

async fn record(
    state: &State,
    ask: &Ask,
    actor: &Actor,
    (model, code, items): (ModelId, &str, &[Item]),
    fields: &Fields,
) -> Result<(), Problem> {
    let mut body = json!({
        "id": fields.need("id")?,
        "group": code,
        "occurred_at": fields.moment("at", ask.held.fleet.club().zone, ask.now)?,
        "result": fields.need("result")?,
        "is_summary": false,
        "items": results(items, fields)?,
    });
    if let Some(map) = body.as_object_mut() {
        match fields.get("subject") {
            Some(part) => map.insert("component".to_owned(), json!(part)),
            None => map.insert("model".to_owned(), json!(model)),
        };
        if let Some(note) = fields.get("note") {
            map.insert("note".to_owned(), json!(note));
        }
    }
    add_with::<Inspection>(state, actor, "record_inspection", body, pictures(fields)?).await
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_checks).service(show_check).service(send_check);
}
