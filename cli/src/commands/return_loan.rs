//! `preen return`: records that a loan came back.

use preen_domain::facts::Noun;
use serde_json::json;

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The return.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The loan
    loan: String,
    #[command(flatten)]
    when: When,
    /// In what state it came back
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("loan", args.loan.as_str())
        .with("occurred_at", json!(at))
        .maybe("note", args.note.clone());
    record(session, Noun::LoanReturns, draft, &format!("{} came back", args.loan))
}
