//! `preen man`: manual pages, from the same definitions as the help.

use std::path::{Path, PathBuf};

use crate::args::command;
use crate::failure::Failure;
use crate::output::{Block, Reply};

/// Which page, or all of them.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The command that the page is about, such as `flights add`; none: the program
    #[arg(value_name = "COMMAND", conflicts_with = "to")]
    path: Vec<String>,
    /// Write the page of every command into a folder that is there
    #[arg(long, value_name = "FOLDER")]
    to: Option<PathBuf>,
}

/// Prints a page, or writes all of them.
pub fn run(args: &Args) -> Result<Reply, Failure> {
    match &args.to {
        Some(folder) => write_all(folder),
        None => print_one(&args.path),
    }
}

fn print_one(path: &[String]) -> Result<Reply, Failure> {
    let mut whole = command();
    // Each command learns from the ones above it what its options are and what it is called.
    whole.build();
    let mut wanted = &whole;
    for name in path {
        wanted = wanted.find_subcommand(name).ok_or_else(|| {
            Failure::bad_input(format!("There is no command `{}`; `preen help` lists them.", path.join(" ")))
        })?;
    }
    let name = std::iter::once("preen").chain(path.iter().map(String::as_str)).collect::<Vec<_>>().join("-");
    let mut page = Vec::new();
    clap_mangen::Man::new(wanted.clone().display_name(name))
        .render(&mut page)
        .map_err(|error| Failure::bad_input(format!("The page cannot be set: {error}.")))?;
    let page = String::from_utf8(page)
        .map_err(|error| Failure::bad_input(format!("The page is no text: {error}.")))?;
    Ok(Reply {
        json: serde_json::json!(page).to_string(),
        blocks: vec![Block::Verbatim(page)],
        ..Reply::default()
    })
}

fn write_all(folder: &Path) -> Result<Reply, Failure> {
    clap_mangen::generate_to(command(), folder).map_err(|error| {
        Failure::bad_input(format!("The pages cannot be written into {}: {error}.", folder.display()))
    })?;
    let said = format!("The pages are in {}.\n", folder.display());
    Ok(Reply {
        json: serde_json::json!({ "folder": folder.display().to_string() }).to_string(),
        blocks: vec![Block::Verbatim(said)],
        ..Reply::default()
    })
}
