//! `preen defect`: reports a defect, with the restriction under which the model may be flown.

use chrono::NaiveDate;
use preen_domain::facts::Noun;
use preen_domain::words::{RestrictionKind, Severity};
use serde_json::{Map, Value, json};

use super::Session;
use super::record::{Draft, record};
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
    /// max_launches_per_charge, light_launch_only, max_wind, owner_only; with its number or day
    #[arg(long, value_name = "KIND[=VALUE]", value_parser = parse_restriction)]
    restrict: Option<Restricted>,
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

/// A restriction as it was typed.
#[derive(Debug, Clone, PartialEq)]
struct Restricted {
    kind: RestrictionKind,
    value: Option<f64>,
    until_on: Option<NaiveDate>,
}

fn parse_restriction(text: &str) -> Result<Restricted, String> {
    let (kind, value) = text.split_once('=').map_or((text, None), |(kind, value)| (kind, Some(value)));
    let kind = kind.parse::<RestrictionKind>().map_err(|error| error.to_string())?;
    let Some(value) = value else { return Ok(Restricted { kind, value: None, until_on: None }) };
    if let Ok(day) = value.parse::<NaiveDate>() {
        return Ok(Restricted { kind, value: None, until_on: Some(day) });
    }
    let number = value.parse::<f64>().ok().filter(|number| number.is_finite());
    let number = number.ok_or_else(|| format!("`{value}` is neither a number nor a day"))?;
    Ok(Restricted { kind, value: Some(number), until_on: None })
}

impl Restricted {
    fn json(&self) -> Value {
        let mut fields = Map::new();
        fields.insert("kind".to_owned(), json!(self.kind));
        if let Some(value) = self.value {
            fields.insert("value".to_owned(), json!(value));
        }
        if let Some(until_on) = self.until_on {
            fields.insert("until_on".to_owned(), json!(until_on));
        }
        Value::Object(fields)
    }
}

/// Reports it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let at = args.when.moment(&session.client)?;
    let subject = match &args.on {
        Some(part) => json!({ "component": part }),
        None => json!({ "model": args.model }),
    };
    let draft = Draft::new(session)
        .with("model", args.model.as_str())
        .with("subject", subject)
        .with("severity", json!(args.severity))
        .with("text", args.text.as_str())
        .with("occurred_at", json!(at))
        .maybe("place", args.place.clone())
        .maybe("restriction", args.restrict.as_ref().map(Restricted::json))
        .maybe("fix_by_on", args.fix_by.map(|day| day.to_string()))
        .maybe("found_by", args.by.clone())
        .maybe("tag", args.tag.clone());
    let on = args.on.as_ref().unwrap_or(&args.model);
    let mut reply = record(session, Noun::Defects, draft, &format!("{} on {on}", args.severity))?;
    reply.hint(format!("`preen may-fly {}` says where it stands now.", args.model));
    Ok(reply)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn restrictions_take_a_number_a_day_or_nothing() {
        assert_eq!(parse_restriction("max_flights=4").unwrap().value, Some(4.0));
        assert!(parse_restriction("until_date=2026-05-30").unwrap().until_on.is_some());
        assert_eq!(parse_restriction("no_contest").unwrap().value, None);
        for bad in ["slowly", "max_flights=many", "max_wind=inf"] {
            assert!(parse_restriction(bad).is_err(), "{bad}");
        }
    }
}
