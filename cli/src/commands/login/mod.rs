//! `preen login`: stores the address of the service and a token, after trying them; `--forget` takes both back.
//!
//! What must stay secret is read where nobody sees it: typed without being shown, from a file, or from the input.
//! It is never taken from the arguments, which every program of the machine can read.

mod password;
mod secret;

use std::path::PathBuf;

use preen_domain::words::Scope;
use serde_json::json;

use crate::Io;
use crate::args::Global;
use crate::client::Client;
use crate::failure::{Failure, Kind};
use crate::output::{Cell, Reply, Table, left};
use crate::settings::{self, Access, said_in, tidy};

/// Where and by which token.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "A token or a password is typed without being shown, or read from a file or from the input; it \
                        is never taken from the arguments, where other programs could see it. Without --member the \
                        token is read from --token-file, --token-stdin, PREEN_TOKEN or the input, in this order."
)]
pub struct Args {
    /// Address of the service [default: as for every command]
    #[arg(value_name = "ADDRESS")]
    address: Option<String>,
    /// Read the token from the first line of a file (`-`: from the input)
    #[arg(long, value_name = "FILE", conflicts_with_all = ["token_stdin", "member", "forget"])]
    token_file: Option<PathBuf>,
    /// Read the token from the input
    #[arg(long, conflicts_with_all = ["member", "forget"])]
    token_stdin: bool,
    /// Sign in with this member's password, and make a token for this machine
    #[arg(long, value_name = "TAG", conflicts_with = "forget")]
    member: Option<String>,
    /// The member's club, by its short name
    #[arg(long, value_name = "NAME", requires = "member")]
    club: Option<String>,
    /// What the made token may be used for
    #[arg(
        long,
        value_name = "SCOPE,…",
        requires = "member",
        value_delimiter = ',',
        default_value = "read,write"
    )]
    scopes: Vec<Scope>,
    /// Days after which the made token ends
    #[arg(long, value_name = "DAYS", requires = "member", default_value_t = 180,
          value_parser = clap::value_parser!(u32).range(1..=3660))]
    days: u32,
    /// Take the stored token back at the service, and forget it here
    #[arg(long)]
    forget: bool,
}

/// Asks for what is needed, tries it, stores it.
pub fn run(args: &Args, global: &Global, io: &mut Io<'_>) -> Result<Reply, Failure> {
    if args.forget {
        return forget(args, global, io);
    }
    if args.address.as_ref().is_some_and(|address| address.trim().starts_with("preen_")) {
        return Err(Failure::bad_input(
            "This is a token, and no address; it stood where other programs could see it.",
        )
        .hint("Have it taken back, and give the next one by --token-file or by the input."));
    }
    let url = match args.address.as_ref().or(global.url.as_ref()) {
        Some(url) => tidy(url),
        None => settings::find(&io.env, None)?.0.url,
    };
    let access = match &args.member {
        Some(member) => return password::sign_in(args, member, url, global.no_input, io),
        None => Access { token: Some(token(args, global, &url, io)?), token_id: None, url },
    };
    let client = Client::new(&access)?;
    let mut reply = keep(&access, &client, io)?;
    reply.hint("`preen may-fly` says which models may fly today.");
    Ok(reply)
}

/// The token, from where it was said to be.
fn token(args: &Args, global: &Global, url: &str, io: &mut Io<'_>) -> Result<String, Failure> {
    let token = match &args.token_file {
        Some(path) if path.as_os_str() != "-" => secret::first_line_of(path)?,
        Some(_) => secret::line(io)?,
        None if args.token_stdin => secret::line(io)?,
        None => match said_in(&io.env, "PREEN_TOKEN") {
            Some(token) => token,
            None if io.is_stdin_terminal && global.no_input => {
                return Err(Failure::bad_input("No token was given.")
                    .hint("Give it by PREEN_TOKEN, --token-file, or the input: `preen login < token`."));
            }
            None => secret::typed(io, &format!("Token for {url}: "))?,
        },
    };
    if token.is_empty() {
        return Err(Failure::bad_input("The token is empty.").hint(
            "It reads preen_<club>_<secret>; who keeps the club's record can make one, or `preen login --member`.",
        ));
    }
    Ok(token)
}

/// Tries an access and stores it.
fn keep(access: &Access, client: &Client, io: &Io<'_>) -> Result<Reply, Failure> {
    let club = client.club().map_err(|failure| match failure.kind {
        Kind::Refused => Failure { hints: vec!["Nothing was stored.".to_owned()], ..failure },
        Kind::BadInput | Kind::Unreachable => failure,
    })?;
    let path = settings::store(&io.env, access)?;
    let roles: Vec<&str> = club.roles.iter().map(|role| role.as_str()).collect();
    let scopes: Vec<&str> = club.scopes.iter().map(|scope| scope.as_str()).collect();
    let said = json!({
        "url": access.url, "club": club.club, "member": club.member, "roles": roles, "scopes": scopes,
        "stored_in": path.display().to_string(),
    });
    let mut reply = Reply { json: said.to_string(), ..Reply::default() };
    reply.line(format!(
        "Signed in to {} at {} as {} ({}); the token may {}.",
        club.club,
        access.url,
        club.member,
        roles.join(", "),
        scopes.join(", ")
    ));
    reply.line(format!("Stored in {}, readable by you alone.", path.display()));
    reply.csv = Table::new(["url", "club", "member"].map(left));
    reply.csv.push([&access.url, &club.club, &club.member].map(|text| Cell::plain(text.as_str())));
    Ok(reply)
}

/// Takes the stored token back where it was made here, and removes the stored access.
fn forget(args: &Args, global: &Global, io: &Io<'_>) -> Result<Reply, Failure> {
    let Some(stored) = settings::stored(&io.env)? else {
        return Err(Failure::bad_input("No access is stored, so there is nothing to forget."));
    };
    if let Some(wanted) = args.address.as_ref().or(global.url.as_ref())
        && tidy(wanted) != stored.url
    {
        return Err(Failure::bad_input(format!(
            "The stored access is for {}, not for that address.",
            stored.url
        )));
    }
    let taken_back = match &stored.token_id {
        Some(id) if stored.token.is_some() => {
            let client = Client::new(&stored)?;
            match client.delete(&["tokens", id]) {
                Ok(_) => Ok(()),
                // It ended before, or may not take itself back: either way the service has spoken.
                Err(failure) if failure.kind == Kind::Refused => Err(failure.text),
                Err(failure) => return Err(failure.hint("Nothing was forgotten; try again when it answers.")),
            }
        }
        Some(_) | None => Err("It was not made by `preen login --member`".to_owned()),
    };
    let path = settings::remove(&io.env)?;
    let said = json!({ "url": stored.url, "is_taken_back": taken_back.is_ok(), "removed": path.display().to_string() });
    let mut reply = Reply { json: said.to_string(), ..Reply::default() };
    match &taken_back {
        Ok(()) => reply.line(format!("The token was taken back at {} and forgotten here.", stored.url)),
        Err(_) => reply.line(format!("The access to {} was forgotten here.", stored.url)),
    }
    if let Err(text) = &taken_back {
        reply.hint(format!("The token itself was not taken back: {}.", text.trim_end_matches('.')));
    }
    reply.csv = Table::new(["url", "is_taken_back"].map(left));
    reply.csv.push([Cell::plain(stored.url.as_str()), Cell::of(taken_back.is_ok())]);
    Ok(reply)
}
