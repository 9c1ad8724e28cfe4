//! `preen questions`: what could not be recorded and waits for a person, and its settling.

use clap::Subcommand;
use preen_domain::answers::{Answer, OpenQuestions, QuestionStanding};
use preen_domain::facts::Noun;
use serde_json::{Map, Value, json};

use super::nouns::{self, ListArgs, ReadCommand, ShowArgs, read_text};
use super::{Session, frame_line};
use crate::args::Asked;
use crate::failure::Failure;
use crate::fields::assign;
use crate::moments::show_short;
use crate::output::{Cell, Reply, Table, left};

/// Letters of an id that are shown and taken: its end, since ids made at one time begin alike.
const SHOWN: usize = 8;

/// What can be done with questions.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    asked: Asked,
}

/// What can be done with questions.
#[derive(Debug, Subcommand)]
enum Command {
    /// Settle one: record what was sent, put it right, or leave it out
    Settle(SettleArgs),
    /// List all that were ever asked
    List(ListArgs),
    /// Show one by its id
    Show(ShowArgs),
    /// List the fields and what they mean
    Fields,
}

/// How it is settled.
#[derive(Debug, Clone, clap::Args)]
struct SettleArgs {
    /// The question: its id, or the last letters of it
    question: String,
    /// Fields with their right values; the others are recorded as they were sent
    #[arg(value_name = "FIELD=VALUE")]
    fields: Vec<String>,
    /// How it was settled, or why it is left out
    #[arg(long, value_name = "TEXT")]
    text: String,
    /// Record it as it was sent, now that nothing stands against it
    #[arg(long, conflicts_with_all = ["fields", "file", "leave_out"])]
    as_sent: bool,
    /// Record nothing: it never happened, or stands on record already
    #[arg(long, conflicts_with_all = ["fields", "file"])]
    leave_out: bool,
    /// A file with the whole fact put right as JSON; `-` is the input
    #[arg(long, value_name = "FILE", conflicts_with = "fields")]
    file: Option<String>,
}

/// Asks and shows, or settles.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    match &args.command {
        None => open(args, session),
        Some(Command::Settle(settle_args)) => settle(settle_args, session),
        Some(Command::List(list)) => {
            nouns::read_only(Noun::Questions, &ReadCommand::List(list.clone()), session)
        }
        Some(Command::Show(show)) => {
            nouns::read_only(Noun::Questions, &ReadCommand::Show(show.clone()), session)
        }
        Some(Command::Fields) => nouns::read_only(Noun::Questions, &ReadCommand::Fields, session),
    }
}

