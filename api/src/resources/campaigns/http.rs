//! Routes of campaigns. Opening one can be tried out first; closing stands among the answers.

use actix_web::{HttpResponse, post};
use preen_domain::answers::{CampaignShown, Moment, campaign_progress};
use preen_domain::facts::{Campaign, Fact, Noun, Recorded};
use serde::Serialize;
use utoipa::ToSchema;

use crate::access::actor::Writer;
use crate::access::sight::sight_of;
use crate::problem::Problem;
use crate::resources::body::{Body, is_preview, parse_fact, resolve};
use crate::resources::entry::{add, not_found, tried_out};
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;

reading_routes! {
    Campaign, "campaigns",
    list_campaigns "/campaigns" "Lists campaigns.",
    find_campaign "/campaigns/{id}" "Finds a campaign by id or tag."
}

changing_route! {
    correct Campaign, "campaigns",
    correct_campaign "/campaigns/{id}/correction" "Corrects a campaign, or says that it never was."
}

/// What opening a campaign answers: what it would cover, or what is on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[serde(untagged)]
pub enum CampaignOpened {
    /// A preview.
    Preview(Box<CampaignShown>),
    /// As it stands in the record.
    Stored(Box<Recorded<Campaign>>),
}

/// Opens a campaign, or says beforehand what it would cover.
///
/// Fields that point at other items take an id or, where the item has one, its tag.
#[utoipa::path(
    tag = "campaigns",
    params(("preview" = Option<bool>, Query, description = "Only say what it would cover; nothing is recorded.")),
    request_body = Campaign,
    responses(
        (status = 201, description = "Recorded.", body = Recorded<Campaign>,
            headers(("ETag" = String, description = "Validator of this item."))),
        (status = 200, description = "A preview, or the same was recorded before and this is what is stored.",
            body = CampaignOpened),
    )
)]
#[post("/campaigns")]
pub async fn open_campaign(
    state: Shared,
    actor: Writer,
    query: Pairs,
    body: Body,
) -> Result<HttpResponse, Problem> {
    let mut body = body.read().await?;
    if !is_preview(&query)? {
        return add::<Campaign>(&state, &actor.0, "open_campaign", body).await;
    }
    let held = actor.0.fleet(&state).await?;
    resolve(Noun::Campaigns, "", &mut body, &sight_of(&actor.0, &held, state.now()))?;
    let campaign: Campaign = parse_fact("", body)?;
    let (id, now) = (campaign.id, state.now());
    let opened = tried_out(&held.fleet, &actor.0, &Fact::from(campaign), now)?;
    let progress = campaign_progress(&opened, id, None, Moment::today(&opened, now))
        .ok_or_else(|| not_found(Noun::Campaigns, &id.to_string()))?;
    let shown = CampaignShown { is_preview: true, progress };
    Ok(HttpResponse::Ok().json(CampaignOpened::Preview(Box::new(shown))))
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(list_campaigns).service(open_campaign).service(correct_campaign).service(find_campaign);
}
