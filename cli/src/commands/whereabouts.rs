//! `preen where`: in which position of which model, on which shelf, with whom.

use preen_domain::answers::{Answer, WhereRow, Whereabouts};
use preen_domain::facts::Noun;

use super::{Session, frame_line};
use crate::args::{Asked, Coming};
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, left};

/// Which parts, when.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// This part
    component: Option<String>,
    /// Parts of this type
    #[arg(long)]
    part: Option<String>,
    /// Parts of this batch; SV08/B names type and batch
    #[arg(long)]
    batch: Option<String>,
    /// Only those that sit in this kind of position, such as "flap servo"
    #[arg(long, value_name = "KIND")]
    position_kind: Option<String>,
    #[command(flatten)]
    coming: Coming,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let client = &session.client;
    let mut query = args.coming.query(client)?;
    query.extend(args.asked.query(client)?);
    if let Some(component) = &args.component {
        query.push(("component", client.name(Noun::Components, component)?.to_owned()));
    }
    if let Some(part) = &args.part {
        query.push(("part", client.name(Noun::Parts, part)?.to_owned()));
    }
    if let Some(batch) = &args.batch {
        if let Some((part, _)) = batch.split_once('/') {
            client.mention(Noun::Parts, part);
        }
        query.push(("batch", batch.clone()));
    }
    query.extend(args.position_kind.clone().map(|kind| ("position_kind", kind)));
    let received = client.get(&["where"], &query)?;
    let answer: Answer<Whereabouts> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let frame = frame_line(&answer, session.client.zone()?);
    let Whereabouts { models, components } = answer.answer;
    reply.line(summary(&models, &components));
    reply.line(frame);
    if components.is_empty() {
        reply.hint("`preen parts list` and `preen components list` show what there is.");
    } else {
        reply.line("");
        reply.blocks.push(Block::Table(table(&components)));
    }
    reply.csv = rows(&components);
    Ok(reply)
}

fn summary(models: &[String], rows: &[WhereRow]) -> String {
    let fitted = rows.iter().filter(|row| row.model.is_some()).count();
    let count =
        |number: usize, one: &str, many: &str| format!("{number} {}", if number == 1 { one } else { many });
    let parts = count(rows.len(), "part", "parts");
    if models.is_empty() {
        return format!("{parts}, none in a model.");
    }
    format!("{parts}, {fitted} in {}: {}.", count(models.len(), "model", "models"), models.join(", "))
}

fn table(rows: &[WhereRow]) -> Table {
    let mut table = Table::new(["part", "batch", "state", "where", "position", "for", "loan"].map(left));
    for row in rows {
        table.push([
            Cell::plain(row.component.as_str()),
            Cell::plain(batch(row)),
            Cell::of(row.state),
            Cell::plain(place(row)),
            Cell::maybe(row.path.as_ref()),
            Cell::maybe(row.position_kind.as_ref()),
            Cell::plain(loan(row)),
        ]);
    }
    table
}

fn batch(row: &WhereRow) -> String {
    match &row.batch {
        Some(batch) => format!("{}/{batch}", row.part),
        None => row.part.clone(),
    }
}

fn place(row: &WhereRow) -> String {
    match (&row.model, &row.inside, &row.lent_to, &row.location) {
        (Some(model), _, _, _) => model.clone(),
        (None, Some(panel), _, _) => format!("in {panel}"),
        (None, None, Some(member), _) => format!("with {member}"),
        (None, None, None, Some(location)) => location.clone(),
        (None, None, None, None) => "place not on record".to_owned(),
    }
}

fn loan(row: &WhereRow) -> String {
    let Some(member) = &row.lent_to else { return String::new() };
    let due = row.due_back_on.map(|day| format!(", due back {day}")).unwrap_or_default();
    match row.days_late {
        0 => format!("to {member}{due}"),
        1 => format!("to {member}{due}, 1 day late"),
        late => format!("to {member}{due}, {late} days late"),
    }
}

fn rows(rows: &[WhereRow]) -> Table {
    let columns = [
        "component",
        "part",
        "batch",
        "state",
        "model",
        "inside",
        "path",
        "position_kind",
        "location",
        "lent_to",
        "due_back_on",
        "days_late",
    ];
    let mut table = Table::new(columns.map(left));
    for row in rows {
        table.push([
            Cell::plain(row.component.as_str()),
            Cell::plain(row.part.as_str()),
            Cell::maybe(row.batch.as_ref()),
            Cell::of(row.state),
            Cell::maybe(row.model.as_ref()),
            Cell::maybe(row.inside.as_ref()),
            Cell::maybe(row.path.as_ref()),
            Cell::maybe(row.position_kind.as_ref()),
            Cell::maybe(row.location.as_ref()),
            Cell::maybe(row.lent_to.as_ref()),
            Cell::maybe(row.due_back_on),
            Cell::of(row.days_late),
        ]);
    }
    table
}
