//! `preen class-check`: does a model keep the limits of a contest class, in every combination and with every ballast.

use preen_domain::answers::{Answer, BallastStep, ClassCheck, ClassCombination, ClassRow};
use preen_domain::facts::Noun;
use preen_domain::formulas::class_limits::{ClassResult, LimitVerdict};

use super::{Session, frame_line};
use crate::args::Asked;
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, Tone, left, right};

/// Which model against which class.
#[derive(Debug, clap::Args)]
#[command(after_help = "Exit code: 2 outside a limit, 1 unconfirmed or not all known, 0 inside.")]
pub struct Args {
    /// The model
    model: String,
    /// The class, such as F5J [default: the one its design is built for]
    #[arg(long)]
    class: Option<String>,
    /// List every step of ballast
    #[arg(long)]
    ballast: bool,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.asked.query(&session.client)?;
    query.extend(args.class.clone().map(|class| ("class", class)));
    let model = session.client.name(Noun::Models, &args.model)?.to_owned();
    let received = session.client.get(&["models", &model, "class-check"], &query)?;
    let answer: Answer<ClassCheck> = received.read()?;
    let check = &answer.answer;
    let code = match check.result {
        ClassResult::Inside => 0,
        ClassResult::NotKnown | ClassResult::Unconfirmed => 1,
        ClassResult::Outside => 2,
    };
    let mut reply = Reply { json: received.text, code, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let frame = frame_line(&answer, session.client.zone()?);
    reply.line(format!("{} · {} {} · {frame}", check.model, check.class, check.title));
    reply.line(format!("{}: {}", check.result.as_str().replace('_', " "), check.text));
    reply.line(match (&check.confirmed_by, check.confirmed_on) {
        (Some(by), Some(on)) => format!("edition {}, confirmed by {by} on {on}", check.edition),
        _ => format!("edition {}, confirmed by nobody; source: {}", check.edition, check.source),
    });
    reply.line("");
    reply.blocks.push(Block::Table(limits(&check.as_fitted.rows)));
    if !check.combinations.is_empty() {
        reply.line("");
        reply.line("Combinations of interchangeable parts:");
        reply.blocks.push(Block::Table(combinations(&check.combinations)));
    }
    if args.ballast {
        reply.line("");
        reply.line("Steps of ballast:");
        reply.blocks.push(Block::Table(steps(&check.ballast)));
    } else if !check.ballast.is_empty() {
        reply.line("");
        reply.line(format!("{} steps of ballast (--ballast lists them).", check.ballast.len()));
    }
    reply.line("");
    for assumption in &check.assumptions {
        reply.line(format!("- {assumption}"));
    }
    if check.result == ClassResult::Unconfirmed {
        reply.hint("`preen classes add` enters the class as compared, with confirmed_by and confirmed_on.");
    }
    reply.csv = limits(&check.as_fitted.rows);
    Ok(reply)
}

fn verdict_cell(verdict: LimitVerdict) -> Cell {
    match verdict {
        LimitVerdict::Inside => Cell::toned("● inside", Tone::Good),
        LimitVerdict::WithinTolerance => Cell::toned("▲ within_tolerance", Tone::Caution),
        LimitVerdict::Outside => Cell::toned("■ outside", Tone::Bad),
        LimitVerdict::NotKnown => Cell::toned("□ not_known", Tone::Caution),
    }
}

fn number(value: Option<f64>) -> Cell {
    Cell::plain(value.map(|value| format!("{value:.2}")).unwrap_or_default())
}

fn limits(rows: &[ClassRow]) -> Table {
    let columns =
        [left("limit"), right("value"), right("min"), right("max"), left("stands"), left("value from")];
    let mut table = Table::new(columns);
    for row in rows {
        table.push([
            Cell::of(row.quantity),
            number(row.value),
            Cell::maybe(row.min),
            Cell::maybe(row.max),
            verdict_cell(row.verdict),
            Cell::plain(row.value_from.as_str()),
        ]);
    }
    table
}

fn combinations(list: &[ClassCombination]) -> Table {
    let columns = [
        left("parts"),
        right("g"),
        right("g/dm²"),
        right("CG mm"),
        left("CG"),
        left("stands"),
        right("most ballast g"),
        left("sets apart"),
    ];
    let mut table = Table::new(columns);
    for one in list {
        let seats: Vec<String> =
            one.seats.iter().map(|seat| format!("{} {}", seat.path, seat.component)).collect();
        let parts = if seats.is_empty() { "no choice of parts".to_owned() } else { seats.join(", ") };
        table.push([
            Cell::plain(if one.is_as_fitted { format!("{parts} (as fitted)") } else { parts }),
            Cell::plain(format!("{:.1}", one.mass_g)),
            number(one.loading_g_dm2),
            Cell::plain(format!("{:.1}", one.x_mm)),
            Cell::plain(if one.is_cg_inside { "inside" } else { "outside" }),
            verdict_cell(one.verdict),
            Cell::plain(format!("{:.1}", one.heaviest_ballast_g)),
            Cell::plain(one.sets_apart.join(", ")),
        ]);
    }
    table
}

fn steps(list: &[BallastStep]) -> Table {
    let columns = [
        left("slugs"),
        right("g"),
        right("g/dm²"),
        right("CG from"),
        right("CG to"),
        left("CG"),
        left("stands"),
    ];
    let mut table = Table::new(columns);
    for step in list {
        table.push([
            Cell::plain(step.slugs.as_str()),
            Cell::plain(format!("{:.1}", step.mass_g)),
            number(step.loading_g_dm2),
            Cell::plain(format!("{:.1}", step.x_from_mm)),
            Cell::plain(format!("{:.1}", step.x_to_mm)),
            Cell::plain(if step.is_cg_inside { "inside" } else { "outside" }),
            verdict_cell(step.verdict),
        ]);
    }
    table
}
