//! `preen measure`: records a reading.

use preen_domain::answers::{Answer, Findings, PlacedFinding, ReadingTried};
use preen_domain::facts::Noun;
use preen_domain::time::Instant;
use preen_domain::words::Severity;
use serde_json::{Value, json};

use super::Session;
use super::exchange::Preview;
use super::record::{Draft, mention, record};
use super::subject::Subject;
use crate::args::When;
use crate::client::Query;
use crate::failure::Failure;
use crate::moments::show_short;
use crate::output::{Block, Cell, Reply, Table, left, say_notes};

/// The reading.
#[derive(Debug, clap::Args)]
#[command(after_help = "As in: preen measure SV08-B002 servo_free_play 0.95 deg")]
pub struct Args {
    /// What was measured: a part or a model
    subject: String,
    /// Which quantity, such as servo_free_play
    quantity: String,
    /// The reading; several, one for each cell or contact, are joined by commas
    #[arg(value_parser = parse_values, allow_hyphen_values = true)]
    values: Values,
    /// Unit of the reading
    unit: String,
    /// How it was read; another method starts another series
    #[arg(long, value_name = "TEXT")]
    method: Option<String>,
    /// Instrument used
    #[arg(long, value_name = "TEXT")]
    instrument: Option<String>,
    /// Temperature of the part, °C
    #[arg(long, value_name = "C", allow_hyphen_values = true)]
    temperature: Option<f64>,
    /// The part was re-worked: this is the first reading of a new series
    #[arg(long)]
    new_series: bool,
    #[command(flatten)]
    when: When,
    /// Who read it, if not you
    #[arg(long, value_name = "MEMBER")]
    by: Option<String>,
    /// Number in the club's own log
    #[arg(long)]
    tag: Option<String>,
    /// Anything else worth knowing
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    #[command(flatten)]
    preview: Preview,
}

fn field(name: &str, text: impl Into<String>) -> (String, Cell) {
    (name.to_owned(), Cell::plain(text))
}

/// One value, or one for each cell or contact.
#[derive(Debug, Clone, PartialEq)]
struct Values(Vec<f64>);

fn parse_values(text: &str) -> Result<Values, String> {
    let number = |part: &str| part.trim().parse::<f64>().ok().filter(|number| number.is_finite());
    let values: Option<Vec<f64>> = text.split(',').map(number).collect();
    values.map(Values).ok_or_else(|| format!("`{text}` is not a number, nor several joined by commas"))
}

/// Records it.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    if args.temperature.is_some_and(|value| !value.is_finite()) {
        return Err(Failure::bad_input("A temperature is a finite number."));
    }
    let at = args.when.moment(&session.client)?;
    let subject = Subject::find(session, &args.subject)?;
    let draft = Draft::new(session)
        .with("subject", subject.json())
        .with("quantity", args.quantity.as_str())
        .with("values", args.values.0.clone())
        .with("unit", args.unit.as_str())
        .with("occurred_at", json!(at))
        .with("is_series_start", args.new_series)
        .maybe("method", args.method.clone())
        .maybe("instrument", args.instrument.clone())
        .maybe("temperature_c", args.temperature)
        .maybe("measured_by", args.by.clone())
        .maybe("tag", args.tag.clone())
        .maybe("note", args.note.clone());
    let values: Vec<String> = args.values.0.iter().map(f64::to_string).collect();
    if args.preview.preview {
        return preview(session, draft, at);
    }
    let what = format!("{} of {}: {} {}", args.quantity, subject.name(), values.join(", "), args.unit);
    let mut reply = record(session, Noun::Measurements, draft, &what)?;
    let warnings = warnings(session, subject.name(), at);
    say_notes(session.io, &warnings);
    if let Subject::Component(name) = &subject {
        reply.hint(format!("`preen history {name}` shows its readings."));
    }
    Ok(reply)
}

/// Says what the reading would mean, and records nothing.
fn preview(session: &mut Session<'_, '_>, draft: Draft, at: Instant) -> Result<Reply, Failure> {
    let body = Value::Object(draft.0);
    mention(&session.client, Noun::Measurements, &body);
    let query = vec![("preview", "true".to_owned())];
    let received = session.client.post(&[Noun::Measurements.as_str()], &query, &body)?;
    let tried: ReadingTried = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    reply.code = match tried.findings.iter().map(|finding| finding.severity).max() {
        None => 0,
        Some(Severity::Watch | Severity::Restrict) => 1,
        Some(Severity::Ground) => 2,
    };
    let zone = session.client.zone()?;
    reply.line(format!("Would be recorded, nothing is: {} of {}.", tried.quantity, tried.subject));
    reply.line("");
    let class = match (tried.class, tried.limit) {
        (Some(class), Some(limit)) => format!("{class}, from {limit} {} on", tried.unit),
        (Some(class), None) => class.to_string(),
        (None, _) => "good, or without a limit".to_owned(),
    };
    let mut fields = vec![
        field("reading", format!("{} {}, read {}", tried.value, tried.unit, show_short(at, zone))),
        field("class", class),
    ];
    if !tried.is_newest {
        fields.push(field("counts", "no: a newer reading of it is on record"));
    }
    if let (Some(model), Some(before), Some(after)) = (&tried.model, tried.state_before, tried.state_after) {
        let states =
            if before == after { format!("stays {after}") } else { format!("{before}, then {after}") };
        fields.push(field(model, states));
    }
    reply.blocks.push(Block::Fields(fields));
    let mut table = Table::new([left("severity"), left("what"), left("clear by")]);
    for finding in &tried.findings {
        table.push([
            Cell::plain(finding.severity.as_str()),
            Cell::plain(finding.text.as_str()),
            Cell::plain(finding.clear_by.as_str()),
        ]);
    }
    let notes = tried.findings.iter().map(|finding| format!("{}: {}", finding.text, finding.clear_by));
    say_notes(session.io, &notes.collect::<Vec<_>>());
    reply.csv = table;
    reply.hint("The same without --preview records it.");
    Ok(reply)
}

/// What the audit says of the reading: beyond a limit, or hardly to be right. The reading is recorded in any case, so
/// nothing is said where the question cannot be answered.
fn warnings(session: &Session<'_, '_>, subject: &str, at: Instant) -> Vec<String> {
    let answer = session.client.get(&["findings"], &Query::new()).and_then(|received| received.read());
    let audit: Option<Answer<Findings>> = answer.ok();
    let is_of_it = |found: &&PlacedFinding| {
        found.finding.subject == subject
            && found.reading.as_ref().is_some_and(|reading| reading.read_at == at)
    };
    let found = audit.iter().flat_map(|audit| audit.answer.findings.iter().filter(is_of_it));
    found.map(|found| format!("{}: {}", found.finding.text, found.finding.clear_by)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_one_or_several_finite_numbers() {
        assert_eq!(parse_values("0.95"), Ok(Values(vec![0.95])));
        assert_eq!(parse_values("6.1,6.3, 8.9"), Ok(Values(vec![6.1, 6.3, 8.9])));
        for bad in ["", "6.1,", "NaN", "inf", "6;1"] {
            assert!(parse_values(bad).is_err(), "{bad:?}");
        }
    }
}
