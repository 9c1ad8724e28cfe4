//! How far campaigns are, over HTTP, and closing one.

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use preen_domain::answers::{
    Answer, CampaignList, CampaignProgress, CampaignShown, Moment, campaign_progress,
};
use preen_domain::asked;
use preen_domain::facts::{CampaignClosure, Noun, Reference, Waiver};
use preen_domain::fleet::Fleet;
use preen_domain::ids::{CampaignClosureId, CampaignId, MemberId};
use preen_domain::text::Text;
use preen_domain::time::Instant;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::ask::Ask;
use crate::access::actor::{Actor, Reader, Writer};
use crate::access::sight::{Finds, sight_of};
use crate::problem::Problem;
use crate::resources::body::{Body, is_preview, parse_fact, resolve_at_pointers};
use crate::resources::entry::{command, not_found};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::{Shared, State};

/// Says of every campaign what it covers and how many parts stand how.
#[utoipa::path(
    tag = "answers",
    responses((status = 200, description = "Open ones first.", body = Answer<CampaignList>))
)]
#[get("/campaign-progress")]
pub async fn list_campaign_progress(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["campaign-progress"]).await?;
    Ok(ask.answer(|| asked::campaigns(&ask.asked())))
}

/// Says how far a campaign is: each part it covers with where it is, what is done and until when; stock against need;
/// the work list.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the campaign."),
        ("models" = Option<String>, Query, description = "Models whose own need of parts is asked about, such as the \
            entries of a contest: ids or tags with commas between."),
    ),
    responses((status = 200, description = "How far it is.", body = Answer<CampaignProgress>))
)]
#[get("/campaigns/{id}/progress")]
pub async fn show_campaign_progress(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::read(&state, &actor.0, &request, query, &["campaigns", &id, "progress"]).await?;
    let progress = asked::campaign_progress(&ask.asked(), &id)?;
    Ok(ask.answer(|| progress))
}

/// The closing of a campaign.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CampaignClosing {
    /// Id for the closing (UUIDv7).
    pub id: CampaignClosureId,
    /// When.
    pub occurred_at: Instant,
    /// Parts on which something is still open, each with the reason why that is let stand.
    #[serde(default)]
    pub waived: Vec<Waiver>,
    /// What came of the campaign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Text>,
    /// Who closed it, if not the member who records it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed_by: Option<MemberId>,
}

/// Closes a campaign, or says beforehand what that would do. It is refused while something is open on a part for which
/// no reason is given; each such part is listed.
#[utoipa::path(
    tag = "answers",
    params(
        ("id" = String, Path, description = "Id or tag of the campaign."),
        ("preview" = Option<bool>, Query, description = "Only say what it would do; nothing is recorded."),
    ),
    request_body = CampaignClosing,
    responses(
        (status = 201, description = "Recorded.", body = CampaignShown),
        (status = 200, description = "A preview, or it was recorded before.", body = CampaignShown),
    )
)]
#[post("/campaigns/{id}/close")]
pub async fn close_campaign(
    state: Shared,
    actor: Writer,
    id: web::Path<String>,
    query: Pairs,
    body: Body,
) -> Result<HttpResponse, Problem> {
    let actor = actor.0;
    let held = actor.fleet(&state).await?;
    let sight = sight_of(&actor, &held, state.now());
    let known = sight.find(Noun::Campaigns, &id);
    let campaign = CampaignId(known.ok_or_else(|| not_found(Noun::Campaigns, &id))?);
    let is_preview = is_preview(&query)?;
    let fact = closing(campaign, body.read().await?, &sight)?;
    close(&state, &actor, is_preview, fact).await
}

/// A closing as it was sent, with what its names mean.
pub fn closing(campaign: CampaignId, mut body: Value, names: &dyn Finds) -> Result<CampaignClosure, Problem> {
    const POINTERS: &[Reference] =
        &[("/waived/*/component", Noun::Components), ("/closed_by", Noun::Members)];
    resolve_at_pointers(POINTERS, "", &mut body, names)?;
    let CampaignClosing { id, occurred_at, waived, text, closed_by } = parse_fact("", body)?;
    Ok(CampaignClosure { id, campaign, occurred_at, waived, text, closed_by })
}

/// Closes a campaign and answers how it then stands, or says beforehand how it would.
pub async fn close(
    state: &State,
    actor: &Actor,
    is_preview: bool,
    fact: CampaignClosure,
) -> Result<HttpResponse, Problem> {
    let campaign = fact.campaign;
    let shown = move |fleet: &Fleet, now: Instant| -> Result<CampaignShown, Problem> {
        let progress = campaign_progress(fleet, campaign, None, Moment::today(fleet, now))
            .ok_or_else(|| not_found(Noun::Campaigns, &campaign.to_string()))?;
        Ok(CampaignShown { is_preview, progress })
    };
    command(state, actor, "close_campaign", is_preview, fact, shown).await
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_campaign_progress).service(show_campaign_progress).service(close_campaign);
}
