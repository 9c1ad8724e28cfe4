//! `preen login`: stores the address of the service and a token, after trying them.

use std::io::{BufRead, BufReader};

use crate::Io;
use crate::args::Global;
use crate::client::Client;
use crate::failure::{Failure, Kind};
use crate::output::{Cell, Reply, Table, ask, left};
use crate::settings::{self, Access, said_in, tidy};

/// Where and by which token.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The token is read from PREEN_TOKEN or from the input, never from the arguments, where other \
                        programs could see it."
)]
pub struct Args {
    /// Address of the service [default: as for every command]
    #[arg(value_name = "ADDRESS")]
    address: Option<String>,
}

/// Asks for the token, tries it, stores it.
pub fn run(args: &Args, global: &Global, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let url = match args.address.as_ref().or(global.url.as_ref()) {
        Some(url) => tidy(url),
        None => settings::find(&io.env, None)?.0.url,
    };
    let token = match said_in(&io.env, "PREEN_TOKEN") {
        Some(token) => token,
        None => read_token(io, global.no_input, &url)?,
    };
    let access = Access { url, token: Some(token) };
    let client = Client::new(&access)?;
    let club = client.club().map_err(|failure| match failure.kind {
        Kind::Refused => Failure { hints: vec!["Nothing was stored.".to_owned()], ..failure },
        Kind::BadInput | Kind::Unreachable => failure,
    })?;
    let path = settings::store(&io.env, &access)?;
    let roles: Vec<&str> = club.roles.iter().map(|role| role.as_str()).collect();
    let scopes: Vec<&str> = club.scopes.iter().map(|scope| scope.as_str()).collect();
    let said = serde_json::json!({
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
    reply.hint("`preen may-fly` says which models may fly today.");
    Ok(reply)
}

fn read_token(io: &mut Io<'_>, no_input: bool, url: &str) -> Result<String, Failure> {
    if io.is_stdin_terminal {
        if no_input {
            return Err(Failure::bad_input("No token was given.")
                .hint("Give it by PREEN_TOKEN, or write it to the input: `preen login < token`."));
        }
        ask(io, &format!("Token for {url}: "));
    }
    let mut line = String::new();
    BufReader::new(&mut *io.stdin)
        .read_line(&mut line)
        .map_err(|error| Failure::bad_input(format!("The input cannot be read: {error}.")))?;
    let token = line.trim();
    if token.is_empty() {
        return Err(Failure::bad_input("The token is empty.")
            .hint("It reads preen_<club>_<secret>; who keeps the club's record can make one."));
    }
    Ok(token.to_owned())
}
