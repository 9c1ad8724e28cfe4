//! `preen export`: takes the record away as one file.

use std::fs;
use std::io::{Read, Write as _};
use std::path::{Path, PathBuf};

use preen_domain::facts::Noun;

use super::Session;
use crate::failure::Failure;
use crate::files::{private, sync_folder};
use crate::output::{Reply, progress};

/// Bytes between two tellings.
const TOLD_EVERY: u64 = 8 << 20;

/// What, and where to.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The file holds names of members unless --model is said: keep it as you keep the record.\n\
                        `preen-server import FILE --database URL` puts the whole record into another database."
)]
pub struct Args {
    /// File to write
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
    /// Only this model, its parts and their whole history, without any member's name: for a buyer
    #[arg(long, value_name = "MODEL", conflicts_with = "member")]
    model: Option<String>,
    /// Only what is on record about this member
    #[arg(long, value_name = "MEMBER")]
    member: Option<String>,
    /// Write over a file that is there
    #[arg(long)]
    force: bool,
}

/// Fetches and keeps it. The file is there whole or not at all.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    if args.to.exists() && !args.force {
        return Err(Failure::is_there(&args.to, "--to"));
    }
    let client = &session.client;
    let path = match (&args.model, &args.member) {
        (Some(model), _) => vec!["models", client.name(Noun::Models, model)?, "export"],
        (None, Some(member)) => vec!["members", client.name(Noun::Members, member)?, "export"],
        (None, None) => vec!["export"],
    };
    let from = client.stream(&path, &[], "application/zip")?;
    let draft = args.to.with_extension(format!("{}.part", std::process::id()));
    let kept = fetch(from, &draft, session).and_then(|bytes| put(&draft, args).map(|()| bytes));
    if kept.is_err() {
        let _ = fs::remove_file(&draft);
    }
    let bytes = kept?;
    let mut reply = Reply {
        json: serde_json::json!({ "file": args.to.display().to_string(), "bytes": bytes }).to_string(),
        ..Reply::default()
    };
    reply.line(format!("{}, {} kB", args.to.display(), bytes.div_ceil(1000)));
    Ok(reply)
}

fn fetch(mut from: impl Read, draft: &Path, session: &mut Session<'_, '_>) -> Result<u64, Failure> {
    let unwritten = |error: std::io::Error| {
        Failure::bad_input(format!("{} cannot be written: {error}.", draft.display()))
    };
    let mut file = private().write(true).create_new(true).open(draft).map_err(unwritten)?;
    let (mut piece, mut bytes, mut told) = (vec![0_u8; 1 << 16], 0_u64, 0_u64);
    loop {
        let length = from.read(&mut piece).map_err(|error| {
            Failure::unreachable(format!("The file broke off ({error}); nothing was kept."))
        })?;
        if length == 0 {
            break;
        }
        file.write_all(piece.get(..length).unwrap_or_default()).map_err(unwritten)?;
        bytes = bytes.saturating_add(u64::try_from(length).unwrap_or(u64::MAX));
        if bytes - told >= TOLD_EVERY {
            told = bytes;
            progress(session.io, &format!("{} MB", bytes / 1_000_000));
        }
    }
    progress(session.io, "");
    file.sync_all().map_err(unwritten)?;
    Ok(bytes)
}

/// Gives the whole file its name, in one step.
fn put(draft: &Path, args: &Args) -> Result<(), Failure> {
    let named = if args.force {
        fs::rename(draft, &args.to)
    } else {
        // Unlike renaming, this never writes over what came there meanwhile.
        fs::hard_link(draft, &args.to).and_then(|()| fs::remove_file(draft))
    };
    let folder = args.to.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    named.and_then(|()| sync_folder(folder)).map_err(|error| match error.kind() {
        std::io::ErrorKind::AlreadyExists => Failure::is_there(&args.to, "--to"),
        _ => Failure::bad_input(format!("{} cannot be written: {error}.", args.to.display())),
    })
}
