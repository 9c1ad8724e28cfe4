//! `preen may-fly`: which models may fly on a day, and why the others may not.

use preen_domain::answers::{Answer, FleetBoard, ModelVerdict, NextDue, RestrictionSaid, Tightest};
use preen_domain::facts::Noun;
use preen_domain::finding::Finding;
use preen_domain::words::{RestrictionKind, Severity, State};

use super::{Session, frame_line};
use crate::args::{Asked, Coming};
use crate::failure::Failure;
use crate::moments::show_day;
use crate::output::{Block, Cell, Reply, Table, Tone, left};

/// Which models, when, for whom.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Exit code: 2 if one of the models asked about may not fly, 1 if one is restricted or has a \
                        check due, 0 if not."
)]
pub struct Args {
    /// Only this model, with all its reasons and what clears each
    model: Option<String>,
    #[command(flatten)]
    coming: Coming,
    #[command(flatten)]
    asked: Asked,
}

/// Asks and shows.
pub fn run(args: &Args, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let mut query = args.coming.query(&session.client)?;
    query.extend(args.asked.query(&session.client)?);
    if let Some(model) = &args.model {
        query.push(("model", session.client.name(Noun::Models, model)?.to_owned()));
    }
    let received = session.client.get(&["may-fly"], &query)?;
    let board: Answer<FleetBoard> = received.read()?;
    let mut reply = Reply { json: received.text, code: code(&board.answer), ..Reply::default() };
    if session.is_json {
        return Ok(reply);
    }
    let frame = frame_line(&board, session.client.zone()?);
    reply.line(format!("{} · {frame}", show_day(board.answer.on)));
    reply.line("");
    match board.answer.models.as_slice() {
        [verdict] if args.model.is_some() => explain(&mut reply, verdict),
        verdicts => {
            reply.blocks.push(Block::Table(table(verdicts)));
            if let Some(no) = verdicts.iter().find(|verdict| !verdict.may_fly) {
                reply.hint(format!(
                    "`preen may-fly {}` gives all its reasons and what clears each.",
                    no.model
                ));
            }
        }
    }
    reply.line("");
    reply.line(&*board.answer.caution);
    reply.csv = rows(&board.answer.models);
    Ok(reply)
}

fn code(board: &FleetBoard) -> u8 {
    if board.models.iter().any(|verdict| !verdict.may_fly) {
        return 2;
    }
    let is_due = |verdict: &ModelVerdict| verdict.reasons.iter().any(|reason| reason.code == "check_due");
    u8::from(board.models.iter().any(|verdict| verdict.state == State::Restricted || is_due(verdict)))
}

fn state_cell(state: State) -> Cell {
    let (shape, tone) = match state {
        State::Fit => ("●", Tone::Good),
        State::Restricted => ("▲", Tone::Caution),
        State::Grounded => ("■", Tone::Bad),
        State::Incomplete => ("□", Tone::Bad),
        State::OnLoan => ("→", Tone::Bad),
        State::LaidUp => ("○", Tone::Bad),
    };
    Cell::toned(format!("{shape} {state}"), tone)
}

fn may_fly_cell(verdict: &ModelVerdict) -> Cell {
    if verdict.may_fly { Cell::toned("yes", Tone::Good) } else { Cell::toned("no", Tone::Bad) }
}

fn table(verdicts: &[ModelVerdict]) -> Table {
    let columns = ["model", "may fly", "state", "flights", "next due", "what matters most"];
    let mut table = Table::new(columns.map(left));
    for verdict in verdicts {
        table.push([
            Cell::plain(verdict.model.as_str()),
            may_fly_cell(verdict),
            state_cell(verdict.state),
            Cell::plain(flights(verdict)),
            Cell::plain(verdict.next_due.as_ref().map(next_due).unwrap_or_default()),
            Cell::plain(what_matters(verdict)),
        ]);
    }
    table
}

fn flights(verdict: &ModelVerdict) -> String {
    match (verdict.may_fly, verdict.max_flights, verdict.flights_left) {
        (false, _, _) | (true, None, None) => String::new(),
        (true, Some(most), _) => format!("max {most}"),
        (true, None, Some(left)) => format!("{left} left"),
    }
}

fn next_due(next: &NextDue) -> String {
    let left = next.count_left.map(|left| format!(", {left} left")).unwrap_or_default();
    format!("{} {}{left}", next.group, next.on)
}

/// The worst reason; where nothing stands against flying, the restrictions come before what is worth watching.
fn what_matters(verdict: &ModelVerdict) -> String {
    let others: Vec<String> = verdict
        .restrictions
        .iter()
        .filter(|restriction| restriction.kind != RestrictionKind::MaxFlights)
        .map(say_restriction)
        .collect();
    let worst = worst_reason(verdict).map(|reason| reason.text.as_str()).unwrap_or_default();
    if verdict.may_fly && !others.is_empty() {
        return format!("{}: {worst}", others.join(", "));
    }
    worst.to_owned()
}

