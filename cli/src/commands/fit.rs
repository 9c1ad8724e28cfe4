//! `preen fit`: puts a part into an empty position.

use preen_domain::facts::Noun;
use serde_json::{Value, json};

use super::Session;
use super::exchange::{Preview, send};
use super::record::Draft;
use super::subject::Subject;
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// What goes where.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The part
    part: String,
    /// What it goes into: a model, or a panel or fuselage
    inside: String,
    /// The position within that, such as W.R in a model or FS.L in a panel
    position: String,
    #[command(flatten)]
    preview: Preview,
    #[command(flatten)]
    when: When,
    /// Who did it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// Anything else worth knowing
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Plans or does it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let part = session.client.name(Noun::Components, &args.part)?.to_owned();
    let inside = Subject::find(session, &args.inside)?;
    if let Some(by) = &args.by {
        session.client.mention(Noun::Members, by);
    }
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("inside", inside.json())
        .with("position", args.position.as_str())
        .with("occurred_at", json!(at))
        .maybe("fitted_by", args.by.clone())
        .maybe("note", args.note.clone());
    let what = format!("{part} into {} {}", inside.name(), args.position);
    send(session, &[Noun::Components.as_str(), &part, "fit"], args.preview, &Value::Object(draft.0), &what)
}
