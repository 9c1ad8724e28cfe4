//! `preen changes`: what reads differently since somebody last looked, and which entries did it.

use preen_domain::answers::{Answer, AnswerChange, ChangedBy, Changes, ModelChange};
use preen_domain::words::State;

use super::{Session, frame_line};
use crate::args::{Asked, Coming};
use crate::failure::Failure;
use crate::moments::show_short;
use crate::output::{Block, Cell, Reply, Table, left, right};
use crate::seen;

/// Entries that came in later than this after what they tell are called late, s.
const LATE_S: i64 = 86_400;
/// Answers told at most, unless all are asked for.
const ANSWERS: usize = 30;

/// Since when.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Since this revision [default: the one at the last look from this account]
    #[arg(long, value_name = "NUMBER")]
    since: Option<i64>,
    /// Do not remember this look: the next one tells the same again
    #[arg(long)]
    keep: bool,
    /// Tell all answers that read differently, however many
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    coming: Coming,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let url = session.client.service();
    let (club, newest) = {
        let said = session.client.club()?;
        (format!("{} {}", said.club, said.member), said.revision)
    };
    let last = seen::last(&session.io.env, &url, &club).filter(|last| *last <= newest);
    let is_first_look = args.since.is_none() && last.is_none();
    let since = args.since.or(last).unwrap_or(newest);
    let mut query = args.coming.query(&session.client)?;
    query.extend(args.asked.query(&session.client)?);
    query.push(("since", since.to_string()));
    let received = session.client.get(&["changes"], &query)?;
    let answer: Answer<Changes> = received.read()?;
    if !args.keep && args.asked.at_revision.is_none() {
        seen::remember(&session.io.env, &url, &club, answer.revision)?;
    }
    let mut reply = Reply { json: received.text, ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let zone = session.client.zone()?;
    let frame = frame_line(&answer, zone);
    let changes = &answer.answer;
    reply.line(format!(
        "Since revision {since}: {}, {} differently · {frame}",
        count(changes.facts.len(), "entry", "entries"),
        match changes.models.len() {
            1 => "1 model stands".to_owned(),
            models => format!("{models} models stand"),
        },
    ));
    if is_first_look {
        reply.line("This is the first look: the next one tells what changed since now.");
        reply.hint("`preen changes --since 0` tells everything from the beginning.");
    }
    for model in &changes.models {
        reply.line("");
        tell_model(&mut reply, model, &changes.facts);
    }
    let told = if args.all { changes.answers.len() } else { changes.answers.len().min(ANSWERS) };
    let answers: Vec<&AnswerChange> = changes.answers.iter().take(told).collect();
    if !answers.is_empty() {
        reply.line("");
        reply.blocks.push(Block::Table(answer_table(&answers)));
    }
    if told < changes.answers.len() {
        reply.line(format!("{} more read differently (--all tells them).", changes.answers.len() - told));
    }
    if !changes.facts.is_empty() {
        reply.line("");
        reply.blocks.push(Block::Table(fact_table(&changes.facts, zone)));
    }
    reply.csv = csv(changes);
    Ok(reply)
}

fn count(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

fn state(state: Option<State>) -> String {
    state.map_or_else(|| "not in the fleet".to_owned(), |state| state.as_str().replace('_', " "))
}

fn tell_model(reply: &mut Reply, model: &ModelChange, facts: &[ChangedBy]) {
    let most = |flights: Option<i64>| flights.map(|most| format!(", max {most}")).unwrap_or_default();
    let was = format!("{}{}", state(model.state_before), most(model.max_flights_before));
    let is = format!("{}{}", state(model.state_after), most(model.max_flights_after));
    reply.line(if was == is {
        format!("{}: {is} as before, for other reasons", model.model)
    } else {
        format!("{}: was {was}; is {is}", model.model)
    });
    for reason in &model.reasons_new {
        reply.line(format!("  now   {}: {}", reason.severity, reason.text));
    }
    for reason in &model.reasons_gone {
        reply.line(format!("  gone  {}: {}", reason.severity, reason.text));
    }
    for fact in facts.iter().filter(|fact| model.by_revisions.contains(&fact.revision)) {
        reply.line(format!("  by    revision {}: {}{}", fact.revision, fact.text, late(fact)));
    }
}

/// How late an entry came, if it did.
fn late(fact: &ChangedBy) -> String {
    match fact.entered_after_s {
        Some(after) if after >= LATE_S => {
            format!(", entered {} after", count_days(after / 86_400))
        }
        _ => String::new(),
    }
}

fn count_days(days: i64) -> String {
    format!("{days} {}", if days == 1 { "day" } else { "days" })
}

fn revisions(list: &[i64]) -> String {
    list.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

fn answer_table(answers: &[&AnswerChange]) -> Table {
    let mut table = Table::new(["answer", "about", "before", "now", "by revision"].map(left));
    for change in answers {
        table.push([
            Cell::of(change.answer),
            Cell::plain(change.subject.as_str()),
            Cell::maybe(change.before.as_ref()),
            Cell::maybe(change.after.as_ref()),
            Cell::plain(revisions(&change.by_revisions)),
        ]);
    }
    table
}

fn fact_table(facts: &[ChangedBy], zone: chrono_tz::Tz) -> Table {
    let mut table =
        Table::new([right("revision"), left("happened"), left("entered"), left("by"), left("what")]);
    for fact in facts {
        table.push([
            Cell::of(fact.revision),
            Cell::maybe(fact.occurred_at.map(|at| show_short(at, zone))),
            Cell::plain(format!("{}{}", show_short(fact.recorded_at, zone), late(fact))),
            Cell::plain(fact.recorded_by.as_str()),
            Cell::plain(fact.text.as_str()),
        ]);
    }
    table
}

/// One row for each answer that reads differently, states of models among them.
fn csv(changes: &Changes) -> Table {
    let mut table = Table::new(["answer", "about", "before", "now", "by_revisions"].map(left));
    for model in &changes.models {
        table.push([
            Cell::plain("may-fly"),
            Cell::plain(model.model.as_str()),
            Cell::plain(state(model.state_before)),
            Cell::plain(state(model.state_after)),
            Cell::plain(revisions(&model.by_revisions)),
        ]);
    }
    for change in &changes.answers {
        table.push([
            Cell::of(change.answer),
            Cell::plain(change.subject.as_str()),
            Cell::maybe(change.before.as_ref()),
            Cell::maybe(change.after.as_ref()),
            Cell::plain(revisions(&change.by_revisions)),
        ]);
    }
    table
}
