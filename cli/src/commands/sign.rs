//! `preen sign`: a second person, who did none of the work, signs the sheet of a repair.

use preen_domain::facts::Noun;
use serde_json::{Value, json};

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The look.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The repair
    repair: String,
    /// Steps of the sheet that the look was, as in 8
    #[arg(long, value_name = "NUMBERS", value_delimiter = ',')]
    done: Vec<u32>,
    #[command(flatten)]
    when: When,
    /// Who looked, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// What was seen
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let ticks: Vec<Value> =
        args.done.iter().map(|number| json!({ "number": number, "result": "done" })).collect();
    let draft = Draft::new(session)
        .with("repair", args.repair.as_str())
        .with("occurred_at", json!(at))
        .with("is_second_look", true)
        .with("steps", ticks)
        .maybe("done_by", args.by.clone())
        .maybe("note", args.note.clone());
    let what = format!("{} was looked at by a second person", args.repair);
    let mut reply = record(session, Noun::RepairSteps, draft, &what)?;
    reply.hint(format!("`preen repair show {}` says what still blocks the release.", args.repair));
    Ok(reply)
}
