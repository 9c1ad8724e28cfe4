//! `preen remove`: takes a part out of its position.

use preen_domain::facts::Noun;
use preen_domain::words::RemovalReason;
use serde_json::{Value, json};

use super::Session;
use super::exchange::{Preview, send};
use super::record::Draft;
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// What comes off, and why.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The part
    part: String,
    /// Why: failed, over_limit, suspected, preventive, borrowed, upgrade
    #[arg(long, value_name = "REASON")]
    reason: RemovalReason,
    #[command(flatten)]
    preview: Preview,
    #[command(flatten)]
    when: When,
    /// Who did it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// Why, in words
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Plans or does it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let part = session.client.name(Noun::Components, &args.part)?.to_owned();
    if let Some(by) = &args.by {
        session.client.mention(Noun::Members, by);
    }
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("occurred_at", json!(at))
        .with("reason", json!(args.reason))
        .maybe("removed_by", args.by.clone())
        .maybe("note", args.note.clone());
    let what = format!("{part} comes off");
    send(session, &[Noun::Components.as_str(), &part, "remove"], args.preview, &Value::Object(draft.0), &what)
}