fn open(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let query = args.asked.query(&session.client)?;
    let received = session.client.get(&["open-questions"], &query)?;
    let answer: Answer<OpenQuestions> = received.read()?;
    let questions = &answer.answer.questions;
    let mut reply = Reply { json: received.text, code: u8::from(!questions.is_empty()), ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let zone = session.client.zone()?;
    let frame = frame_line(&answer, zone);
    reply.line(match questions.len() {
        0 => format!("No question is open · {frame}"),
        1 => format!("1 question is open · {frame}"),
        many => format!("{many} questions are open · {frame}"),
    });
    for question in questions {
        reply.line("");
        reply.line(format!("{}  {}", short(question), question.text));
        reply.line(format!("  sent by {}, {}", question.sent_by, show_short(question.asked_at, zone)));
        for reason in &question.reasons {
            reply.line(format!("  refused: {}", at_field(&reason.pointer, &reason.text)));
        }
        if question.stands_against.is_empty() {
            reply.line("  now: nothing stands against it");
        }
        for reason in question.stands_against.iter().filter(|reason| !question.reasons.contains(reason)) {
            reply.line(format!("  now: {}", at_field(&reason.pointer, &reason.text)));
        }
    }
    if let Some(question) = questions.first() {
        let how = if question.stands_against.is_empty() { "--as-sent" } else { "--leave-out" };
        reply.hint(format!("`preen questions settle {} {how} --text WHY` settles it.", short(question)));
    }
    let mut csv = Table::new(["id", "noun", "text", "sent_by", "asked_at", "stands_against"].map(left));
    for question in questions {
        let against: Vec<&str> = question.stands_against.iter().map(|reason| reason.code.as_str()).collect();
        csv.push([
            Cell::plain(question.id.to_string()),
            Cell::plain(question.noun.as_str()),
            Cell::plain(question.text.as_str()),
            Cell::plain(question.sent_by.as_str()),
            Cell::plain(question.asked_at.to_string()),
            Cell::plain(against.join(" ")),
        ]);
    }
    reply.csv = csv;
    Ok(reply)
}

fn at_field(pointer: &str, text: &str) -> String {
    let field = pointer.trim_start_matches('/');
    if field.is_empty() { text.to_owned() } else { format!("{field}: {text}") }
}

fn short(question: &QuestionStanding) -> String {
    let id = question.id.to_string();
    id.chars().skip(id.chars().count().saturating_sub(SHOWN)).collect()
}

fn settle(args: &SettleArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let is_changed = !args.fields.is_empty() || args.file.is_some();
    if !args.as_sent && !args.leave_out && !is_changed {
        return Err(Failure::bad_input("How is it to be settled?").hint(
            "--as-sent records what was sent, FIELD=VALUE pairs or --file put it right, --leave-out records nothing.",
        ));
    }
    let id = find(&args.question, session)?;
    let mut body = json!({
        "id": session.new_id(), "occurred_at": session.client.now()?, "text": args.text,
        "record_as_sent": args.as_sent,
    });
    if is_changed {
        let question: Value = session.client.get(&["questions", &id], &[])?.read()?;
        let fact = match &args.file {
            Some(file) => {
                let text = read_text(session.io, file)?;
                serde_json::from_str(&text)
                    .map_err(|error| Failure::bad_input(format!("{file} is not JSON: {error}.")))?
            }
            None => put_right(&question, &args.fields, session)?,
        };
        body.as_object_mut().and_then(|body| body.insert("fact".to_owned(), fact));
    }
    let received = session.client.post(&["questions", &id, "settlement"], &[], &body)?;
    let settled: Value = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    let text = |pointer: &str| {
        settled
            .pointer(pointer)
            .map(|value| value.to_string().trim_matches('"').to_owned())
            .unwrap_or_default()
    };
    reply.line(if settled.get("recorded").is_none_or(Value::is_null) {
        format!("Settled: nothing is recorded for it (revision {}).", text("/settlement/revision"))
    } else {
        format!(
            "Settled: recorded as one of the {} ({}, revision {}).",
            text("/recorded/noun"),
            text("/recorded/id"),
            text("/recorded/revision")
        )
    });
    Ok(reply)
}

/// What was sent, with some of its fields put right.
fn put_right(question: &Value, fields: &[String], session: &Session<'_, '_>) -> Result<Value, Failure> {
    let noun: Noun =
        question.get("noun").and_then(Value::as_str).and_then(|noun| noun.parse().ok()).ok_or_else(|| {
            Failure::bad_input("The question is about a noun that this program does not know.")
        })?;
    let mut fact: Map<String, Value> =
        question.get("fact").and_then(Value::as_object).cloned().unwrap_or_default();
    for pair in fields {
        assign(&session.client, noun, &mut fact, pair)?;
    }
    Ok(Value::Object(fact))
}

/// The whole id of a question: as it was typed, or of the one open question that ends so.
fn find(typed: &str, session: &Session<'_, '_>) -> Result<String, Failure> {
    if uuid::Uuid::parse_str(typed).is_ok() {
        return Ok(typed.to_owned());
    }
    let open: Answer<OpenQuestions> = session.client.get(&["open-questions"], &[])?.read()?;
    let ending = typed.to_lowercase();
    let ids = open.answer.questions.iter().map(|question| question.id.to_string());
    let mut found = ids.filter(|id| id.ends_with(&ending));
    match (found.next(), found.next()) {
        (Some(id), None) => Ok(id),
        (None, _) => Err(Failure::bad_input(format!("No open question ends with `{typed}`."))
            .hint("`preen questions` lists the open ones.")),
        (Some(_), Some(_)) => Err(Failure::bad_input(format!(
            "Several open questions end with `{typed}`: give more of the id."
        ))),
    }
}
