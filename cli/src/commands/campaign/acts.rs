//! Opening a campaign, recording what was looked at for one, and closing it.

use preen_domain::answers::CampaignShown;
use preen_domain::facts::Noun;
use preen_domain::words::{CampaignTask, CheckResult};
use serde_json::{Map, Value, json};

use super::super::Session;
use super::super::record::{self, Draft, mention};
use super::show;
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// What it covers and asks.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "As in: preen campaign open SV08 --batch B --position-kind \"flap servo\" --tag CA-2026-1 --action \
                        'measure: measure free play; quantity=servo_free_play; limit=1.2; unit=deg; \
                        before_next_flight_after_on=2026-05-15' --action 'replace: replace by batch C; \
                        within_flights=30; by_on=2026-05-29; replace_with_batch=C' --preview"
)]
pub struct OpenArgs {
    /// Part type it covers
    part: String,
    /// Only this batch
    #[arg(long)]
    batch: Option<String>,
    /// Only from this serial number on
    #[arg(long, value_name = "SERIAL")]
    serial_from: Option<String>,
    /// Only up to this serial number
    #[arg(long, value_name = "SERIAL")]
    serial_to: Option<String>,
    /// Only in this kind of position, such as "flap servo"
    #[arg(long, value_name = "KIND")]
    position_kind: Option<String>,
    /// What is to be done: measure, inspect or replace, a colon, what it says, then fields; again for the next
    #[arg(long = "action", value_name = "TASK: TEXT; FIELD=VALUE; ...", required = true)]
    actions: Vec<String>,
    /// Number in the club's own record
    #[arg(long)]
    tag: Option<String>,
    /// Why
    #[arg(long)]
    text: Option<String>,
    /// Only say what it would cover; nothing is recorded
    #[arg(long)]
    preview: bool,
    #[command(flatten)]
    when: When,
}

/// What was looked at.
#[derive(Debug, clap::Args)]
pub struct DoneArgs {
    /// The campaign
    campaign: String,
    /// Number of its action
    action: u32,
    /// The part
    component: String,
    /// What came of it: pass, restrict, fail
    #[arg(long, value_name = "RESULT")]
    result: CheckResult,
    /// What was seen
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    #[command(flatten)]
    when: When,
    /// Who did it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
}

/// What is let stand.
#[derive(Debug, clap::Args)]
pub struct CloseArgs {
    /// The campaign
    campaign: String,
    /// A part on which something is still open, and why that is let stand; again for another
    #[arg(long = "waive", value_name = "PART=REASON")]
    waived: Vec<String>,
    /// What came of it
    #[arg(long)]
    text: Option<String>,
    /// Only say what it would do; nothing is recorded
    #[arg(long)]
    preview: bool,
    #[command(flatten)]
    when: When,
    /// Who closed it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
}

/// Opens it, or says what it would cover.
pub fn open(args: &OpenArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let actions: Vec<Value> =
        (1_u32..).zip(&args.actions).map(|(number, text)| action(number, text)).collect::<Result<_, _>>()?;
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("part", args.part.as_str())
        .with("occurred_at", json!(at))
        .with("actions", Value::Array(actions))
        .maybe("batch", args.batch.clone())
        .maybe("serial_from", args.serial_from.clone())
        .maybe("serial_to", args.serial_to.clone())
        .maybe("position_kind", args.position_kind.clone())
        .maybe("tag", args.tag.clone())
        .maybe("text", args.text.clone());
    if !args.preview {
        let what = format!("campaign over {}", args.part);
        let mut reply = record::record(session, Noun::Campaigns, draft, &what)?;
        reply.hint("`preen campaign list` shows what it covers.");
        return Ok(reply);
    }
    let body = Value::Object(draft.0);
    mention(&session.client, Noun::Campaigns, &body);
    let query = [("preview", "true".to_owned())];
    let received = session.client.post(&[Noun::Campaigns.as_str()], &query, &body)?;
    let shown: CampaignShown = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    reply.line("Would be opened, nothing is recorded:");
    show::progress(&mut reply, &shown.progress, None);
    reply.hint("The same without --preview opens it.");
    Ok(reply)
}

