//! `preen usage`: flights, launches, time in the air, motor time and rigging cycles of a part or a model.

use preen_domain::answers::{Answer, ComponentUsage, ModelUsage, UsageSpan};
use preen_domain::facts::Noun;

use super::subject::Subject;
use super::{Session, frame_line};
use crate::args::Asked;
use crate::failure::Failure;
use crate::moments::show_short;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// Of what, when.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// A part or a model
    subject: String,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let query = args.asked.query(&session.client)?;
    match Subject::find(session, &args.subject)? {
        Subject::Model(name) => {
            let received = session.client.get(&[Noun::Models.as_str(), &name, "usage"], &query)?;
            let answer: Answer<ModelUsage> = received.read()?;
            let mut reply = Reply { json: received.text, ..Reply::default() };
            if !session.is_json {
                let frame = frame_line(&answer, session.client.zone()?);
                let usage = answer.answer;
                reply.line(format!("{} in all", usage.model));
                reply.line(frame);
                let (flights, launches) = (usage.flights, usage.launches);
                totals(&mut reply, flights, launches, usage.airtime_h, usage.motor_s, usage.riggings);
            }
            Ok(reply)
        }
        Subject::Component(name) => {
            let received = session.client.get(&[Noun::Components.as_str(), &name, "usage"], &query)?;
            let answer: Answer<ComponentUsage> = received.read()?;
            let mut reply = Reply { json: received.text, ..Reply::default() };
            if !session.is_json {
                show_component(&mut reply, answer, session)?;
            }
            Ok(reply)
        }
    }
}

fn show_component(
    reply: &mut Reply,
    answer: Answer<ComponentUsage>,
    session: &Session<'_, '_>,
) -> Result<(), Failure> {
    let zone = session.client.zone()?;
    let frame = frame_line(&answer, zone);
    let usage = answer.answer;
    reply.line(format!("{} in all models", usage.component));
    reply.line(frame);
    totals(reply, usage.flights, usage.launches, usage.airtime_h, usage.motor_s, usage.riggings);
    if let Some(before) = usage.opening {
        let guess = if before.is_estimate { ", a guess" } else { "" };
        reply.line(format!(
            "Before the record, not counted above: {} flights, {} launches, {:.1} h, {} motor s, {} riggings{guess}.",
            before.flights, before.launches, before.airtime_h, before.motor_s, before.riggings
        ));
    }
    let mut table = Table::new([
        left("model"),
        left("position"),
        left("from"),
        left("to"),
        right("flights"),
        right("launches"),
        right("airtime h"),
        right("motor s"),
        right("riggings"),
    ]);
    for span in &usage.spans {
        table.push(row(span, |at| show_short(at, zone)));
    }
    reply.csv = table.clone();
    if !usage.spans.is_empty() {
        reply.line("");
        reply.blocks.push(Block::Table(table));
    }
    Ok(())
}

fn row(span: &UsageSpan, show: impl Fn(preen_domain::time::Instant) -> String) -> [Cell; 9] {
    [
        Cell::plain(span.model.as_str()),
        Cell::plain(span.path.as_str()),
        Cell::plain(show(span.from)),
        Cell::plain(span.to.map_or_else(|| "now".to_owned(), show)),
        Cell::of(span.flights),
        Cell::of(span.launches),
        Cell::number(span.airtime_h, 1),
        Cell::of(span.motor_s),
        Cell::of(span.riggings),
    ]
}

fn totals(reply: &mut Reply, flights: u64, launches: u64, airtime_h: f64, motor_s: u64, riggings: u64) {
    let names = ["flights", "launches", "airtime h", "motor s", "riggings"];
    let cells = [
        Cell::of(flights),
        Cell::of(launches),
        Cell::number(airtime_h, 1),
        Cell::of(motor_s),
        Cell::of(riggings),
    ];
    reply.csv = Table::new(names.map(right));
    reply.csv.push(cells.clone());
    reply.line("");
    reply.blocks.push(Block::Fields(names.iter().map(|name| (*name).to_owned()).zip(cells).collect()));
}
