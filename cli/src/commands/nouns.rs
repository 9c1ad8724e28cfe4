//! `preen NOUN list|show|add|correct|fields`: the same for every noun of the record.

use std::io::Read;

use clap::Subcommand;
use preen_domain::facts::Noun;
use serde_json::{Map, Value, json};

use super::record::{self, mention};
use super::{Session, show};
use crate::Io;
use crate::failure::Failure;
use crate::fields::{Field, assign, fields_of, missing};
use crate::output::{Cell, Reply, Table, left};

/// What can be done with a noun.
#[derive(Debug, Subcommand)]
pub enum NounCommand {
    /// List what is on record
    List(ListArgs),
    /// Show one by its tag or id
    Show(ShowArgs),
    /// Add one, from FIELD=VALUE pairs or from a file
    Add(AddArgs),
    /// Correct one: the original stays on record, with who corrected it and why
    Correct(CorrectArgs),
    /// List the fields and what they mean
    Fields,
}

/// What can be done with a noun that only comes about by other commands.
#[derive(Debug, Subcommand)]
pub enum ReadCommand {
    /// List what is on record
    List(ListArgs),
    /// Show one by its id
    Show(ShowArgs),
    /// List the fields and what they mean
    Fields,
}

/// Which ones to list.
#[derive(Debug, Clone, clap::Args)]
pub struct ListArgs {
    /// Only those whose field has this value, such as model=SG-01
    #[arg(value_name = "FIELD=VALUE")]
    pub filters: Vec<String>,
    /// Only what happened at or after this time or day
    #[arg(long, value_name = "TIME")]
    pub from: Option<String>,
    /// Only what happened before this time, or by the end of this day
    #[arg(long, value_name = "TIME")]
    pub to: Option<String>,
    /// Oldest first [default: newest first for what happened, oldest first for what exists]
    #[arg(long)]
    pub oldest: bool,
    /// Rows at most
    #[arg(long, value_name = "NUMBER", default_value_t = 100, value_parser = clap::value_parser!(u32).range(1..))]
    pub limit: u32,
    /// All rows, however many
    #[arg(long, conflicts_with = "limit")]
    pub all: bool,
}

/// Which one to show.
#[derive(Debug, Clone, clap::Args)]
pub struct ShowArgs {
    /// Tag or id
    pub name: String,
    /// As it stood at that revision of the record, before it was corrected [default: now]
    #[arg(long, value_name = "NUMBER")]
    pub at_revision: Option<u64>,
}

/// What to add.
#[derive(Debug, Clone, clap::Args)]
pub struct AddArgs {
    /// Fields of the new one, such as model=SG-01; `preen NOUN fields` lists them
    #[arg(value_name = "FIELD=VALUE")]
    pub fields: Vec<String>,
    /// A file with one as JSON, or with a list of them; `-` is the input
    #[arg(long, value_name = "FILE")]
    pub file: Option<String>,
}

/// What to correct.
#[derive(Debug, Clone, clap::Args)]
pub struct CorrectArgs {
    /// Tag or id of the original
    pub name: String,
    /// Fields with their right values; the others stay as they are
    #[arg(value_name = "FIELD=VALUE")]
    pub fields: Vec<String>,
    /// Why; needed for everything that happened
    #[arg(long, value_name = "TEXT")]
    pub reason: Option<String>,
    /// It never happened
    #[arg(long, conflicts_with_all = ["fields", "file"])]
    pub void: bool,
    /// A file with the whole corrected one as JSON; `-` is the input
    #[arg(long, value_name = "FILE")]
    pub file: Option<String>,
}

/// Does it.
pub fn run(noun: Noun, command: &NounCommand, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    match command {
        NounCommand::List(args) => show::list(noun, args, session),
        NounCommand::Show(args) => show::one(noun, args, session),
        NounCommand::Add(args) => add(noun, args, session),
        NounCommand::Correct(args) => correct(noun, args, session),
        NounCommand::Fields => Ok(fields(noun)),
    }
}

/// Reads it.
pub fn read_only(noun: Noun, command: &ReadCommand, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    match command {
        ReadCommand::List(args) => show::list(noun, args, session),
        ReadCommand::Show(args) => show::one(noun, args, session),
        ReadCommand::Fields => Ok(fields(noun)),
    }
}

fn add(noun: Noun, args: &AddArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut facts = match &args.file {
        Some(file) => read_facts(session, file)?,
        None if args.fields.is_empty() => {
            return Err(Failure::bad_input("Nothing to add was given.")
                .hint(format!("Give FIELD=VALUE pairs or --file; `preen {noun} fields` lists the fields.")));
        }
        None => vec![Map::new()],
    };
    for fact in &mut facts {
        for pair in &args.fields {
            assign(&session.client, noun, fact, pair)?;
        }
        if !fact.contains_key("id") {
            fact.insert("id".to_owned(), Value::String(session.new_id()));
        }
    }
    if args.file.is_none() {
        fill_moment(noun, &mut facts, session)?;
        check_needed(noun, &facts)?;
    }
    let count = facts.len();
    let mut last = None;
    for (index, fact) in facts.into_iter().enumerate() {
        match record::send(session, noun, fact) {
            Ok(received) => last = Some(received),
            Err(mut failure) if count > 1 => {
                failure.text = format!("Number {} of {count}: {}", index + 1, failure.text);
                return Err(failure.hint(format!("{index} before it are on record.")));
            }
            Err(failure) => return Err(failure),
        }
    }
    let last = last.ok_or_else(|| Failure::bad_input("The file holds an empty list."))?;
    let what = if count == 1 { "1".to_owned() } else { format!("{count}, the last one is") };
    record::reply(noun, &last, &what)
}

