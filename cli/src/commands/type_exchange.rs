//! `preen exchange`: what it would do to each model if every part of one type were exchanged for one of another.

use preen_domain::answers::{Answer, ModelExchange, TypeExchange};
use preen_domain::facts::Noun;

use super::{Session, frame_line};
use crate::args::Asked;
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// Which part types.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "As in: preen exchange SV06 --with SV06M\nExit code 1: a centre of gravity would leave its range. Rules and \
                        checks of one model: `preen swap --preview`."
)]
pub struct Args {
    /// The part type that comes off
    part: String,
    /// The part type that goes on, of the same kind
    #[arg(long, value_name = "PART")]
    with: String,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let client = &session.client;
    let mut query = args.asked.query(client)?;
    query.push(("part", client.name(Noun::Parts, &args.part)?.to_owned()));
    query.push(("with", client.name(Noun::Parts, &args.with)?.to_owned()));
    let received = client.get(&["exchange"], &query)?;
    let answer: Answer<TypeExchange> = received.read()?;
    let exchange = &answer.answer;
    let leaves = |row: &ModelExchange| {
        row.balance.as_ref().is_some_and(|balance| balance.was_inside && !balance.range.inside)
    };
    let code = u8::from(exchange.models.iter().any(leaves));
    let mut reply = Reply { json: received.text, code, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    reply.line(frame_line(&answer, client.zone()?));
    reply.line(format!(
        "Each {} exchanged for a {} of {} g; nothing is recorded.",
        exchange.part, exchange.with, exchange.mass_each_g
    ));
    if exchange.models.is_empty() {
        reply.line(format!("No model carries a {}.", exchange.part));
        return Ok(reply);
    }
    let table = table(&exchange.models);
    reply.csv = table.clone();
    reply.line("");
    reply.blocks.push(Block::Table(table));
    Ok(reply)
}

fn table(rows: &[ModelExchange]) -> Table {
    let mut columns = vec![left("model")];
    columns.extend(
        ["parts", "mass g", "CG mm before", "after", "move", "roll %", "pitch %", "yaw %"].map(right),
    );
    columns.push(left("range"));
    let mut table = Table::new(columns);
    for row in rows {
        let mut cells = vec![
            Cell::plain(row.model.as_str()),
            Cell::of(row.count),
            Cell::plain(format!("{:+.1}", row.mass_change_g)),
        ];
        let Some(balance) = &row.balance else {
            cells.extend((0..6).map(|_| Cell::plain("")));
            cells.push(Cell::plain("no balance on record"));
            table.push(cells);
            continue;
        };
        cells.extend([balance.before.x_mm, balance.after.x_mm].map(|x_mm| Cell::number(x_mm, 2)));
        cells.push(Cell::plain(format!("{:+.2}", balance.x_change_mm)));
        cells.extend(
            balance.inertia_percent().map(|percent| {
                Cell::plain(percent.map(|percent| format!("{percent:+.2}")).unwrap_or_default())
            }),
        );
        let range = match (balance.was_inside, balance.range.inside) {
            (true, true) => "stays inside",
            (true, false) => "would leave it",
            (false, true) => "would come inside",
            (false, false) => "outside before and after",
        };
        cells.push(Cell::plain(format!("{} to {}: {range}", balance.range.min_mm, balance.range.max_mm)));
        table.push(cells);
    }
    table
}
