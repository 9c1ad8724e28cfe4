//! `preen photo`: sends a picture, and records the photo that shows it.

use std::path::PathBuf;

use preen_domain::facts::Noun;
use serde_json::{Map, Value, json};

use super::Session;
use super::record::{Draft, record};
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The photo.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The picture: JPEG, PNG or WebP, 10 MiB at most
    file: PathBuf,
    /// The model it shows
    #[arg(required_unless_present = "on", conflicts_with = "on")]
    model: Option<String>,
    /// The part it shows instead
    #[arg(long, value_name = "PART")]
    on: Option<String>,
    /// The defect it shows
    #[arg(long)]
    defect: Option<String>,
    /// The repair it shows
    #[arg(long)]
    repair: Option<String>,
    /// The check at which it was taken
    #[arg(long, value_name = "CHECK")]
    check: Option<String>,
    /// What is to be seen
    #[arg(long)]
    text: Option<String>,
    #[command(flatten)]
    when: When,
    /// Who took it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
}

/// Sends picture and photo.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let unreadable = |error: std::io::Error| {
        Failure::bad_input(format!("{} cannot be read: {error}.", args.file.display()))
    };
    let picture = std::fs::read(&args.file).map_err(unreadable)?;
    let at = args.when.moment(&session.client)?;
    let kept: Map<String, Value> =
        session.client.upload(&[Noun::Photos.as_str(), "files"], picture)?.read()?;
    let (subject, on) = match (&args.on, &args.model) {
        (Some(part), _) => (json!({ "component": part }), part.as_str()),
        (None, model) => (json!({ "model": model }), model.as_deref().unwrap_or_default()),
    };
    let mut draft = Draft::new(session);
    draft.0.extend(kept);
    let draft = draft
        .with("subject", subject)
        .with("occurred_at", json!(at))
        .maybe("defect", args.defect.clone())
        .maybe("repair", args.repair.clone())
        .maybe("inspection", args.check.clone())
        .maybe("text", args.text.clone())
        .maybe("taken_by", args.by.clone());
    record(session, Noun::Photos, draft, &format!("a photo of {on}"))
}
