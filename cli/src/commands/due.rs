//! `preen due`: checks that are due or overdue, made for cron: the exit code says whether anything is.

use preen_domain::answers::{Answer, DueItem, DueList};
use preen_domain::facts::Noun;
use preen_domain::words::CheckState;

use super::{Session, frame_line};
use crate::args::{Asked, Coming};
use crate::failure::Failure;
use crate::moments::show_day;
use crate::output::{Block, Cell, Reply, Table, Tone, left};

/// Which checks, when.
#[derive(Debug, clap::Args)]
#[command(after_help = "Exit code: 2 if a check is overdue or was never done, 1 if one is due, 0 if not.")]
pub struct Args {
    /// Only this model
    #[arg(long)]
    model: Option<String>,
    /// Only this group, such as N25
    #[arg(long)]
    group: Option<String>,
    /// List checks that are clear, too
    #[arg(long)]
    all: bool,
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
    query.extend(args.group.clone().map(|group| ("group", group)));
    let received = session.client.get(&["due"], &query)?;
    let list: Answer<DueList> = received.read()?;
    let items = &list.answer.items;
    let mut reply = Reply { json: received.text, code: code(items), ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let frame = frame_line(&list, session.client.zone()?);
    reply.line(format!("{} · {frame}", show_day(list.answer.on)));
    let shown: Vec<&DueItem> =
        items.iter().filter(|item| args.all || item.state != CheckState::Clear).collect();
    if !shown.is_empty() {
        reply.line("");
        reply.blocks.push(Block::Table(table(&shown)));
    }
    let clear = items.iter().filter(|item| item.state == CheckState::Clear).count();
    reply.line("");
    reply.line(match (shown.is_empty(), args.all) {
        (true, _) => format!("Nothing is due; {clear} checks are clear."),
        (false, true) => format!("{clear} of {} checks are clear.", items.len()),
        (false, false) => format!("{clear} other checks are clear (--all lists them)."),
    });
    for item in &shown {
        for opened in &item.opened_by {
            reply.line(format!("{} {}: {}", item.model, item.group, opened.text));
        }
        if let (true, Some(note)) = (args.model.is_some(), &item.note) {
            reply.line(format!("{}: {note}", item.group));
        }
        if let (true, Some(method)) = (args.model.is_some() && args.group.is_some(), &item.forecast_method) {
            reply.line(format!("{} forecast: {method}", item.group));
        }
    }
    if let Some(item) = shown.iter().find(|item| item.state != CheckState::Clear) {
        reply.hint(format!(
            "`preen inspect {} {} --result pass` records it when it is done.",
            item.model, item.group
        ));
    }
    reply.csv = rows(&shown);
    Ok(reply)
}

fn code(items: &[DueItem]) -> u8 {
    items
        .iter()
        .map(|item| match item.state {
            CheckState::Clear => 0,
            CheckState::Due => 1,
            CheckState::Overdue | CheckState::NeverDone => 2,
        })
        .max()
        .unwrap_or(0)
}

fn state_cell(state: CheckState) -> Cell {
    match state {
        CheckState::Clear => Cell::toned("● clear", Tone::Good),
        CheckState::Due => Cell::toned("▲ due", Tone::Caution),
        CheckState::Overdue => Cell::toned("■ overdue", Tone::Bad),
        CheckState::NeverDone => Cell::toned("□ never_done", Tone::Bad),
    }
}

fn table(items: &[&DueItem]) -> Table {
    let columns = ["model", "group", "state", "by count", "by calendar", "forecast", "check"];
    let mut table = Table::new(columns.map(left));
    for item in items {
        table.push([
            Cell::plain(item.model.as_str()),
            Cell::plain(item.group.as_str()),
            state_cell(item.state),
            Cell::plain(by_count(item)),
            Cell::plain(by_calendar(item)),
            Cell::plain(forecast(item)),
            Cell::plain(item.name.as_str()),
        ]);
    }
    table
}

fn by_count(item: &DueItem) -> String {
    let (Some(now), Some(due)) = (item.now_at_count, item.due_at_count) else { return String::new() };
    let tolerance = item.tolerance_count.unwrap_or(0);
    let standing = match (item.count_over, item.count_left) {
        (Some(over), _) if over > 0 => format!("{over} over, tolerance {tolerance}"),
        (_, Some(left)) => format!("{left} left"),
        _ => String::new(),
    };
    format!("{now} of {due}: {standing}")
}

fn by_calendar(item: &DueItem) -> String {
    let Some(on) = item.due_on else { return String::new() };
    match (item.days_over, item.days_left) {
        (Some(over), _) if over > 0 => {
            format!("{on}: {over} d over, tolerance {}", item.tolerance_days.unwrap_or(0))
        }
        (_, Some(left)) => format!("{on}: {left} d left"),
        _ => on.to_string(),
    }
}

fn forecast(item: &DueItem) -> String {
    match (item.forecast_on, item.forecast_from, item.forecast_to) {
        (Some(on), Some(from), Some(to)) if from != to => format!("{on} ({from} to {to})"),
        (Some(on), _, _) => on.to_string(),
        (None, _, _) => String::new(),
    }
}

fn rows(items: &[&DueItem]) -> Table {
    let columns = [
        "model",
        "subject",
        "group",
        "state",
        "counter",
        "now_at_count",
        "due_at_count",
        "count_left",
        "count_over",
        "tolerance_count",
        "done_on",
        "due_on",
        "days_left",
        "days_over",
        "tolerance_days",
        "forecast_on",
        "forecast_from",
        "forecast_to",
    ];
    let mut table = Table::new(columns.map(left));
    for item in items {
        table.push([
            Cell::plain(item.model.as_str()),
            Cell::plain(item.subject.as_str()),
            Cell::plain(item.group.as_str()),
            Cell::of(item.state),
            Cell::maybe(item.counter),
            Cell::maybe(item.now_at_count),
            Cell::maybe(item.due_at_count),
            Cell::maybe(item.count_left),
            Cell::maybe(item.count_over),
            Cell::maybe(item.tolerance_count),
            Cell::maybe(item.done_on),
            Cell::maybe(item.due_on),
            Cell::maybe(item.days_left),
            Cell::maybe(item.days_over),
            Cell::maybe(item.tolerance_days),
            Cell::maybe(item.forecast_on),
            Cell::maybe(item.forecast_from),
            Cell::maybe(item.forecast_to),
        ]);
    }
    table
}
