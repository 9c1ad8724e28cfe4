//! Signing in with a password: a session that lives just long enough to make a token for this machine. The password
//! is kept nowhere.

use serde::Deserialize;
use serde_json::json;

use super::{Args, keep, secret};
use crate::Io;
use crate::client::Client;
use crate::failure::Failure;
use crate::output::Reply;
use crate::settings::{self, Access, said_in};

#[derive(Deserialize)]
struct Session {
    member: String,
    must_change_password: bool,
}

#[derive(Deserialize)]
struct Made {
    token: String,
}

/// Signs in, chooses a password of one's own where the one shown was for one time, makes the token and stores it.
pub fn sign_in(
    args: &Args,
    member: &str,
    url: String,
    no_input: bool,
    io: &mut Io<'_>,
) -> Result<Reply, Failure> {
    if no_input && io.is_stdin_terminal {
        return Err(Failure::bad_input("A password is needed.").hint("Write it to the input, one line."));
    }
    let Some(club) = args.club.clone().or_else(|| club_of_stored(io, &url)) else {
        return Err(Failure::bad_input("The club is not known.").hint("Say it by --club NAME."));
    };
    let mut access = Access { url, token: None, token_id: None };
    let client = Client::new(&access)?;
    let password = secret::typed(io, &format!("Password of {member} at {}: ", access.url))?;
    let said = |password: &str| json!({ "club": club, "member": member, "password": password });
    let session: Session = client.sign_in(&said(&password))?.read()?;
    let mut is_changed = false;
    if session.must_change_password {
        let chosen = choose(io)?;
        client.put_value(&["members", &session.member, "password"], &json!({ "new_password": chosen }))?;
        is_changed = true;
        // Every session of the member has ended by it, this one too.
        client.sign_in(&said(&chosen))?;
    }
    let id = (io.new_id)().to_string();
    let now = client.now()?;
    let end = now.plus_seconds(i64::from(args.days) * 86_400).to_string();
    let host = said_in(&io.env, "HOSTNAME").or_else(|| said_in(&io.env, "COMPUTERNAME"));
    let label = host.map_or_else(|| "command line".to_owned(), |host| format!("command line on {host}"));
    let scopes: Vec<&str> = args.scopes.iter().map(|scope| scope.as_str()).collect();
    let wanted = json!({ "id": id, "label": label, "scopes": scopes, "expires_at": end });
    let made: Made = client.post(&["tokens"], &[], &wanted)?.read()?;
    access.token = Some(made.token);
    access.token_id = Some(id.clone());
    let kept = Client::new(&access).and_then(|by_token| keep(&access, &by_token, io));
    if kept.is_err() {
        // Nobody would know the token: better there is none.
        let _ = client.delete(&["tokens", &id]);
    }
    // It ends by itself; ending it now only leaves less lying about.
    let _ = client.sign_out();
    let mut reply = kept?;
    if is_changed {
        reply.line("The new password counts from now on.");
    }
    reply.line(format!(
        "The token ends on {}; `preen login --forget` takes it back before.",
        end.get(..10).unwrap_or(&end)
    ));
    reply.hint("`preen may-fly` says which models may fly today.");
    Ok(reply)
}

/// A new password, typed twice where somebody types.
fn choose(io: &mut Io<'_>) -> Result<String, Failure> {
    let chosen = secret::typed(io, "That password was for one time. New password: ")?;
    if io.is_stdin_terminal && secret::typed(io, "The same again: ")? != chosen {
        return Err(Failure::bad_input("The two were not the same; the password was not changed.")
            .hint("Ask the keeper for another one-time password, as this one is used up."));
    }
    if chosen.is_empty() {
        return Err(Failure::bad_input("The new password is missing.").hint(
            "Write it to the second line of the input. The one-time password is used up: ask for another.",
        ));
    }
    Ok(chosen)
}

/// The club of the access that is stored for this address.
fn club_of_stored(io: &Io<'_>, url: &str) -> Option<String> {
    let stored = settings::stored(&io.env).ok().flatten().filter(|stored| stored.url == url)?;
    let token = stored.token?;
    let (club, _) = token.strip_prefix("preen_")?.rsplit_once('_')?;
    Some(club.to_owned())
}
