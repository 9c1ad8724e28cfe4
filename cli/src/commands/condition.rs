//! `preen condition`: changes the kept state of a part, or the shelf it is kept on.

use preen_domain::facts::Noun;
use preen_domain::words::ComponentState;
use serde_json::json;

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The change.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The part
    part: String,
    /// State from then on: new_untested, serviceable, held, unserviceable, in_repair, scrapped
    state: ComponentState,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Shelf, bench or case from then on [default: unchanged]
    #[arg(long, value_name = "TEXT")]
    location: Option<String>,
    #[command(flatten)]
    when: When,
}

/// Records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("component", args.part.as_str())
        .with("occurred_at", json!(at))
        .with("state", json!(args.state))
        .with("reason", args.reason.as_str())
        .maybe("location", args.location.clone());
    let mut reply = record(session, Noun::Conditions, draft, &format!("{} is {}", args.part, args.state))?;
    reply.hint(format!("`preen where {}` says where it is.", args.part));
    Ok(reply)
}
