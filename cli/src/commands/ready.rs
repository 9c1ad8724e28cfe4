//! `preen ready`: which entries can go to a contest, and what must be done first.

use preen_domain::answers::{
    Answer, ContestReadiness, EntryReadiness, ModelReadiness, Readiness, ReadinessFinding,
};
use preen_domain::facts::{Contest, Noun};
use preen_domain::time::day_of;
use preen_domain::words::Severity;
use serde::Deserialize;

use super::{Session, frame_line};
use crate::args::Asked;
use crate::failure::Failure;
use crate::moments::{show_day, show_moment};
use crate::output::{Block, Cell, Reply, Table, Tone, left};

/// Which contest, whose entries.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Exit code: 2 if something has to be done first, 1 if entries go with something in mind, 0 if all \
                        are ready."
)]
pub struct Args {
    /// The contest [default: the next one]
    contest: Option<String>,
    /// Only the entries of this member
    #[arg(long, value_name = "MEMBER")]
    pilot: Option<String>,
    /// List what is only worth knowing, too
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    asked: Asked,
}

#[derive(Deserialize)]
struct Contests {
    items: Vec<Contest>,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.asked.query(&session.client)?;
    let contest = match &args.contest {
        Some(name) => session.client.name(Noun::Contests, name)?.to_owned(),
        None => next_contest(session)?,
    };
    if let Some(pilot) = &args.pilot {
        query.push(("pilot", session.client.name(Noun::Members, pilot)?.to_owned()));
    }
    let received = session.client.get(&["contests", &contest, "readiness"], &query)?;
    let answer: Answer<ContestReadiness> = received.read()?;
    let team = &answer.answer;
    let code = match team.readiness {
        Readiness::Ready => 0,
        Readiness::Limited => 1,
        Readiness::WorkToDo => 2,
    };
    let mut reply = Reply { json: received.text, code, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let zone = session.client.zone()?;
    reply.line(format!("{} {} · {} · {}", team.contest, team.title, team.class, frame_line(&answer, zone)));
    reply.line(format!(
        "check-in {} · flown {} to {}",
        show_moment(team.check_in_at, zone),
        show_day(team.first_on),
        show_day(team.last_on)
    ));
    reply.line("");
    reply.blocks.push(Block::Table(board(team)));
    if !team.findings.is_empty() {
        reply.line("");
        reply.line("For the team:");
        reply.blocks.push(Block::Table(work(team.findings.iter())));
    }
    for entry in &team.entries {
        show_entry(&mut reply, entry, args.all);
    }
    reply.line("");
    reply.line("Rests on:");
    for assumption in &team.assumptions {
        reply.line(format!("- {assumption}"));
    }
    reply.line(team.caution.as_str());
    reply.csv = rows(team);
    Ok(reply)
}

/// The contest that ends next.
fn next_contest(session: &Session<'_, '_>) -> Result<String, Failure> {
    let list: Contests = session.client.get(&["contests"], &[("limit", "500".to_owned())])?.read()?;
    let today = day_of(session.client.now()?, session.client.zone()?);
    let coming = list.items.into_iter().filter(|contest| contest.last_on >= today);
    coming
        .min_by_key(|contest| (contest.last_on, contest.tag.clone()))
        .map(|next| next.tag.to_string())
        .ok_or_else(|| {
            Failure::bad_input("No contest lies ahead.")
                .hint("`preen contests list` shows them all; `preen contests add` enters one.")
        })
}

fn ready_cell(readiness: Readiness) -> Cell {
    match readiness {
        Readiness::Ready => Cell::toned("● ready", Tone::Good),
        Readiness::Limited => Cell::toned("▲ limited", Tone::Caution),
        Readiness::WorkToDo => Cell::toned("■ work_to_do", Tone::Bad),
    }
}

fn board(team: &ContestReadiness) -> Table {
    let columns = ["pilot", "entry", "model", "", "model is", "at last round", "falls due before", "limits"];
    let mut table = Table::new(columns.map(left));
    for entry in &team.entries {
        for (place, model) in std::iter::once(&entry.model).chain(&entry.reserves).enumerate() {
            let first = place == 0;
            table.push([
                Cell::plain(if first { entry.pilot.as_str() } else { "" }),
                if first { ready_cell(entry.readiness) } else { Cell::plain("") },
                Cell::plain(model.model.as_str()),
                Cell::plain(if first { "" } else { "reserve" }),
                ready_cell(model.readiness),
                Cell::plain(flights(model)),
                Cell::plain(falls_due(model)),
                Cell::plain(limits(model)),
            ]);
        }
    }
    table
}

fn flights(model: &ModelReadiness) -> String {
    let flights = &model.flights;
    let range = match (flights.forecast_flights_from, flights.forecast_flights_to) {
        (Some(from), Some(to)) => format!(" (by rate {from} to {to})"),
        _ => String::new(),
    };
    format!("{} of {}{range}", flights.now_flights, flights.last_round_flights)
}

fn falls_due(model: &ModelReadiness) -> String {
    let due = model.checks.iter().filter(|check| check.falls_due);
    let said: Vec<String> = due
        .map(|check| {
            let late = if check.is_late { ", late" } else { "" };
            let again = check.do_early.as_ref().is_some_and(|early| !early.is_once_enough);
            let again = if again { ", twice" } else { "" };
            match (
                check.due_at_count.filter(|due| check.last_round_count.is_some_and(|last| *due <= last)),
                check.due_on,
            ) {
                (Some(count), _) => format!("{} ({count}{late}{again})", check.group),
                (None, Some(on)) => format!("{} ({on}{late}{again})", check.group),
                (None, None) => check.group.clone(),
            }
        })
        .collect();
    said.join(", ")
}

fn limits(model: &ModelReadiness) -> String {
    let said = model.limits.iter().map(|limit| {
        let action = limit.action.map(|number| format!(" action {number}")).unwrap_or_default();
        let on = limit.limit_on.map(|on| format!(" on {on}")).unwrap_or_default();
        let left = limit.flights_left.map(|left| format!(", {left} flights left")).unwrap_or_default();
        format!("{}{action}{on}{left}", limit.source)
    });
    said.collect::<Vec<_>>().join("; ")
}

fn show_entry(reply: &mut Reply, entry: &EntryReadiness, all: bool) {
    let own = entry.findings.iter();
    let models = std::iter::once(&entry.model).chain(&entry.reserves).flat_map(|model| &model.findings);
    let shown: Vec<&ReadinessFinding> =
        own.chain(models).filter(|found| all || found.severity != Severity::Watch).collect();
    reply.line("");
    if shown.is_empty() {
        reply.line(format!("{} with {}: nothing to do.", entry.pilot, entry.model.model));
        return;
    }
    reply.line(format!("{} with {}:", entry.pilot, entry.model.model));
    reply.blocks.push(Block::Table(work(shown.into_iter())));
}

fn severity_cell(severity: Severity) -> Cell {
    match severity {
        Severity::Watch => Cell::toned("● watch", Tone::Good),
        Severity::Restrict => Cell::toned("▲ restrict", Tone::Caution),
        Severity::Ground => Cell::toned("■ ground", Tone::Bad),
    }
}

fn work<'a>(findings: impl Iterator<Item = &'a ReadinessFinding>) -> Table {
    let mut table = Table::new(["class", "model", "what", "by", "to do", "why"].map(left));
    for found in findings {
        let by = match (found.not_before_on, found.latest_on) {
            (Some(from), Some(to)) => format!("{from} to {to}"),
            (None, Some(to)) => to.to_string(),
            (Some(from), None) => format!("from {from}"),
            (None, None) => String::new(),
        };
        table.push([
            severity_cell(found.severity),
            Cell::plain(found.model.as_deref().unwrap_or_default()),
            Cell::plain(found.subject.as_str()),
            Cell::plain(by),
            Cell::plain(found.clear_by.as_str()),
            Cell::plain(found.text.as_str()),
        ]);
    }
    table
}

fn rows(team: &ContestReadiness) -> Table {
    let columns = [
        "pilot",
        "model",
        "code",
        "severity",
        "task",
        "subject",
        "parts",
        "not_before_on",
        "latest_on",
        "before_flights",
        "text",
        "clear_by",
    ];
    let mut table = Table::new(columns.map(left));
    let mut push = |pilot: &str, found: &ReadinessFinding| {
        table.push([
            Cell::plain(pilot),
            Cell::maybe(found.model.as_ref()),
            Cell::plain(found.code.as_str()),
            Cell::of(found.severity),
            Cell::of(found.task),
            Cell::plain(found.subject.as_str()),
            Cell::plain(found.parts.join(";")),
            Cell::maybe(found.not_before_on),
            Cell::maybe(found.latest_on),
            Cell::maybe(found.before_flights),
            Cell::plain(found.text.as_str()),
            Cell::plain(found.clear_by.as_str()),
        ]);
    };
    for found in &team.findings {
        push("", found);
    }
    for entry in &team.entries {
        let models = std::iter::once(&entry.model).chain(&entry.reserves).flat_map(|model| &model.findings);
        for found in entry.findings.iter().chain(models) {
            push(&entry.pilot, found);
        }
    }
    table
}