/// What happened without a time happened now.
fn fill_moment(
    noun: Noun,
    facts: &mut [Map<String, Value>],
    session: &Session<'_, '_>,
) -> Result<(), Failure> {
    for fact in facts {
        if has_moment(noun) && !fact.contains_key("occurred_at") {
            fact.insert("occurred_at".to_owned(), json!(session.client.now()?));
        }
    }
    Ok(())
}

fn check_needed(noun: Noun, facts: &[Map<String, Value>]) -> Result<(), Failure> {
    let Some(fact) = facts.first() else { return Ok(()) };
    let missing = missing(noun, fact);
    if missing.is_empty() {
        return Ok(());
    }
    let details = missing
        .iter()
        .map(|field| {
            let text = field.text.lines().next().unwrap_or_default();
            format!("{} ({}): {text}", field.name, holds(noun, field))
        })
        .collect();
    Err(Failure::bad_input("Fields are missing:").details(details))
}

/// Whether facts of a noun have a moment at which they happened.
pub fn has_moment(noun: Noun) -> bool {
    fields_of(noun).iter().any(|field| field.name == "occurred_at")
}

fn read_facts(session: &mut Session<'_, '_>, file: &str) -> Result<Vec<Map<String, Value>>, Failure> {
    let text = read_text(session.io, file)?;
    let json: Value = serde_json::from_str(&text)
        .map_err(|error| Failure::bad_input(format!("{file} is not JSON: {error}.")))?;
    let list = match json {
        Value::Array(list) => list,
        one => vec![one],
    };
    list.into_iter()
        .map(|one| match one {
            Value::Object(fact) => Ok(fact),
            _ => Err(Failure::bad_input(format!("{file} holds something that is not a JSON object."))),
        })
        .collect()
}

/// The text of a file, or of the input for `-`.
pub fn read_text(io: &mut Io<'_>, file: &str) -> Result<String, Failure> {
    let mut text = String::new();
    let read = if file == "-" {
        io.stdin.read_to_string(&mut text).map(drop)
    } else {
        std::fs::File::open(file).and_then(|mut open| open.read_to_string(&mut text)).map(drop)
    };
    read.map_err(|error| Failure::bad_input(format!("{file} cannot be read: {error}.")))?;
    Ok(text)
}

fn correct(noun: Noun, args: &CorrectArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let name = session.client.name(noun, &args.name)?.to_owned();
    let original = session.client.get(&[noun.as_str(), &name], &[])?;
    let etag = original.etag.clone().unwrap_or_default();
    let mut fact: Map<String, Value> = match &args.file {
        Some(file) => read_facts(session, file)?
            .into_iter()
            .next()
            .ok_or_else(|| Failure::bad_input("The file holds an empty list."))?,
        None => original.read()?,
    };
    for stamp in ["recorded_at", "recorded_by", "revision"] {
        fact.remove(stamp);
    }
    if !args.void && args.file.is_none() && args.fields.is_empty() {
        return Err(Failure::bad_input("Nothing to correct was given.")
            .hint("Give FIELD=VALUE pairs with the right values, --file, or --void if it never happened."));
    }
    for pair in &args.fields {
        assign(&session.client, noun, &mut fact, pair)?;
    }
    let body = Value::Object(fact);
    mention(&session.client, noun, &body);
    if noun.is_master_data() {
        if args.void {
            return Err(Failure::bad_input(format!("The {noun} are not events: there is nothing to void."))
                .hint("Give the right values instead."));
        }
        let received = session.client.put(&[noun.as_str(), &name], &etag, &body)?;
        return record::reply(noun, &received, "a new version");
    }
    let reason = args.reason.as_ref().ok_or_else(|| {
        Failure::bad_input("A correction needs a reason.").hint("Say why with --reason TEXT.")
    })?;
    let id = session.new_id();
    let correction = if args.void {
        json!({ "id": id, "reason": reason, "is_void": true })
    } else {
        json!({ "id": id, "reason": reason, "fact": body })
    };
    let received = session.client.post(&[noun.as_str(), &name, "correction"], &[], &correction)?;
    record::reply(Noun::Corrections, &received, &format!("{noun} {name} is corrected; the original stays"))
}

/// What a field holds, in words.
fn holds(noun: Noun, field: &Field) -> String {
    let pointer = format!("/{}", field.name);
    match noun.references().iter().find(|(known, _)| *known == pointer) {
        Some((_, target)) => format!("tag or id ({target})"),
        None => field.kind.say(),
    }
}

/// The fields of a noun.
fn fields(noun: Noun) -> Reply {
    let mut table = Table::new(["field", "needed", "holds", "means"].map(left));
    let mut json = Vec::new();
    for field in fields_of(noun) {
        let holds = holds(noun, &field);
        let text = field.text.replace('\n', " ");
        json.push(
            json!({ "field": field.name, "is_needed": field.is_needed, "holds": holds, "means": text }),
        );
        let needed = if field.is_needed { "needed" } else { "" };
        table.push([Cell::plain(field.name), Cell::plain(needed), Cell::plain(holds), Cell::plain(text)]);
    }
    let mut reply = Reply::of_table(Value::Array(json).to_string(), table);
    reply.hint(
        "`id` is made for you; inner fields are written with a dot, as in subject.component=SV08-B011.",
    );
    reply
}
