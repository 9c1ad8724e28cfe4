//! `preen spares`: what spares a team should take, by the club's record; or kinds from a file, on the bench.

use preen_domain::answers::compute::{SparesAdvice, SparesQuestion, compute_spares};
use preen_domain::answers::{Answer, TeamSpares};
use preen_domain::facts::Noun;

use super::{Session, bench, frame_line};
use crate::Io;
use crate::args::Asked;
use crate::failure::Failure;
use crate::output::{Block, Cell, Column, Reply, Table, left, right};

/// Whose spares, for how many flights.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "As in: preen spares \"Reedbed\" or preen spares --models SG-01,SG-05 --flights 20\nOn the bench: preen \
                        spares --from kinds.json, with {\"kinds\": [{\"kind\": \"flap servo\", \"exposure\": 100, \"mtbf\": 209.5, \
                        \"in_stock\": 1}]}\nExit code 1: something is short."
)]
pub struct Args {
    /// The contest: every model first flown in its entries, training and every round that may be flown
    #[arg(required_unless_present_any = ["models", "from"], conflicts_with = "from")]
    contest: Option<String>,
    /// These models
    #[arg(long, value_name = "MODEL,…", value_delimiter = ',', conflicts_with = "from")]
    models: Vec<String>,
    /// Flights of each model
    #[arg(long, value_name = "COUNT", conflicts_with = "from")]
    flights: Option<u32>,
    /// The chance of being enough that is wanted of each kind [default: 0.95]
    #[arg(long, value_name = "SHARE", conflicts_with = "from")]
    target: Option<f64>,
    /// Kinds with exposure and rate as JSON, as the service takes them; `-` is the input. Needs no service
    #[arg(long, value_name = "FILE")]
    from: Option<String>,
    #[command(flatten)]
    asked: Asked,
}

/// Whether the kinds come from a file.
pub const fn is_bench(args: &Args) -> bool {
    args.from.is_some()
}

/// Computes from a file, without a service.
pub fn on_bench(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question: SparesQuestion = bench::read_question(io, args.from.as_deref().unwrap_or("-"))?;
    let (answer, json) = bench::compute(&question, compute_spares)?;
    let mut reply = Reply { json, ..Reply::default() };
    let mut table = Table::new(columns());
    for kind in &answer.kinds {
        table.push(row(kind.kind.as_str(), kind));
    }
    reply.csv = table.clone();
    reply.blocks.push(Block::Table(table));
    tell(
        &mut reply,
        answer.kinds.iter(),
        answer.target,
        answer.enough_of_all,
        &answer.packing,
        &answer.assumptions,
        &answer.method,
    );
    Ok(reply)
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let client = &session.client;
    let mut query = args.asked.query(client)?;
    if let Some(contest) = &args.contest {
        query.push(("contest", client.name(Noun::Contests, contest)?.to_owned()));
    }
    if !args.models.is_empty() {
        let names = args.models.iter().map(|model| client.name(Noun::Models, model));
        query.push(("models", names.collect::<Result<Vec<_>, _>>()?.join(",")));
    }
    query.extend(args.flights.map(|flights| ("flights", flights.to_string())));
    query.extend(args.target.map(|target| ("target", target.to_string())));
    let received = client.get(&["spares"], &query)?;
    let answer: Answer<TeamSpares> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if session.is_json {
        reply.code = code(answer.answer.kinds.iter().map(|kind| &kind.advice));
        return Ok(reply);
    }
    let spares = &answer.answer;
    reply.line(format!("Spares for {}, {} flights each", spares.models.join(", "), spares.flights));
    reply.line(frame_line(&answer, session.client.zone()?));
    reply.line("");
    let mut table = Table::new(columns());
    for kind in &spares.kinds {
        table.push(row(&kind.advice.kind, &kind.advice));
    }
    reply.csv = table.clone();
    reply.blocks.push(Block::Table(table));
    for kind in &spares.kinds {
        if kind.advice.to_take > 0 && !kind.usable.is_empty() {
            let needed = match kind.needed_before_count {
                0 => String::new(),
                count => format!("; {count} of these are needed for open campaigns"),
            };
            reply.line(format!("{}: {}{needed}", kind.advice.kind, kind.usable.join(", ")));
        }
        for refused in kind.not_usable.iter().filter(|_| kind.advice.to_take > 0) {
            reply.line(format!("{}: not {}: {}", kind.advice.kind, refused.component, refused.why));
        }
    }
    tell(
        &mut reply,
        spares.kinds.iter().map(|kind| &kind.advice),
        spares.target,
        spares.enough_of_all,
        &spares.packing,
        &spares.assumptions,
        &spares.method,
    );
    Ok(reply)
}

fn code<'a>(kinds: impl Iterator<Item = &'a SparesAdvice>) -> u8 {
    u8::from(kinds.filter_map(|kind| kind.short).any(|short| short > 0))
}

fn columns() -> [Column; 8] {
    [
        left("kind"),
        right("exposure"),
        right("expected"),
        right("take"),
        right("at hand"),
        right("short"),
        right("sure %"),
        left("enough with 0, 1, 2 …"),
    ]
}

fn row(name: &str, kind: &SparesAdvice) -> [Cell; 8] {
    let cover: Vec<String> = kind.cover.iter().take(6).map(|row| format!("{:.3}", row.probability)).collect();
    [
        Cell::plain(name),
        Cell::number(kind.exposure, 0),
        Cell::number(kind.mean, 3),
        Cell::of(kind.to_take),
        Cell::maybe(kind.in_stock),
        Cell::maybe(kind.short),
        Cell::number(100.0 * kind.enough_with_stock, 1),
        Cell::plain(cover.join(" / ")),
    ]
}

fn tell<'a>(
    reply: &mut Reply,
    kinds: impl Iterator<Item = &'a SparesAdvice>,
    target: f64,
    enough_of_all: f64,
    packing: &[String],
    assumptions: &[String],
    method: &str,
) {
    reply.code = code(kinds);
    reply.line("");
    reply.line(format!(
        "Wanted {:.1} % for each kind; all of them together are enough with {:.1} %.",
        100.0 * target,
        100.0 * enough_of_all
    ));
    if packing.is_empty() {
        reply.line("Nothing has to be packed for that.");
    } else {
        reply.line("Pack:");
        for line in packing {
            reply.line(format!("  [ ] {line}"));
        }
    }
    reply.line("");
    for assumption in assumptions {
        reply.line(format!("Assumed: {assumption}"));
    }
    reply.line(format!("Method: {method}."));
}
