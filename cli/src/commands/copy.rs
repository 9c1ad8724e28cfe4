//! `preen copy`: keeps a copy of the club's record here, for questions asked with `--offline`.

use std::collections::BTreeSet;

use preen_domain::facts::{Fact, Noun, Recorded};
use serde::Deserialize;
use serde_json::json;

use super::Session;
use crate::failure::Failure;
use crate::field::copy::{Folder, Label};
use crate::moments::show_moment;
use crate::output::{Cell, Reply, Table, left, progress, right};

/// Lines of the feed between two tellings.
const TOLD_EVERY: u64 = 5_000;

/// How.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Questions answered from the copy: preen may-fly --offline. The copy holds names of members."
)]
pub struct Args {
    /// Fetch all of it again, not only what is new
    #[arg(long)]
    anew: bool,
    /// Throw the copy away
    #[arg(long, conflicts_with = "anew")]
    remove: bool,
}

#[derive(Deserialize)]
struct Person {
    id: String,
    name: Option<String>,
}

/// Brings the copy up to date.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let said = session.client.club()?.clone();
    let folders = session.client.folders().ok_or_else(|| {
        Failure::bad_input("No folder for data is known.").hint("Set XDG_DATA_HOME or HOME.")
    })?;
    let folder = Folder(folders.copy(&session.client.service(), &said));
    if args.remove {
        folder.remove(true)?;
        let mut reply = Reply { json: json!({ "removed": folder.path() }).to_string(), ..Reply::default() };
        reply.line(format!("Threw away the copy in {}.", folder.path().display()));
        return Ok(reply);
    }
    let before = if args.anew { None } else { folder.read_label()? };
    let before = before.filter(|label| label.club.club_id == said.club_id);
    let goes_on = match &before {
        Some(before) if before.revision <= said.revision => fetch(session, &folder, before)?,
        Some(_) | None => None,
    };
    let had = before.as_ref().filter(|_| goes_on.is_some()).map_or(0, |label| label.facts);
    let of_another = before.filter(|_| goes_on.is_none());
    if let Some(before) = &of_another {
        folder.begin_anew(before)?;
    }
    let mut label = match goes_on {
        Some(label) => label,
        None => fetch_all(session, &folder)?,
    };
    let mut facts = folder.read_facts(&label, label.revision)?;
    if had > 0 && has_erased_names(session, &facts)? {
        // Names taken out of the record since must not live on here.
        folder.remove(false)?;
        label = fetch_all(session, &folder)?;
        facts = folder.read_facts(&label, label.revision)?;
    }
    folder.keep_arranged(&label, &facts)?;
    let lost = folder.keep_lost(&facts)?;
    let mut reply = tell(session, &folder, &label, label.facts.saturating_sub(had));
    if of_another.is_some() {
        reply.hint("The record no longer had what this copy ended with, so all of it was fetched anew.");
    }
    if lost > 0 {
        let them = if lost == 1 { "1 fact of it is".to_owned() } else { format!("{lost} facts of it are") };
        reply.hint(format!("{them} on no record any more: see {}.", folder.lost().display()));
    }
    Ok(reply)
}

fn fetch_all(session: &mut Session<'_, '_>, folder: &Folder) -> Result<Label, Failure> {
    let said = session.client.club()?.clone();
    let blank = Folder::blank(&session.client.service(), &said, session.client.local_now());
    let label = fetch(session, folder, &blank)?;
    label.ok_or_else(|| Failure::bad_input("The feed does not begin with the first fact."))
}

fn fetch(session: &mut Session<'_, '_>, folder: &Folder, start: &Label) -> Result<Option<Label>, Failure> {
    let said = session.client.club()?.clone();
    let local = session.client.local_now();
    let query = [("since", start.since().to_string())];
    let feed = session.client.stream(&["facts"], &query, "application/x-ndjson")?;
    let io = &mut *session.io;
    let mut told = |lines: u64| {
        if lines.is_multiple_of(TOLD_EVERY) {
            progress(io, &format!("{lines} facts"));
        }
    };
    let label = folder.take_in(feed, start, &said, local, &mut told);
    progress(session.io, "");
    label
}

/// Whether facts hold a name of a member, in whatever version, that the service no longer tells.
fn has_erased_names(session: &Session<'_, '_>, facts: &[Recorded<Fact>]) -> Result<bool, Failure> {
    let named = |recorded: &Recorded<Fact>| match &recorded.fact {
        Fact::Member(member) if member.name.is_some() => Some(member.id.to_string()),
        _ => None,
    };
    let known: BTreeSet<String> = facts.iter().filter_map(named).collect();
    let people: Vec<Person> = session.client.all(Noun::Members)?;
    Ok(people.iter().any(|person| person.name.is_none() && known.contains(&person.id)))
}

fn tell(session: &Session<'_, '_>, folder: &Folder, label: &Label, new: u64) -> Reply {
    let zone = label.club.time_zone;
    let said = json!({
        "club": label.club.club, "revision": label.revision, "facts": label.facts, "new": new,
        "bytes": label.bytes, "folder": folder.path(), "taken_at": label.club.now,
    });
    let mut reply = Reply { json: said.to_string(), ..Reply::default() };
    if !session.is_json {
        reply.line(format!(
            "Copy of {} up to date: revision {}, {} facts ({new} new), {}.",
            label.club.title,
            label.revision,
            label.facts,
            show_moment(label.club.now, zone),
        ));
        reply.line(format!("It lies in {}.", folder.path().display()));
    }
    let mut table =
        Table::new([left("club"), right("revision"), right("facts"), right("new"), left("folder")]);
    table.push([
        Cell::plain(label.club.club.as_str()),
        Cell::of(label.revision),
        Cell::of(label.facts),
        Cell::of(new),
        Cell::plain(folder.path().display().to_string()),
    ]);
    reply.csv = table;
    reply.hint("`preen may-fly --offline` asks it; it holds names of members, so keep it to yourself.");
    reply
}
