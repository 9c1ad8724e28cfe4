//! `preen completions`: completions for a shell, from the same definitions as the help.

use crate::args::command;
use crate::failure::Failure;
use crate::output::{Block, Reply};

/// Which shell.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The shell
    #[arg(value_enum)]
    shell: clap_complete::Shell,
}

/// Writes the completions.
pub fn run(args: &Args) -> Result<Reply, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut command(), "preen", &mut script);
    let script = String::from_utf8(script)
        .map_err(|error| Failure::bad_input(format!("The completions are no text: {error}.")))?;
    Ok(Reply {
        json: serde_json::json!(script).to_string(),
        blocks: vec![Block::Verbatim(script)],
        ..Reply::default()
    })
}
