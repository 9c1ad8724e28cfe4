//! `preen lend`: lends a part or a model to a member. The loan may lie ahead.

use chrono::NaiveDate;
use preen_domain::facts::Noun;
use preen_domain::time::day_of;
use serde_json::json;

use super::Session;
use super::record::{Draft, record};
use super::subject::Subject;
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The loan.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// What is lent: a part or a model
    item: String,
    /// To whom
    member: String,
    /// Last day
    #[arg(long, value_name = "DAY")]
    until: NaiveDate,
    /// First day [default: the day on which it is agreed]
    #[arg(long, value_name = "DAY")]
    from: Option<NaiveDate>,
    /// For which model a part is lent
    #[arg(long, value_name = "MODEL")]
    for_model: Option<String>,
    #[command(flatten)]
    when: When,
    /// Number in the club's own record
    #[arg(long)]
    tag: Option<String>,
    /// Anything else worth knowing
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let from = match args.from {
        Some(from) => from,
        None => day_of(at, session.client.zone()?),
    };
    let item = Subject::find(session, &args.item)?;
    let draft = Draft::new(session)
        .with("item", item.json())
        .with("lent_to", args.member.as_str())
        .with("occurred_at", json!(at))
        .with("from_on", json!(from))
        .with("due_back_on", json!(args.until))
        .maybe("for_model", args.for_model.clone())
        .maybe("tag", args.tag.clone())
        .maybe("note", args.note.clone());
    let what = format!("{} lent to {} from {from} to {}", item.name(), args.member, args.until);
    let mut reply = record(session, Noun::Loans, draft, &what)?;
    reply.hint("`preen return LOAN` records that it came back; `preen loans list` lists the loans.");
    Ok(reply)
}
