//! `preen defect`: reports a defect, with the restriction under which the model may be flown.

use chrono::NaiveDate;
use preen_domain::facts::Noun;
use preen_domain::words::{DefectCause, Severity};
use serde_json::{Value, json};

use super::Session;
use super::record::{Draft, record};
use super::restriction::{Restricted, parse_restriction};
use crate::args::When;
use crate::failure::Failure;
use crate::output::Reply;

/// The defect.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The model on which it was found
    model: String,
    /// Its class: watch, restrict, ground
    severity: Severity,
    /// What is wrong
    text: String,
    /// The part it sits on [default: the model itself]
    #[arg(long, value_name = "PART")]
    on: Option<String>,
    /// Where on it, in words
    #[arg(long, value_name = "TEXT")]
    place: Option<String>,
    /// Restriction under which it may be flown: max_flights, until_date, no_contest, no_landing_flap,
    /// max_launches_per_charge, light_launch_only, max_wind, owner_only; with its number or day. May be given several times
    #[arg(long, value_name = "KIND[=VALUE]", value_parser = parse_restriction)]
    restrict: Vec<Restricted>,
    /// What is behind it: control_direction, failsafe, motor_lock, joiner_crack, spar_or_boom, hinge_crack,
    /// missed_tooth, connector_flicker, swollen_pack (these always ground), or wear, impact, overload, bond, fatigue,
    /// wiring, water, heat, age, adjustment, assembly, maker, other, unknown
    #[arg(long, value_name = "WORD")]
    cause: Option<DefectCause>,
    /// Why it came, or came back
    #[arg(long, value_name = "TEXT")]
    cause_note: Option<String>,
    /// Last day before its class rises by itself
    #[arg(long, value_name = "DAY")]
    fix_by: Option<NaiveDate>,
    #[command(flatten)]
    when: When,
    /// Who found it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// Number in the club's own record
    #[arg(long)]
    tag: Option<String>,
}

/// Reports it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let subject = match &args.on {
        Some(part) => json!({ "component": part }),
        None => json!({ "model": args.model }),
    };
    let more: Vec<Value> = args.restrict.iter().skip(1).map(Restricted::json).collect();
    let draft = Draft::new(session)
        .with("model", args.model.as_str())
        .with("subject", subject)
        .with("severity", json!(args.severity))
        .with("text", args.text.as_str())
        .with("occurred_at", json!(at))
        .maybe("place", args.place.clone())
        .maybe("restriction", args.restrict.first().map(Restricted::json))
        .maybe("restrictions", (!more.is_empty()).then_some(more))
        .maybe("fix_by_on", args.fix_by.map(|day| day.to_string()))
        .maybe("cause", args.cause.map(|cause| json!(cause)))
        .maybe("cause_note", args.cause_note.clone())
        .maybe("found_by", args.by.clone())
        .maybe("tag", args.tag.clone());
    let on = args.on.as_ref().unwrap_or(&args.model);
    let mut reply = record(session, Noun::Defects, draft, &format!("{} on {on}", args.severity))?;
    reply.hint(format!("`preen may-fly {}` says where it stands now.", args.model));
    if args.severity != Severity::Ground && args.restrict.is_empty() {
        reply.hint(
            "`preen defer DEFECT --restrict KIND --until DAY --reason TEXT` says on what terms it is flown.",
        );
    }
    Ok(reply)
}
