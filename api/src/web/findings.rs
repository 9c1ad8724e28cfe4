//! What an audit of the record finds, by family; what was sent and could not be recorded.

use std::sync::Arc;

use actix_web::web::ServiceConfig;
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::{FindingCounts, Findings, PlacedFinding};
use preen_domain::asked::audit_seen;
use preen_domain::words::Severity;

use super::fault::PageFault;
use super::frame::{Frame, Room};
use super::guest::Visit;
use super::words::{self, Word};
use crate::answers::ask::Ask;
use crate::desk::AUDITS;

#[derive(Template)]
#[template(path = "pages/findings.html")]
struct FindingsPage {
    frame: Frame,
    counts: Vec<(Word, usize)>,
    families: Vec<(String, Vec<PlacedFinding>)>,
    on: String,
}

fn counted(counts: FindingCounts) -> Vec<(Word, usize)> {
    let list = [
        (Severity::Ground, counts.ground),
        (Severity::Restrict, counts.restrict),
        (Severity::Watch, counts.watch),
    ];
    list.into_iter().map(|(severity, count)| (words::severity(severity), count)).collect()
}

/// Shows the audit.
#[get("/findings")]
async fn show_findings(visit: Visit) -> Result<HttpResponse, PageFault> {
    let ask = Arc::new(visit.ask(&[]).await?);
    let work = |ask: &Ask| audit_seen(&ask.asked());
    let page = |audit: Findings| {
        let mut families: Vec<(String, Vec<PlacedFinding>)> = Vec::new();
        for found in audit.findings {
            let name = found.family.as_str().to_owned();
            match families.iter_mut().find(|(known, _)| *known == name) {
                Some((_, list)) => list.push(found),
                None => families.push((name, vec![found])),
            }
        }
        Ok(FindingsPage {
            frame: Frame::of(&ask, &visit.actor, Room::Findings, "What the record shows"),
            counts: counted(audit.counts),
            families,
            on: ask.moment.on.to_string(),
        })
    };
    visit.answer_apart(&ask, (&AUDITS, work), page).await
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_findings);
}
