//! `preen close`: closes a defect without a repair. A repair closes its defect by its release.

use preen_domain::facts::Noun;
use preen_domain::words::ClosureKind;
use serde_json::json;

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The closing.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The defect
    defect: String,
    /// On what ground: check_passed, found_wrong, part_scrapped
    kind: ClosureKind,
    /// What was seen
    text: String,
    /// The fresh reading that shows it was found wrong, by tag or id [default: any reading since it was found]
    #[arg(long, value_name = "READING")]
    measurement: Option<String>,
    #[command(flatten)]
    when: When,
    /// Who closed it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
}

/// Records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("defect", args.defect.as_str())
        .with("kind", json!(args.kind))
        .with("text", args.text.as_str())
        .with("occurred_at", json!(at))
        .maybe("measurement", args.measurement.clone())
        .maybe("closed_by", args.by.clone());
    record(session, Noun::Closures, draft, &format!("{} closed, {}", args.defect, args.kind))
}