/// Of the most severe reasons the one that restricts, if one does; else the first.
fn worst_reason(verdict: &ModelVerdict) -> Option<&Finding> {
    let first = verdict.reasons.first()?;
    let restricts = |reason: &&Finding| {
        verdict.restrictions.iter().any(|restriction| restriction.source == reason.subject)
    };
    let worst = verdict.reasons.iter().take_while(|reason| reason.severity == first.severity);
    worst.into_iter().find(restricts).or(Some(first))
}

/// A restriction in words.
pub fn say_restriction(restriction: &RestrictionSaid) -> String {
    let count = restriction.value.map(|value| value.to_string()).unwrap_or_default();
    let said = match restriction.kind {
        RestrictionKind::MaxFlights => format!("max {count} flights"),
        RestrictionKind::UntilDate => "only until the day".to_owned(),
        RestrictionKind::NoContest => "no contest".to_owned(),
        RestrictionKind::NoLandingFlap => "no landing flap".to_owned(),
        RestrictionKind::MaxLaunchesPerCharge if restriction.value == Some(1.0) => {
            "1 launch per charge".to_owned()
        }
        RestrictionKind::MaxLaunchesPerCharge => format!("{count} launches per charge"),
        RestrictionKind::LightLaunchOnly => "light launch only".to_owned(),
        RestrictionKind::MaxWind => format!("wind up to {count} m/s"),
        RestrictionKind::OwnerOnly => "owner only".to_owned(),
    };
    match restriction.until_on {
        Some(day) => format!("{said} (until {day})"),
        None => said,
    }
}

/// What restrictions of a kind come to together, in words.
fn say_tightest(tightest: &Tightest) -> String {
    say_restriction(&RestrictionSaid {
        kind: tightest.kind,
        value: tightest.value,
        until_on: tightest.until_on,
        source: tightest.sources.join(", "),
    })
}

fn explain(reply: &mut Reply, verdict: &ModelVerdict) {
    let mut fields = vec![
        ("model".to_owned(), Cell::plain(verdict.model.as_str())),
        ("may fly".to_owned(), may_fly_cell(verdict)),
        ("state".to_owned(), state_cell(verdict.state)),
    ];
    let mut add = |name: &str, text: String| {
        if !text.is_empty() {
            fields.push((name.to_owned(), Cell::plain(text)));
        }
    };
    add("owner", verdict.owner.clone().unwrap_or_else(|| "club".to_owned()));
    add("flights", flights(verdict));
    add("next due", verdict.next_due.as_ref().map(next_due).unwrap_or_default());
    for restriction in &verdict.restrictions {
        add("restriction", format!("{}, by {}", say_restriction(restriction), restriction.source));
    }
    if verdict.restrictions.len() > verdict.tightest.len() {
        add("together", verdict.tightest.iter().map(say_tightest).collect::<Vec<String>>().join("; "));
    }
    reply.blocks.push(Block::Fields(fields));
    reply.line("");
    if verdict.reasons.is_empty() {
        reply.line("Nothing on record stands against it.");
        return;
    }
    let mut table = Table::new(["severity", "subject", "what", "cleared by"].map(left));
    for reason in &verdict.reasons {
        table.push([
            severity_cell(reason),
            Cell::plain(reason.subject.as_str()),
            Cell::plain(reason.text.as_str()),
            Cell::plain(reason.clear_by.as_str()),
        ]);
    }
    reply.blocks.push(Block::Table(table));
    reply.hint(format!("`preen due --model {} --all` lists all its checks.", verdict.model));
}

/// How bad a finding is, as a word with a shape.
pub fn severity_cell(reason: &Finding) -> Cell {
    match reason.severity {
        Severity::Ground => Cell::toned("■ ground", Tone::Bad),
        Severity::Restrict => Cell::toned("▲ restrict", Tone::Caution),
        Severity::Watch => Cell::plain("· watch"),
    }
}

fn rows(verdicts: &[ModelVerdict]) -> Table {
    let columns = ["model", "may_fly", "state", "max_flights", "flights_left", "restrictions", "reasons"];
    let mut table = Table::new(columns.map(left));
    for verdict in verdicts {
        let restrictions: Vec<String> = verdict.restrictions.iter().map(say_restriction).collect();
        let reasons: Vec<&str> = verdict.reasons.iter().map(|reason| reason.text.as_str()).collect();
        table.push([
            Cell::plain(verdict.model.as_str()),
            Cell::of(verdict.may_fly),
            Cell::of(verdict.state),
            Cell::maybe(verdict.max_flights),
            Cell::maybe(verdict.flights_left),
            Cell::plain(restrictions.join("; ")),
            Cell::plain(reasons.join("; ")),
        ]);
    }
    table
}
