//! `preen standing`: how a defect stands, on what terms and until when, who may put it off, and what happened to it.

use preen_domain::answers::{Answer, DefectStanding, RestrictionSaid};
use preen_domain::facts::Noun;
use preen_domain::words::Severity;

use super::may_fly::say_restriction;
use super::{Session, frame_line};
use crate::args::{Asked, Coming};
use crate::failure::Failure;
use crate::moments::{show_day, show_moment, show_short};
use crate::output::{Block, Cell, Reply, Table, Tone, left};

/// Which defect, when.
#[derive(Debug, clap::Args)]
#[command(after_help = "Exit code: 2 if it grounds, 1 if it restricts, 0 if it is watched or closed.")]
pub struct Args {
    /// The defect
    defect: String,
    #[command(flatten)]
    coming: Coming,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.coming.query(&session.client)?;
    query.extend(args.asked.query(&session.client)?);
    let name = session.client.name(Noun::Defects, &args.defect)?;
    let received = session.client.get(&[Noun::Defects.as_str(), name, "standing"], &query)?;
    let answer: Answer<DefectStanding> = received.read()?;
    let code = match answer.answer.severity {
        Some(Severity::Ground) => 2,
        Some(Severity::Restrict) => 1,
        Some(Severity::Watch) | None => 0,
    };
    let mut reply = Reply { json: received.text, code, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let zone = session.client.zone()?;
    let frame = frame_line(&answer, zone);
    let standing = answer.answer;
    reply.line(format!("{} · {frame}", show_day(standing.on)));
    reply.line("");
    let days = standing.days_since_found;
    let found = format!("{} by {}, {days} days ago", show_moment(standing.found_at, zone), standing.found_by);
    let mut fields = vec![
        ("defect".to_owned(), Cell::plain(format!("{}: {}", standing.defect, standing.text))),
        ("class".to_owned(), severity_cell(standing.severity)),
    ];
    let mut add = |name: &str, text: String| {
        if !text.is_empty() {
            fields.push((name.to_owned(), Cell::plain(text)));
        }
    };
    add("sits on", format!("{}, found on {}", standing.subject, standing.model));
    add("now in", standing.carried_by.clone().unwrap_or_else(|| "no model".to_owned()));
    add("found", found);
    add("cause", cause(&standing));
    add("repeats", standing.repeats.join(", "));
    add("restrictions", say_restrictions(&standing.restrictions));
    add("limit", limit(&standing));
    for deferral in &standing.deferrals {
        let word = if deferral.is_extension { "extended" } else { "deferred" };
        let until = deferral.fix_by_on.map(|on| format!(" to {on}")).unwrap_or_default();
        let reason = deferral.reason.as_ref().map(|reason| format!(": {reason}")).unwrap_or_default();
        add(word, format!("{} by {}{until}{reason}", show_moment(deferral.at, zone), deferral.by));
    }
    let verb = if standing.deferrals.is_empty() { "may defer" } else { "may extend" };
    add(verb, standing.may_sign.join(", "));
    add("cleared by", standing.clear_by.clone());
    reply.blocks.push(Block::Fields(fields));
    reply.line("");
    let mut table = Table::new(["when", "what", "by", "told"].map(left));
    for event in &standing.events {
        table.push([
            Cell::plain(show_short(event.at, zone)),
            Cell::plain(event.kind.as_str()),
            Cell::plain(event.by.as_str()),
            Cell::plain(event.text.as_str()),
        ]);
    }
    reply.csv = table.clone();
    reply.blocks.push(Block::Table(table));
    if standing.can_be_deferred {
        reply.hint(format!(
            "`preen defer {} --preview …` says what putting it off would do.",
            standing.defect
        ));
    }
    Ok(reply)
}

fn cause(standing: &DefectStanding) -> String {
    let word = standing.cause.map(|cause| cause.as_str().replace('_', " "));
    word.into_iter().chain(standing.cause_note.clone()).collect::<Vec<String>>().join(": ")
}

/// A class as a word with a shape; a closed defect has none.
pub fn severity_cell(severity: Option<Severity>) -> Cell {
    match severity {
        Some(Severity::Ground) => Cell::toned("■ ground", Tone::Bad),
        Some(Severity::Restrict) => Cell::toned("▲ restrict", Tone::Caution),
        Some(Severity::Watch) => Cell::plain("· watch"),
        None => Cell::toned("● closed", Tone::Good),
    }
}

/// All restrictions in words.
pub fn say_restrictions(restrictions: &[RestrictionSaid]) -> String {
    restrictions.iter().map(say_restriction).collect::<Vec<String>>().join("; ")
}

/// When its class rises, and to what.
pub fn limit(standing: &DefectStanding) -> String {
    let Some(becomes) = standing.becomes else { return String::new() };
    let day =
        standing.limit_on.zip(standing.days_left).map(|(on, left)| format!("after {on}, {left} days left"));
    let count = standing.flights_left.map(|left| format!("{left} flights left"));
    let both: Vec<String> = day.into_iter().chain(count).collect();
    let said = if both.is_empty() { "at the next periodic check".to_owned() } else { both.join("; ") };
    format!("{becomes} {said}")
}
