//! `preen findings`: a records audit of the whole club, the worst first.

use preen_domain::answers::{Answer, FindingCounts, Findings, PlacedFinding};
use preen_domain::facts::Noun;
use preen_domain::words::Severity;

use super::may_fly::severity_cell;
use super::{Session, frame_line};
use crate::args::{Asked, Coming};
use crate::failure::Failure;
use crate::moments::show_day;
use crate::output::{Block, Cell, Reply, Table, left};

/// Which findings, when.
#[derive(Debug, clap::Args)]
#[command(after_help = "Exit code: 2 if one of them grounds, 1 if there is any other, 0 if there is none.")]
pub struct Args {
    /// Only what concerns this model
    #[arg(long)]
    model: Option<String>,
    /// Only findings of this class: watch, restrict or ground
    #[arg(long, value_name = "CLASS")]
    severity: Option<Severity>,
    /// Only findings of this code, such as reading_beyond_limit
    #[arg(long)]
    code: Option<String>,
    #[command(flatten)]
    coming: Coming,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.coming.query(&session.client)?;
    query.extend(args.asked.query(&session.client)?);
    if let Some(model) = &args.model {
        query.push(("model", session.client.name(Noun::Models, model)?.to_owned()));
    }
    query.extend(args.severity.map(|severity| ("severity", severity.to_string())));
    query.extend(args.code.clone().map(|code| ("code", code)));
    let received = session.client.get(&["findings"], &query)?;
    let audit: Answer<Findings> = received.read()?;
    let mut reply = Reply { json: received.text, code: code(audit.answer.counts), ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let frame = frame_line(&audit, session.client.zone()?);
    reply.line(format!("{} · {frame}", show_day(audit.answer.on)));
    let list = &audit.answer.findings;
    reply.line("");
    if list.is_empty() {
        reply.line("Nothing was found.");
    } else {
        reply.blocks.push(Block::Table(table(list)));
        reply.line("");
        reply.line(counted(audit.answer.counts));
    }
    if let Some(found) = list.first() {
        reply.hint(match &found.model {
            Some(model) => format!("`preen findings --model {model}` lists what concerns {model} alone."),
            None => format!("`preen findings --code {}` lists those alone.", found.finding.code),
        });
    }
    reply.csv = rows(list);
    Ok(reply)
}

const fn code(counts: FindingCounts) -> u8 {
    if counts.ground > 0 {
        2
    } else if counts.restrict + counts.watch > 0 {
        1
    } else {
        0
    }
}

fn counted(counts: FindingCounts) -> String {
    format!("{} ground, {} restrict, {} watch.", counts.ground, counts.restrict, counts.watch)
}

fn table(list: &[PlacedFinding]) -> Table {
    let mut table = Table::new(["class", "model", "subject", "what", "cleared by"].map(left));
    for found in list {
        table.push([
            severity_cell(&found.finding),
            Cell::plain(found.model.as_deref().unwrap_or_default()),
            Cell::plain(found.finding.subject.as_str()),
            Cell::plain(found.finding.text.as_str()),
            Cell::plain(found.finding.clear_by.as_str()),
        ]);
    }
    table
}

fn rows(list: &[PlacedFinding]) -> Table {
    let columns = [
        "severity", "family", "code", "model", "place", "subject", "quantity", "value", "unit", "read_at",
        "text", "clear_by",
    ];
    let mut table = Table::new(columns.map(left));
    for found in list {
        let reading = found.reading.as_ref();
        table.push([
            Cell::of(found.finding.severity),
            Cell::of(found.family),
            Cell::plain(found.finding.code.as_str()),
            Cell::maybe(found.model.as_ref()),
            Cell::maybe(found.place.as_ref()),
            Cell::plain(found.finding.subject.as_str()),
            Cell::maybe(reading.map(|reading| reading.quantity.as_str())),
            Cell::maybe(reading.map(|reading| reading.value)),
            Cell::maybe(reading.map(|reading| reading.unit.as_str())),
            Cell::maybe(reading.map(|reading| reading.read_at)),
            Cell::plain(found.finding.text.as_str()),
            Cell::plain(found.finding.clear_by.as_str()),
        ]);
    }
    table
}
