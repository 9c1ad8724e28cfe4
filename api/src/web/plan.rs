//! The work plan before a contest: when each task begins at the latest, by whom, with its cure; what cannot be planned.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::ContestPlan;

use super::draw::bars::{Bars, bars};
use super::fault::PageFault;
use super::form::Filled;
use super::frame::{Frame, Room, send};
use super::guest::Visit;
use crate::answers::contest_plan::planned;
use preen_domain::asked::PLAN;

#[derive(Template)]
#[template(path = "pages/plan.html")]
struct PlanPage {
    frame: Frame,
    form: Filled,
    tag: String,
    work: ContestPlan,
    bars: Option<Bars>,
}

/// Shows the plan.
#[get("/contests/{tag}/plan")]
async fn show_plan(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let fields = visit.fields();
    let ask = visit.ask(PLAN).await?;
    let work = planned(&ask, &tag).await?;
    let zone = ask.held.fleet.club().zone;
    let named = |task: &str| {
        let item = work.work.iter().find(|item| item.task == task)?;
        let task = task.strip_prefix(&item.model).unwrap_or(task).trim();
        Some(format!("{} {}", item.model, if task.is_empty() { &item.subject } else { task }))
    };
    send(&PlanPage {
        frame: Frame::of(&ask, &visit.actor, Room::Contests, format!("Work before {}", work.contest)),
        form: Filled { fields, fault: None },
        tag: work.contest.clone(),
        bars: work.plan.as_ref().map(|plan| bars(plan, named, ask.now, zone)),
        work,
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_plan);
}
