//! Closing a campaign: what is still open on which part, each with the reason why that is let stand, looked at before it
//! is recorded.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get, post};
use askama::Template;
use preen_domain::answers::{CampaignProgress, CampaignTarget, Moment, campaign_progress};
use preen_domain::facts::{CampaignClosure, Fact, Noun};
use preen_domain::ids::CampaignId;
use preen_domain::words::Standing;
use serde_json::{Value, json};
use uuid::Uuid;

use super::fault::{PageFault, see_other};
use super::form::{Fields, Filled, Posted};
use super::frame::{Frame, Room, send, send_refused};
use super::guest::Visit;
use crate::access::actor::Actor;
use crate::answers::ask::Ask;
use crate::answers::campaigns::{close, closing};
use crate::problem::Problem;
use crate::resources::entry::{not_found, tried_out};

/// Before the tag of a part in the name of a field for its reason.
const REASON: &str = "reason.";

#[derive(Template)]
#[template(path = "pages/campaign_close.html")]
struct ClosePage {
    frame: Frame,
    progress: CampaignProgress,
    open: Vec<CampaignTarget>,
    /// How it would stand then.
    preview: Option<CampaignProgress>,
    form: Filled,
    id: Uuid,
}

fn find(ask: &Ask, tag: &str) -> Result<(CampaignId, CampaignProgress), Problem> {
    let unknown = || not_found(Noun::Campaigns, tag);
    let id = CampaignId(ask.held.names.find(Noun::Campaigns, tag).ok_or_else(unknown)?);
    let progress = campaign_progress(&ask.held.fleet, id, None, ask.moment).filter(|_| ask.sees_all);
    Ok((id, progress.ok_or_else(unknown)?))
}

/// The closing that a form says.
fn said(ask: &Ask, campaign: CampaignId, fields: &Fields) -> Result<CampaignClosure, Problem> {
    let waived = fields.0.iter().filter_map(|(name, reason)| {
        let component = name.strip_prefix(REASON)?;
        let reason = Some(reason.trim()).filter(|reason| !reason.is_empty())?;
        Some(json!({ "component": component, "reason": reason }))
    });
    let mut body = json!({
        "id": fields.need("id")?,
        "occurred_at": fields.moment("at", ask.held.fleet.club().zone, ask.now)?,
        "waived": waived.collect::<Vec<Value>>(),
    });
    if let (Some(text), Some(map)) = (fields.get("text"), body.as_object_mut()) {
        map.insert("text".to_owned(), json!(text));
    }
    closing(campaign, body, &ask.sight())
}

/// How the campaign would stand once it is closed as said.
fn tried(
    ask: &Ask,
    actor: &Actor,
    campaign: CampaignId,
    fields: &Fields,
) -> Result<Option<CampaignProgress>, Problem> {
    let fact = Fact::from(said(ask, campaign, fields)?);
    let with = tried_out(&ask.held.fleet, actor, &fact, ask.now)?;
    Ok(campaign_progress(&with, campaign, None, Moment::today(&with, ask.now)))
}

fn page(
    ask: &Ask,
    actor: &Actor,
    progress: CampaignProgress,
    preview: Option<CampaignProgress>,
    form: Filled,
) -> ClosePage {
    let open = progress.targets.iter().filter(|one| one.standing != Standing::Done).cloned();
    ClosePage {
        frame: Frame::of(ask, actor, Room::Campaigns, format!("Close {}", progress.campaign)),
        open: open.collect(),
        progress,
        preview,
        form,
        id: Uuid::now_v7(),
    }
}

/// Shows what is open.
#[get("/campaigns/{tag}/close")]
async fn show_close(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    let (_, progress) = find(&ask, &tag)?;
    send(&page(&ask, &visit.actor, progress, None, Filled::default()))
}

/// Shows what closing would come to, or closes it.
#[post("/campaigns/{tag}/close")]
async fn send_close(posted: Posted, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = posted.ask().await?;
    let Posted { actor, fields, state, .. } = posted;
    let (id, progress) = find(&ask, &tag)?;
    let outcome = if fields.get("deed") == Some("close") {
        match said(&ask, id, &fields) {
            Ok(fact) => close(&state, &actor, false, fact).await.map(|_closed| None),
            Err(problem) => Err(problem),
        }
    } else {
        tried(&ask, &actor, id, &fields)
    };
    match outcome {
        Ok(None) => Ok(see_other(&format!("/campaigns/{}", progress.campaign))),
        Ok(preview) => send(&page(&ask, &actor, progress, preview, Filled { fields, fault: None })),
        Err(problem) => {
            let refused = Filled::refused(fields, &problem);
            send_refused(problem.kind().0, &page(&ask, &actor, progress, None, refused))
        }
    }
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_close).service(send_close);
}
