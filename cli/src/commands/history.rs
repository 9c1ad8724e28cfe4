//! `preen history`: what happened to a part, oldest first.

use preen_domain::answers::{Answer, ComponentHistory};
use preen_domain::facts::Noun;

use super::{Session, frame_line};
use crate::args::Asked;
use crate::failure::Failure;
use crate::moments::show_short;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// Which part, when.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The part
    component: String,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let query = args.asked.query(&session.client)?;
    let name = session.client.name(Noun::Components, &args.component)?;
    let received = session.client.get(&[Noun::Components.as_str(), name, "history"], &query)?;
    let answer: Answer<ComponentHistory> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let zone = session.client.zone()?;
    let frame = frame_line(&answer, zone);
    let history = answer.answer;
    let since = history
        .riggings_since_repair
        .map(|count| format!(", {count} since the last repair"))
        .unwrap_or_default();
    reply.line(format!(
        "{}: {} flights, {} rigging cycles{since}",
        history.component, history.flights, history.riggings
    ));
    reply.line(frame);
    reply.line("");
    let mut table =
        Table::new([left("when"), left("what"), left("record"), left("by"), right("riggings"), left("told")]);
    for event in &history.events {
        table.push([
            Cell::plain(show_short(event.at, zone)),
            Cell::plain(event.kind.as_str()),
            Cell::maybe(event.tag.as_ref()),
            Cell::plain(event.by.as_str()),
            Cell::of(event.riggings),
            Cell::plain(event.text.as_str()),
        ]);
    }
    reply.csv = table.clone();
    reply.blocks.push(Block::Table(table));
    reply.hint(format!("`preen usage {}` counts flights by model and position.", history.component));
    Ok(reply)
}
