//! Campaigns: all of them in short, and the board of one with every part, stock against need and the work list.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::{CampaignProgress, CampaignRow, TargetCounts, campaign_progress, campaigns_said};
use preen_domain::facts::Noun;
use preen_domain::ids::CampaignId;
use preen_domain::words::Standing;

use super::draw::scale::Scale;
use super::fault::PageFault;
use super::frame::{Frame, Room};
use super::guest::Visit;
use super::words::Word;
use crate::resources::entry::not_found;

/// A piece of the bar that shows how far a campaign is; the whole is 600 wide.
pub struct Piece {
    x: f64,
    width: f64,
    tone: &'static str,
    text: String,
}

#[derive(Template)]
#[template(path = "pages/campaigns.html")]
struct CampaignsPage {
    frame: Frame,
    rows: Vec<(CampaignRow, Vec<Piece>)>,
}

#[derive(Template)]
#[template(path = "pages/campaign.html")]
struct CampaignPage {
    frame: Frame,
    progress: CampaignProgress,
    pieces: Vec<Piece>,
    covers: String,
}

/// How a part stands, as a word with its sign.
pub fn standing(one: Standing) -> Word {
    let (sign, text, tone) = match one {
        Standing::Failed => ("block", "found bad", "stop"),
        Standing::Overdue => ("block", "overdue", "stop"),
        Standing::Open => ("half", "open", "care"),
        Standing::KeptOut => ("rest", "kept out", "calm"),
        Standing::Done => ("disc", "done", "good"),
    };
    Word { sign, text, tone }
}

/// A bar of the parts by how they stand.
fn pieces(counts: &TargetCounts) -> Vec<Piece> {
    let number = |count: usize| u32::try_from(count).map_or(f64::from(u32::MAX), f64::from);
    let scale = Scale::new((0.0, number(counts.targets).max(1.0)), (0.0, 600.0));
    let list = [
        (counts.done, "good", "done"),
        (counts.kept_out, "calm", "kept out"),
        (counts.open, "care", "open"),
        (counts.overdue + counts.failed, "stop", "overdue or found bad"),
    ];
    let mut before = 0;
    let mut made = Vec::new();
    for (count, tone, word) in list.into_iter().filter(|(count, _, _)| *count > 0) {
        let (x, end) = (scale.at(number(before)), scale.at(number(before + count)));
        made.push(Piece { x, width: end - x, tone, text: format!("{count} {word}") });
        before += count;
    }
    made
}

/// Lists the campaigns.
#[get("/campaigns")]
async fn show_campaigns(visit: Visit) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    visit.answer(&ask, || {
        let list = campaigns_said(&ask.held.fleet, ask.moment).campaigns.into_iter().filter(|_| ask.sees_all);
        Ok(CampaignsPage {
            frame: Frame::of(&ask, &visit.actor, Room::Campaigns, "Campaigns"),
            rows: list.map(|row| (pieces(&row.counts), row)).map(|(pieces, row)| (row, pieces)).collect(),
        })
    })
}

/// Shows how far a campaign is.
#[get("/campaigns/{tag}")]
async fn show_campaign(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    let unknown = || not_found(Noun::Campaigns, &tag);
    let id = CampaignId(ask.held.names.find(Noun::Campaigns, &tag).ok_or_else(unknown)?);
    let progress = campaign_progress(&ask.held.fleet, id, None, ask.moment).filter(|_| ask.sees_all);
    let progress = progress.ok_or_else(unknown)?;
    visit.answer(&ask, || {
        Ok(CampaignPage {
            frame: Frame::of(&ask, &visit.actor, Room::Campaigns, progress.campaign.clone()),
            pieces: pieces(&progress.counts),
            covers: progress.covers(),
            progress,
        })
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_campaigns).service(show_campaign);
}