/// One action from `TASK: TEXT; FIELD=VALUE; ...`.
fn action(number: u32, given: &str) -> Result<Value, Failure> {
    let bad = |text: String| {
        Failure::bad_input(format!("Action {number}: {text}"))
            .hint("As in: --action 'measure: free play; quantity=servo_free_play; limit=1.2; unit=deg'")
    };
    let mut parts = given.split(';').map(str::trim);
    let head = parts.next().unwrap_or_default();
    let Some((task, text)) = head.split_once(':') else {
        return Err(bad("it begins with measure, inspect or replace and a colon.".to_owned()));
    };
    let task: CampaignTask = task.trim().parse().map_err(|error| bad(format!("{error}.")))?;
    let mut action = Map::from_iter([
        ("number".to_owned(), json!(number)),
        ("task".to_owned(), json!(task)),
        ("text".to_owned(), json!(text.trim())),
    ]);
    for part in parts.filter(|part| !part.is_empty()) {
        let Some((field, value)) = part.split_once('=') else {
            return Err(bad(format!("`{part}` is not FIELD=VALUE.")));
        };
        let (field, value) = (field.trim(), value.trim());
        let is_number = matches!(field, "limit" | "within_flights");
        let value = if is_number {
            let number = value.parse::<f64>().ok().and_then(serde_json::Number::from_f64);
            Value::Number(number.ok_or_else(|| bad(format!("`{value}` for {field} is not a number.")))?)
        } else {
            json!(value)
        };
        if action.insert(field.to_owned(), value).is_some() {
            return Err(bad(format!("{field} stands there twice.")));
        }
    }
    Ok(Value::Object(action))
}

/// Records what was looked at.
pub fn done(args: &DoneArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("campaign", args.campaign.as_str())
        .with("action", args.action)
        .with("component", args.component.as_str())
        .with("occurred_at", json!(at))
        .with("result", json!(args.result))
        .maybe("note", args.note.clone())
        .maybe("done_by", args.by.clone());
    let what = format!(
        "{} looked at for action {} of {}, {}",
        args.component, args.action, args.campaign, args.result
    );
    let mut reply = record::record(session, Noun::CampaignWorks, draft, &what)?;
    reply.hint(format!("`preen campaign progress {}` shows what is left.", args.campaign));
    Ok(reply)
}

/// Closes it, or says what it would do.
pub fn close(args: &CloseArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut waived = Vec::new();
    for given in &args.waived {
        let Some((part, reason)) = given.split_once('=') else {
            return Err(Failure::bad_input(format!("`{given}` gives no reason."))
                .hint("As in: --waive SV08-B016='kept for aileron use, marked'"));
        };
        session.client.mention(Noun::Components, part);
        waived.push(json!({ "component": part, "reason": reason }));
    }
    let name = session.client.name(Noun::Campaigns, &args.campaign)?.to_owned();
    let at = args.when.moment(&session.client)?;
    let draft = Draft::new(session)
        .with("occurred_at", json!(at))
        .with("waived", Value::Array(waived))
        .maybe("text", args.text.clone())
        .maybe("closed_by", args.by.clone());
    let query = if args.preview { vec![("preview", "true".to_owned())] } else { Vec::new() };
    let path = [Noun::Campaigns.as_str(), &name, "close"];
    let received = session.client.post(&path, &query, &Value::Object(draft.0))?;
    let shown: CampaignShown = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    let waived = match shown.progress.waived.len() {
        0 => String::new(),
        1 => ", one part let stand".to_owned(),
        many => format!(", {many} parts let stand"),
    };
    reply.line(match (shown.is_preview, received.is_new) {
        (true, _) => format!("Would be closed, nothing is recorded: {name}{waived}."),
        (false, true) => format!("Recorded: {name} is closed{waived}."),
        (false, false) => format!("On record already: {name} is closed{waived}."),
    });
    show::progress(&mut reply, &shown.progress, None);
    if shown.is_preview {
        reply.hint("The same without --preview closes it.");
    }
    Ok(reply)
}
