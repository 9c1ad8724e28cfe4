//! `preen release`: a named person says fit after work. Club practice, nothing under law.

use preen_domain::facts::Noun;
use serde_json::json;

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The release.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The repair
    repair: String,
    /// Somebody who did not do the work and looked at it
    #[arg(long, value_name = "MEMBER")]
    second_person: Option<String>,
    #[command(flatten)]
    when: When,
    /// Who releases it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// Limits or remarks
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("repair", args.repair.as_str())
        .with("occurred_at", json!(at))
        .maybe("second_person", args.second_person.clone())
        .maybe("released_by", args.by.clone())
        .maybe("note", args.note.clone());
    let mut reply = record(session, Noun::Releases, draft, &format!("{} is released", args.repair))?;
    reply.hint("`preen may-fly MODEL` says where the model stands now.");
    Ok(reply)
}
