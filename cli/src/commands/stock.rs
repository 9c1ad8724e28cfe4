//! `preen stock`: what there is of part types, batch by batch.

use preen_domain::answers::{Answer, Stock, StockRow};
use preen_domain::facts::Noun;

use super::{Session, frame_line};
use crate::args::{Asked, Coming};
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// Of which part type, when.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Only this part type, with where its loose parts lie
    part: Option<String>,
    #[command(flatten)]
    coming: Coming,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.coming.query(&session.client)?;
    query.extend(args.asked.query(&session.client)?);
    if let Some(part) = &args.part {
        query.push(("part", session.client.name(Noun::Parts, part)?.to_owned()));
    }
    let received = session.client.get(&["stock"], &query)?;
    let answer: Answer<Stock> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    reply.line(frame_line(&answer, session.client.zone()?));
    let rows = &answer.answer.rows;
    if rows.is_empty() {
        reply.line("Nothing is on record.");
        reply.hint("`preen components list` shows what there is.");
    } else {
        reply.line("");
        reply.blocks.push(Block::Table(table(rows)));
    }
    if args.part.is_some() {
        loose(&mut reply, rows);
    }
    reply.csv = csv(rows);
    Ok(reply)
}

fn table(rows: &[StockRow]) -> Table {
    let mut columns = vec![left("part"), left("batch")];
    columns.extend(
        [
            "fitted",
            "ready",
            "untested",
            "held",
            "unserviceable",
            "in repair",
            "lent",
            "scrapped",
            "reserved",
            "free",
        ]
        .map(right),
    );
    columns.push(left("wanted by"));
    let mut table = Table::new(columns);
    for row in rows {
        let mut wanted: Vec<String> =
            row.reserved_for.iter().map(|one| format!("{} needs {}", one.source, one.need_count)).collect();
        if row.short_count > 0 {
            wanted.push(format!("short {}", row.short_count));
        }
        let mut cells = vec![Cell::plain(row.part.as_str()), Cell::maybe(row.batch.as_ref())];
        cells.extend(
            [
                row.fitted_count,
                row.ready_count,
                row.untested_count,
                row.held_count,
                row.unserviceable_count,
                row.in_repair_count,
                row.lent_count,
                row.scrapped_count,
                row.reserved_count,
                row.free_count,
            ]
            .map(Cell::of),
        );
        cells.push(Cell::plain(wanted.join(", ")));
        table.push(cells);
    }
    table
}

fn loose(reply: &mut Reply, rows: &[StockRow]) {
    let mut table = Table::new(["loose", "batch", "state", "where"].map(left));
    for row in rows {
        for part in &row.loose {
            let place = match (&part.lent_to, &part.location) {
                (Some(member), _) => format!("with {member}"),
                (None, Some(location)) => location.clone(),
                (None, None) => "place not on record".to_owned(),
            };
            table.push([
                Cell::plain(part.component.as_str()),
                Cell::maybe(row.batch.as_ref()),
                Cell::plain(part.component_state.as_str().replace('_', " ")),
                Cell::plain(place),
            ]);
        }
    }
    if !table.rows.is_empty() {
        reply.line("");
        reply.blocks.push(Block::Table(table));
    }
}

fn csv(rows: &[StockRow]) -> Table {
    let mut table = Table::new(
        [
            "part",
            "batch",
            "total",
            "fitted",
            "ready",
            "untested",
            "held",
            "unserviceable",
            "in_repair",
            "lent",
            "scrapped",
            "reserved",
            "free",
            "short",
        ]
        .map(left),
    );
    for row in rows {
        let mut cells = vec![Cell::plain(row.part.as_str()), Cell::maybe(row.batch.as_ref())];
        cells.extend(
            [
                row.total_count,
                row.fitted_count,
                row.ready_count,
                row.untested_count,
                row.held_count,
                row.unserviceable_count,
                row.in_repair_count,
                row.lent_count,
                row.scrapped_count,
                row.reserved_count,
                row.free_count,
                row.short_count,
            ]
            .map(Cell::of),
        );
        table.push(cells);
    }
    table
}
