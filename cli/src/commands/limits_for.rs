//! `preen limits-for`: the limits by which readings on a model are judged, and where each comes from.

use preen_domain::answers::{Answer, HeldLimit, ModelLimits};
use preen_domain::facts::Noun;

use super::{Session, frame_line};
use crate::args::Asked;
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// Whose limits.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The model
    model: String,
    /// Only this quantity, such as tip_rock_total
    #[arg(long)]
    quantity: Option<String>,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.asked.query(&session.client)?;
    query.extend(args.quantity.clone().map(|quantity| ("quantity", quantity)));
    let model = session.client.name(Noun::Models, &args.model)?.to_owned();
    let received = session.client.get(&["models", &model, "limits"], &query)?;
    let answer: Answer<ModelLimits> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let frame = frame_line(&answer, session.client.zone()?);
    let held = &answer.answer;
    let programme = held.programme.as_deref().unwrap_or("no programme");
    reply.line(format!("{} · {programme} · {frame}", held.model));
    reply.line("");
    if held.limits.is_empty() {
        reply.line("No limit holds.");
    } else {
        reply.blocks.push(Block::Table(table(&held.limits)));
        reply.hint("`preen limits add --help` enters a limit of the club's own.");
    }
    reply.csv = rows(&held.limits);
    Ok(reply)
}

fn table(list: &[HeldLimit]) -> Table {
    let columns = [
        left("quantity"),
        left("where"),
        left(""),
        right("watch"),
        right("restrict"),
        right("ground"),
        left("unit"),
        left("from"),
    ];
    let mut table = Table::new(columns);
    for held in list {
        let place = held.position.as_deref().or(held.position_kind.as_deref()).unwrap_or("anywhere");
        table.push([
            Cell::plain(held.quantity.as_str()),
            Cell::plain(place),
            Cell::plain(held.direction.sign()),
            Cell::maybe(held.watch),
            Cell::maybe(held.restrict),
            Cell::maybe(held.ground),
            Cell::plain(held.unit.as_str()),
            Cell::plain(format!("{} {}", held.origin.as_str().replace('_', " "), held.source)),
        ]);
    }
    table
}

fn rows(list: &[HeldLimit]) -> Table {
    let columns = [
        "quantity",
        "position_kind",
        "position",
        "unit",
        "direction",
        "watch",
        "restrict",
        "ground",
        "origin",
        "source",
    ];
    let mut table = Table::new(columns.map(left));
    for held in list {
        table.push([
            Cell::plain(held.quantity.as_str()),
            Cell::maybe(held.position_kind.as_ref()),
            Cell::maybe(held.position.as_ref()),
            Cell::plain(held.unit.as_str()),
            Cell::of(held.direction),
            Cell::maybe(held.watch),
            Cell::maybe(held.restrict),
            Cell::maybe(held.ground),
            Cell::of(held.origin),
            Cell::plain(held.source.as_str()),
        ]);
    }
    table
}
