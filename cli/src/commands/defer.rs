//! `preen defer`: puts a defect off on terms, or extends that once; or says beforehand what it would do.

use chrono::NaiveDate;
use preen_domain::answers::{DefectStanding, DeferralAnswer};
use preen_domain::facts::Noun;
use serde_json::{Value, json};

use super::Session;
use super::exchange::Preview;
use super::record::Draft;
use super::restriction::{Restricted, parse_restriction};
use super::standing::{limit, say_restrictions, severity_cell};
use crate::args::When;
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, left};

/// On what terms.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "What grounds is never put off. A deferral is signed by the model's owner or an inspector, its one \
                  extension by another inspector.\n\nExample: preen defer DE-008 --until 2026-05-30 --restrict \
                  max_flights=4 --restrict no_contest --reason \"new servo is on its way\""
)]
pub struct Args {
    /// The defect
    defect: String,
    /// Why it can wait
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Restriction under which it may be flown, as often as needed: max_flights, until_date, no_contest,
    /// no_landing_flap, max_launches_per_charge, light_launch_only, max_wind, owner_only; with its number or day
    #[arg(long, value_name = "KIND[=VALUE]", value_parser = parse_restriction)]
    restrict: Vec<Restricted>,
    /// Last day before its class rises by itself
    #[arg(long, value_name = "DAY")]
    until: Option<NaiveDate>,
    /// Flights before its class rises by itself
    #[arg(long, value_name = "FLIGHTS")]
    within: Option<u32>,
    #[command(flatten)]
    preview: Preview,
    #[command(flatten)]
    when: When,
    /// Who signs for it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// Number in the club's own record
    #[arg(long)]
    tag: Option<String>,
}

/// Defers it, or shows what that would do.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let defect = session.client.name(Noun::Defects, &args.defect)?.to_owned();
    let by = match &args.by {
        Some(by) => Some(session.client.name(Noun::Members, by)?.to_owned()),
        None => None,
    };
    let restrictions: Vec<Value> = args.restrict.iter().map(Restricted::json).collect();
    let draft = Draft::new(session)
        .with("occurred_at", json!(at))
        .with("restrictions", restrictions)
        .with("reason", args.reason.as_str())
        .maybe("fix_by_on", args.until.map(|day| day.to_string()))
        .maybe("within_flights", args.within)
        .maybe("deferred_by", by)
        .maybe("tag", args.tag.clone());
    let query = if args.preview.preview { vec![("preview", "true".to_owned())] } else { Vec::new() };
    let path = [Noun::Defects.as_str(), &defect, "deferral"];
    let received = session.client.post(&path, &query, &Value::Object(draft.0))?;
    let answer: DeferralAnswer = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    let word = if answer.after.deferrals.len() > 1 { "extended" } else { "deferred" };
    let name = &answer.after.defect;
    reply.line(match (answer.is_preview, received.is_new) {
        (true, _) => format!("Would be {word}, nothing is recorded: {name}."),
        (false, true) => format!("Recorded: {name} is {word}."),
        (false, false) => format!("On record already: {name} is {word}."),
    });
    reply.line("");
    let table = table(&answer.before, &answer.after);
    reply.csv = table.clone();
    reply.blocks.push(Block::Table(table));
    if answer.is_preview {
        reply.hint("The same without --preview records it.");
    } else if let Some(model) = &answer.after.carried_by {
        reply.hint(format!("`preen may-fly {model}` says where the model stands now."));
    }
    Ok(reply)
}

fn table(before: &DefectStanding, after: &DefectStanding) -> Table {
    let mut table = Table::new(["", "before", "after"].map(left));
    let mut row = |name: &str, say: &dyn Fn(&DefectStanding) -> Cell| {
        table.push([Cell::plain(name), say(before), say(after)]);
    };
    row("class", &|standing| severity_cell(standing.severity));
    row("restrictions", &|standing| Cell::plain(say_restrictions(&standing.restrictions)));
    row("limit", &|standing| Cell::plain(limit(standing)));
    row("put off again by", &|standing| Cell::plain(standing.may_sign.join(", ")));
    table
}
