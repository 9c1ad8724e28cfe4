//! The work list of a campaign, place by place, with boxes to tick and room for what was found.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::campaign_progress;
use preen_domain::facts::Noun;
use preen_domain::ids::CampaignId;

use super::press::Template;
use super::sheet::{Cell, Sheet, narrow, number, wide};
use super::{PAPER, answer, blank};
use crate::access::actor::Reader;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;
use crate::told::weekday;

/// Prints what is still to be done for a campaign, place by place, with stock against need.
#[utoipa::path(
    tag = "sheets",
    params(("id" = String, Path, description = "Id or tag of the campaign.")),
    responses((status = 200, description = "The list.", content_type = "application/pdf", body = Vec<u8>))
)]
#[get("/campaigns/{id}/work-list.pdf")]
pub async fn print_campaign_work_list(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::with(&state, &actor.0, &request, query, &[PAPER]).await?;
    let campaign = ask
        .sees_all
        .then(|| ask.held.names.find(Noun::Campaigns, &id).map(CampaignId))
        .flatten()
        .ok_or_else(|| not_found(Noun::Campaigns, &id))?;
    let list = compose(&ask, campaign)?.ok_or_else(|| not_found(Noun::Campaigns, &id))?;
    answer(&ask, Template::Sheet, list, &format!("work-list-{}.pdf", id.as_str())).await
}

fn compose(ask: &Ask, campaign: CampaignId) -> Result<Option<Sheet>, Problem> {
    let Some(progress) = campaign_progress(&ask.held.fleet, campaign, None, ask.moment) else {
        return Ok(None);
    };
    let title = format!("Work list {}", progress.campaign);
    let mut list = blank(ask, title, format!("{} · {}", progress.covers(), weekday(progress.on)))?;
    if let Some(text) = &progress.text {
        list.text(text.clone());
    }
    let counts = progress.counts;
    list.facts(
        2,
        [
            ("parts", counts.targets.to_string()),
            ("done", counts.done.to_string()),
            ("open", counts.open.to_string()),
            ("overdue", counts.overdue.to_string()),
            ("to come off", counts.failed.to_string()),
            ("out of reach", counts.out_of_reach.to_string()),
        ],
    );
    list.heading("What is asked");
    let asked = progress
        .actions
        .iter()
        .map(|one| {
            vec![Cell::from(one.number.to_string()), one.text.as_str().into(), one.deadline.as_str().into()]
        })
        .collect();
    list.table(vec![number("no."), wide("what", 2.0), wide("until", 1.0)], asked, "Nothing.");
    if !progress.needs.is_empty() {
        list.heading("Parts needed and there");
        let rows = progress
            .needs
            .iter()
            .map(|one| {
                vec![
                    Cell::from(one.action.to_string()),
                    one.part.as_str().into(),
                    one.batch.clone().unwrap_or_else(|| "any that is not covered".to_owned()).into(),
                    one.need_count.to_string().into(),
                    one.on_shelf_count.to_string().into(),
                    one.short_count.to_string().into(),
                    one.on_shelf.join(", ").into(),
                ]
            })
            .collect();
        let columns = vec![
            number("no."),
            narrow("part"),
            narrow("batch"),
            number("needed"),
            number("on the shelf"),
            number("short"),
            wide("which", 1.0),
        ];
        list.table(columns, rows, "");
    }
    for group in &progress.work_list {
        list.heading(group.place.clone());
        let rows = group
            .steps
            .iter()
            .map(|step| {
                vec![
                    Cell::TICK,
                    step.component.as_str().into(),
                    step.path.clone().unwrap_or_default().into(),
                    step.text.as_str().into(),
                    step.deadline.as_str().into(),
                    Cell::ROOM,
                ]
            })
            .collect();
        list.form(
            vec![
                narrow(""),
                narrow("part"),
                narrow("where"),
                wide("what to do", 2.0),
                wide("until", 1.2),
                wide("found, by whom", 1.4),
            ],
            rows,
        );
    }
    if progress.work_list.is_empty() {
        list.text("Nothing is left to do.");
    }
    if !progress.serials_unknown.is_empty() {
        list.text(format!(
            "Look at these too, their serial numbers are not on record: {}.",
            progress.serials_unknown.join(", ")
        ));
    }
    Ok(Some(list))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(print_campaign_work_list);
}
