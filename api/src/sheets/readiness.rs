//! The readiness sheet of a team: entry by entry what has to be done before check-in, and what each model takes along.

use actix_web::{HttpRequest, HttpResponse, get, web};
use preen_domain::answers::{
    ContestReadiness, ModelReadiness, Readiness, ReadinessFinding, contest_readiness,
};
use preen_domain::facts::Noun;
use preen_domain::ids::ContestId;

use super::press::Template;
use super::sheet::{Cell, Sheet, narrow, wide};
use super::{PAPER, answer, blank};
use crate::access::actor::Reader;
use crate::answers::ask::Ask;
use crate::problem::Problem;
use crate::resources::entry::not_found;
use crate::resources::page::Pairs;
use crate::routes::Routes;
use crate::state::Shared;
use crate::told::{moment, short};

/// Prints what a team has to do before a contest, entry by entry.
#[utoipa::path(
    tag = "sheets",
    params(
        ("id" = String, Path, description = "Id or tag of the contest."),
        ("pilot" = Option<String>, Query, description = "Only the entries of this member, by id or tag."),
    ),
    responses((status = 200, description = "The sheet.", content_type = "application/pdf", body = Vec<u8>))
)]
#[get("/contests/{id}/readiness.pdf")]
pub async fn print_contest_readiness(
    state: Shared,
    actor: Reader,
    request: HttpRequest,
    id: web::Path<String>,
    query: Pairs,
) -> Result<HttpResponse, Problem> {
    let ask = Ask::with(&state, &actor.0, &request, query, &[PAPER]).await?;
    let unknown = || not_found(Noun::Contests, &id);
    let contest = ask.held.names.find(Noun::Contests, &id).filter(|_| ask.sees_all).ok_or_else(unknown)?;
    let pilot = ask.parameter("pilot").and(ask.moment.pilot);
    let held =
        contest_readiness(&ask.held.fleet, ContestId(contest), pilot, ask.moment).ok_or_else(unknown)?;
    let sheet = compose(&ask, &held)?;
    answer(&ask, Template::Sheet, sheet, &format!("readiness-{}.pdf", held.contest)).await
}

fn compose(ask: &Ask, held: &ContestReadiness) -> Result<Sheet, Problem> {
    let zone = ask.held.fleet.club().zone;
    let title = format!("Readiness for {}", held.title);
    let mut sheet = blank(
        ask,
        title,
        format!("{} · {} to {} · {}", held.contest, held.first_on, held.last_on, held.class),
    )?;
    sheet.facts(
        2,
        [
            ("check-in", moment(held.check_in_at, zone)),
            ("the team", word(held.readiness).to_owned()),
            ("ready", held.counts.ready.to_string()),
            ("with something in mind", held.counts.limited.to_string()),
            ("work to do first", held.counts.work_to_do.to_string()),
        ],
    );
    if !held.findings.is_empty() {
        sheet.heading("The whole team");
        findings(&mut sheet, &held.findings);
    }
    for entry in &held.entries {
        sheet.heading(format!("{} · {}", entry.pilot, word(entry.readiness)));
        if let Some(marks) = &entry.marks {
            sheet.text(format!("Marks: {marks}"));
        }
        if !entry.findings.is_empty() {
            findings(&mut sheet, &entry.findings);
        }
        model(&mut sheet, "flies", &entry.model);
        for reserve in &entry.reserves {
            model(&mut sheet, "reserve", reserve);
        }
    }
    if held.entries.is_empty() {
        sheet.text("Nobody is entered.");
    }
    sheet.heading("What all of it rests on");
    held.assumptions.iter().for_each(|assumption| sheet.text(assumption.clone()));
    sheet.caution(held.caution.clone());
    Ok(sheet)
}

fn model(sheet: &mut Sheet, how: &str, model: &ModelReadiness) {
    let packs: Vec<String> = model
        .packs
        .iter()
        .map(|pack| match pack.launches_per_charge {
            Some(launches) => format!("{} ({} per charge)", pack.pack, short(launches)),
            None => pack.pack.clone(),
        })
        .collect();
    let packs = if packs.is_empty() { String::new() } else { format!(" · packs {}", packs.join(", ")) };
    let class = model.class.as_ref().map_or_else(String::new, |class| format!(" · {}", class.text));
    sheet.text(format!("{how} {}: {}{packs}{class}", model.model, word(model.readiness)));
    findings(sheet, &model.findings);
}

fn findings(sheet: &mut Sheet, findings: &[ReadinessFinding]) {
    let rows: Vec<Vec<Cell>> = findings
        .iter()
        .map(|one| {
            vec![
                Cell::TICK,
                Cell::strong(one.severity.as_str()),
                one.subject.as_str().into(),
                one.text.as_str().into(),
                one.clear_by.as_str().into(),
                one.latest_on.map_or_else(String::new, |on| on.to_string()).into(),
            ]
        })
        .collect();
    if rows.is_empty() {
        sheet.text("Nothing stands against it.");
        return;
    }
    let columns = vec![
        narrow(""),
        narrow("how bad"),
        narrow("what"),
        wide("why", 2.4),
        wide("what clears it", 1.6),
        narrow("until"),
    ];
    sheet.table(columns, rows, "");
}

const fn word(readiness: Readiness) -> &'static str {
    match readiness {
        Readiness::Ready => "ready",
        Readiness::Limited => "can go, with what is listed in mind",
        Readiness::WorkToDo => "work to do first",
    }
}

/// Registers the routes.
pub fn routes(config: &mut Routes<'_, '_>) {
    config.service(print_contest_readiness);
}
