//! The shelf: what there is of each part type and batch, what is free, what campaigns still need, what lies where.

use actix_web::web::ServiceConfig;
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::{StockRow, stock};

use super::fault::PageFault;
use super::frame::{Frame, Room};
use super::guest::Visit;

#[derive(Template)]
#[template(path = "pages/shelf.html")]
struct ShelfPage {
    frame: Frame,
    rows: Vec<StockRow>,
    short: usize,
}

/// Shows the shelf.
#[get("/shelf")]
async fn show_shelf(visit: Visit) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    visit.answer(&ask, || {
        let mut rows = stock(&ask.held.fleet, None, ask.moment).rows;
        rows.retain(|_| ask.sees_all);
        Ok(ShelfPage {
            frame: Frame::of(&ask, &visit.actor, Room::Shelf, "Shelf"),
            short: rows.iter().map(|row| row.short_count).sum(),
            rows,
        })
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_shelf);
}
