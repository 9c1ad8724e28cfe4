//! The balance sheet of a model: mass and centre of gravity on its range, what changed since the last weighing, the
//! list of masses, inertia.

use actix_web::web::{Path, ServiceConfig};
use actix_web::{HttpResponse, get};
use askama::Template;
use preen_domain::answers::{Balanced, Method, balance};
use preen_domain::facts::Noun;

use super::draw::range::{Range, range};
use super::fault::PageFault;
use super::frame::{Frame, Room};
use super::guest::Visit;
use crate::resources::entry::not_found;

#[derive(Template)]
#[template(path = "pages/balance.html")]
struct BalancePage {
    frame: Frame,
    model: String,
    method: &'static str,
    datum: String,
    held: Balanced,
    drawn: Range,
}

/// Shows the balance of a model.
#[get("/models/{tag}/balance")]
async fn show_balance_sheet(visit: Visit, tag: Path<String>) -> Result<HttpResponse, PageFault> {
    let ask = visit.ask(&[]).await?;
    let model = ask.model(&tag)?;
    visit.answer(&ask, || {
        let fleet = &ask.held.fleet;
        let held = balance(fleet, model, ask.moment.as_of).ok_or_else(|| not_found(Noun::Models, &tag))?;
        Ok(BalancePage {
            frame: Frame::of(&ask, &visit.actor, Room::Board, format!("Balance of {}", held.model)),
            model: held.model.clone(),
            method: match held.method {
                Method::LastWeighing => "from the last weighing and what changed since",
                Method::List => "from the list of parts: it was never weighed",
            },
            datum: fleet.design_of(model).map(|design| design.datum.to_string()).unwrap_or_default(),
            drawn: range(held.x_mm, held.u_x_mm, (held.range.min_mm, held.range.max_mm)),
            held,
        })
    })
}

/// Registers the routes.
pub fn routes(config: &mut ServiceConfig) {
    config.service(show_balance_sheet);
}
