//! `preen rig`: logs that a model was assembled.

use preen_domain::facts::Noun;
use serde_json::json;

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The assembly.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The model
    model: String,
    /// Assemblies
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    cycles: u32,
    #[command(flatten)]
    when: When,
    /// Number in the club's own log
    #[arg(long)]
    tag: Option<String>,
    /// Anything else worth knowing
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Logs it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("model", args.model.as_str())
        .with("occurred_at", json!(at))
        .with("cycles", args.cycles)
        .maybe("tag", args.tag.clone())
        .maybe("note", args.note.clone());
    record(session, Noun::Riggings, draft, &format!("{} assembled", args.model))
}
