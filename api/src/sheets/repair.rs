//! The work sheet of one repair, to lie on the bench: steps with their cautions, what is ticked, what cures until when.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{RepairSheet, repair_sheet};
use preen_domain::facts::Noun;
use preen_domain::ids::RepairId;
use preen_domain::rules::may::may_see;

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
use crate::told::{fixed, moment};

/// Prints the work sheet of a repair as it stands, with its cautions at the steps.
#[utoipa::path(
    tag = "sheets",
    params(("id" = String, Path, description = "Id or tag of the repair.")),
    responses((status = 200, description = "The sheet.", content_type = "application/pdf", body = Vec<u8>))
)]
#[get("/repairs/{id}/sheet.pdf")]
pub async fn print_repair_sheet(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::with(&state, &actor.0, &request, query, &[PAPER]).await?;
    let fleet = &ask.held.fleet;
    let unknown = || not_found(Noun::Repairs, &id);
    let repair = RepairId(ask.held.names.find(Noun::Repairs, &id).ok_or_else(unknown)?);
    let fact = fleet.repair(repair).and_then(|file| file.repair.as_ref()).ok_or_else(unknown)?;
    if !may_see(fleet, ask.member, &fact.fact.clone().into(), ask.now) {
        return Err(unknown());
    }
    let held = repair_sheet(fleet, repair, ask.moment.as_of).ok_or_else(unknown)?;
    let sheet = compose(&ask, &held)?;
    answer(&ask, Template::Sheet, sheet, &format!("repair-{}.pdf", held.repair)).await
}

fn compose(ask: &Ask, held: &RepairSheet) -> Result<Sheet, Problem> {
    let zone = ask.held.fleet.club().zone;
    let title = format!("Repair {} on {}", held.repair, held.model);
    let mut sheet = blank(ask, title, format!("{} · {}", held.kind.as_str(), held.title))?;
    sheet.text(held.text.clone());
    let cure = held.cure_until_at.map_or_else(|| "nothing cures".to_owned(), |at| moment(at, zone));
    let mut may_release: Vec<&str> = held.may_release.iter().map(|one| one.member.as_str()).collect();
    may_release.dedup();
    sheet.facts(
        2,
        [
            ("started", moment(held.started_at, zone)),
            (
                "parts",
                if held.parts.is_empty() { "the model as a whole".to_owned() } else { held.parts.join(", ") },
            ),
            (
                "worked on by",
                if held.workers.is_empty() { "nobody yet".to_owned() } else { held.workers.join(", ") },
            ),
            ("not before", cure),
            ("material that stays", format!("{} g", fixed(held.mass_added_g, 2))),
            ("may release it", may_release.join(", ")),
        ],
    );
    if let Some(source) = &held.cure_source {
        sheet.text(source.clone());
    }
    sheet.heading("Steps");
    let rows = held
        .steps
        .iter()
        .map(|step| {
            let mut text = step.text.clone();
            if let Some(record) = &step.record {
                text = format!("{text} Write down: {record}.");
            }
            let done = match (step.result, &step.by) {
                (Some(result), Some(by)) => format!("{} {by}", result.as_str().replace('_', " ")).into(),
                _ => Cell::TICK,
            };
            vec![
                Cell::from(step.number.to_string()),
                done,
                text.into(),
                step.caution.as_ref().map_or_else(|| Cell::from(""), |caution| Cell::strong(caution.clone())),
                Cell::ROOM,
            ]
        })
        .collect();
    sheet.form(
        vec![
            number("no."),
            narrow("done"),
            wide("what to do", 2.2),
            wide("caution", 1.6),
            wide("reading, lot, by whom", 1.2),
        ],
        rows,
    );
    if !held.limits.is_empty() {
        sheet.heading("Limits");
        held.limits.iter().for_each(|limit| sheet.text(limit.clone()));
    }
    sheet.heading("What stands against the release");
    sheet.findings(&held.blocked_by, "Nothing on record.");
    sheet.lines(&["looked at by a second person", "released by", "day and time"]);
    sheet.text("The release says by the club's own practice that the work is done and looked at. It is nothing more.");
    Ok(sheet)
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(print_repair_sheet);
}
