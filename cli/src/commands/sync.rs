//! `preen sync`: sends what was logged without signal, and says what became of it.

use serde_json::json;

use super::Session;
use super::record::told;
use crate::failure::Failure;
use crate::field::outbox::{Item, Outbox};
use crate::field::send::{Sent, send_all};
use crate::moments::show_short;
use crate::output::{Block, Cell, Reply, Table, left, progress, say_notes};

/// What to do with it.
#[derive(Debug, clap::Args)]
#[command(after_help = "Exit code: 1 if a person has to look at something, 5 if something still waits.")]
pub struct Args {
    /// Only show what waits, and what the service would not have
    #[arg(long)]
    list: bool,
    /// Send what the service would not have once more
    #[arg(long, conflicts_with = "list")]
    retry: bool,
}

/// Sends.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let club = session.client.club_known()?;
    let folders = session.client.folders().ok_or_else(|| {
        Failure::bad_input("No folder for an outbox is known.").hint("Set XDG_STATE_HOME or HOME.")
    })?;
    let outbox = Outbox::open(&folders.outbox(&session.client.service(), &club))?;
    if args.retry {
        outbox.take_back()?;
    }
    let unread = [outbox.waiting().1, outbox.refused().1].concat();
    say_notes(session.io, &unread);
    if args.list {
        return Ok(list(&outbox, club.time_zone, unread.len()));
    }
    let all = outbox.waiting().0.len();
    if all > 0 {
        // Who asks may have changed since: facts go out in the name of who made them alone.
        let member = session.client.club().map(|said| said.member.clone());
        let member = member.map_err(|failure| failure.hint(hint_of(all)))?;
        if member != club.member {
            let text = format!("What waits was made as {}, and this token is of {member} now.", club.member);
            return Err(Failure::bad_input(text).hint(hint_of(all)));
        }
    }
    let io = &mut *session.io;
    let sent = send_all(&session.client, &outbox, u64::MAX, &mut |done| {
        progress(io, &format!("{done} of {all}"));
    })?;
    progress(session.io, "");
    say(&outbox, &sent, unread.len())
}

fn say(outbox: &Outbox, sent: &Sent, unread: usize) -> Result<Reply, Failure> {
    let waiting = outbox.waiting().0.len();
    if let Some(failure) = &sent.failure
        && sent.results.is_empty()
    {
        return Err(failure.clone().hint(hint_of(waiting)));
    }
    let said = json!({
        "waiting": waiting, "refused": outbox.refused().0.len(), "results": sent.results,
        "clock_ahead_s": sent.clock_ahead_s,
    });
    let mut reply = Reply { json: said.to_string(), ..Reply::default() };
    if sent.results.is_empty() {
        reply.line("Nothing waits.");
    }
    for note in told(sent) {
        reply.line(note);
    }
    reply.code = match &sent.failure {
        Some(failure) => {
            reply.line(failure.text.clone());
            reply.hint(hint_of(waiting));
            failure.code()
        }
        None => u8::from(sent.needs_a_person() || unread > 0),
    };
    let mut table = Table::new(["noun", "what", "became", "why"].map(left));
    for became in &sent.results {
        table.push([
            Cell::plain(became.noun.as_str()),
            Cell::plain(became.what.as_str()),
            Cell::plain(became.status.as_str()),
            Cell::maybe(became.text.as_ref()),
        ]);
    }
    if sent.results.iter().any(|became| became.status == "question") {
        reply.hint("`preen questions` shows them, for somebody to settle.");
    }
    if sent.results.iter().any(|became| became.status == "refused") {
        reply.hint("`preen sync --list` shows what was put aside; `preen sync --retry` sends it once more.");
    }
    reply.csv = table;
    Ok(reply)
}

fn hint_of(waiting: usize) -> String {
    match waiting {
        1 => "1 entry still waits here; nothing is lost.".to_owned(),
        waiting => format!("{waiting} entries still wait here; nothing is lost."),
    }
}

fn list(outbox: &Outbox, zone: chrono_tz::Tz, unread: usize) -> Reply {
    let (waiting, refused) = (outbox.waiting().0, outbox.refused().0);
    let facts = |items: &[Item]| items.iter().map(|item| json!(item.waiting)).collect::<Vec<_>>();
    let said = json!({ "waiting": facts(&waiting), "refused": facts(&refused) });
    let mut table = Table::new(["made", "what", "stands", "why"].map(left));
    for (items, stands) in [(&waiting, "waits"), (&refused, "put aside")] {
        for item in items {
            table.push([
                Cell::plain(show_short(item.waiting.made_at, zone)),
                Cell::plain(item.waiting.what.as_str()),
                Cell::plain(stands),
                Cell::maybe(item.waiting.refused.as_ref()),
            ]);
        }
    }
    let code = u8::from(!refused.is_empty() || unread > 0);
    let mut reply = Reply { json: said.to_string(), csv: table.clone(), code, ..Reply::default() };
    if waiting.is_empty() && refused.is_empty() {
        reply.line("Nothing waits.");
    } else {
        reply.blocks.push(Block::Table(table));
    }
    reply
}
