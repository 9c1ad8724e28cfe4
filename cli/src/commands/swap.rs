//! `preen swap`: exchanges parts of a model; one command, one change of the record, however many exchanges.

use preen_domain::facts::Noun;
use preen_domain::words::RemovalReason;
use serde_json::{Value, json};

use super::Session;
use super::exchange::{Preview, send};
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// What is exchanged for what.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Several exchanges at once: preen swap SG-05 W.C/FS.L SV08-C001 W.C/FS.R SV08-C002 --reason \
                        preventive"
)]
pub struct Args {
    /// The model
    model: String,
    /// Path of a position from the model down, such as W.C/FS.R, and the part that goes on there; pairs
    #[arg(value_names = ["PATH", "PART"], num_args = 2.., required = true)]
    exchanges: Vec<String>,
    /// Why the old part comes off: failed, over_limit, suspected, preventive, borrowed, upgrade
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
    let model = session.client.name(Noun::Models, &args.model)?.to_owned();
    let mut exchanges = Vec::new();
    let mut said = Vec::new();
    for pair in args.exchanges.chunks(2) {
        let [path, on] = pair else {
            return Err(Failure::bad_input("A path and a part belong together, and one is left over.")
                .hint("As in: preen swap SG-05 W.C/FS.L SV08-C001 --reason preventive"));
        };
        let on = session.client.name(Noun::Components, on)?.to_owned();
        said.push(format!("{on} into {path}"));
        let mut exchange = json!({
            "path": path,
            "on": on,
            "installation": session.new_id(),
            "removal": session.new_id(),
            "reason": args.reason,
        });
        if let (Some(exchange), Some(note)) = (exchange.as_object_mut(), &args.note) {
            exchange.insert("note".to_owned(), Value::String(note.clone()));
        }
        exchanges.push(exchange);
    }
    let mut body = json!({ "occurred_at": args.when.moment(&session.client)?, "exchanges": exchanges });
    if let (Some(body), Some(by)) = (body.as_object_mut(), &args.by) {
        body.insert("done_by".to_owned(), json!(session.client.name(Noun::Members, by)?));
    }
    let what = format!("{}: {}", args.model, said.join(", "));
    send(session, &[Noun::Models.as_str(), &model, "swap"], args.preview, &body, &what)
}
