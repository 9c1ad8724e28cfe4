//! `preen repair sheet` and `preen repair show`: how a repair is done, and how one stands.

use preen_domain::answers::{Answer, JoinerLoss, RepairSheet, SheetRow};
use preen_domain::facts::Noun;
use preen_domain::words::{RepairKind, StepResult};
use preen_domain::worksheets::{Reopened, Worksheet};

use super::{Session, frame_line};
use crate::args::Asked;
use crate::failure::Failure;
use crate::moments::show_short;
use crate::output::{Block, Cell, Reply, Table, Tone, left, right};

/// Which kind.
#[derive(Debug, clap::Args)]
pub struct SheetArgs {
    /// The kind of repair, R1 to R13
    kind: RepairKind,
}

/// Which repair, when.
#[derive(Debug, clap::Args)]
pub struct ShowArgs {
    /// The repair
    repair: String,
    #[command(flatten)]
    asked: Asked,
}

fn field(name: &str, text: impl Into<String>) -> (String, Cell) {
    (name.to_owned(), Cell::plain(text))
}

fn spaced(word: &str) -> String {
    word.replace('_', " ")
}

/// What sanding took from a joiner, in a line.
fn told_joiner(joiner: &JoinerLoss) -> String {
    let faces: Vec<String> = joiner
        .faces
        .iter()
        .map(|face| {
            format!(
                "{} {:.2} mm (life {:.2}, {:.2} left without an inspector)",
                face.face, face.here_mm, face.life_mm, face.free_left_mm
            )
        })
        .collect();
    let section = match (joiner.height_mm, joiner.z_vertical_change_pct, joiner.z_fore_aft_change_pct) {
        (Some(height), Some(vertical), Some(fore_aft)) => {
            format!(
                "height {height:.2} mm, section modulus {vertical:+.1} % vertical, {fore_aft:+.1} % fore-aft"
            )
        }
        _ => joiner.note.clone().unwrap_or_default(),
    };
    format!("{} sanded: {}; {section}", joiner.joiner, faces.join(", "))
}

fn told_reopened(one: &Reopened) -> String {
    format!("{} ({}): {}", one.group, one.items.join(", "), one.text)
}

/// Shows the sheet of a kind.
pub fn sheet(args: &SheetArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let received = session.client.get(&["worksheets", args.kind.as_str()], &[])?;
    let sheet: Worksheet = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    reply.line(format!("{} {}: {}", sheet.kind, sheet.title, sheet.purpose));
    let cure = |resin: Option<preen_domain::formulas::cure::Resin>| {
        resin.map(|resin| format!(" [{}]", spaced(resin.as_str()))).unwrap_or_default()
    };
    let material = sheet.materials.iter().map(|one| format!("{}{}", one.text, cure(one.resin)));
    reply.blocks.push(Block::Fields(vec![
        field("work", sheet.class_of_work.as_str()),
        field("done by", sheet.done_by.as_str()),
        field("second person", spaced(sheet.second_person.as_str())),
        field("released by", spaced(sheet.released_by.as_str())),
        field("tools", sheet.tools.join("; ")),
        field("material", material.collect::<Vec<_>>().join("; ")),
        field("limits", sheet.limits.join(" ")),
        field("mass", sheet.mass.as_str()),
        field("looked at again", sheet.reopens.iter().map(told_reopened).collect::<Vec<_>>().join("; ")),
    ]));
    reply.line("");
    let mut rows = Table::new([right("step"), left("what"), left("record"), left("caution")]);
    for step in &sheet.steps {
        reply.line(format!(
            "{:>2}. {}{}",
            step.number,
            step.text,
            if step.is_optional { " (where it applies)" } else { "" }
        ));
        if let Some(caution) = &step.caution {
            reply.line(format!("    ! {caution}"));
        }
        if let Some(record) = &step.record {
            reply.line(format!("    record: {record}"));
        }
        rows.push([
            Cell::of(step.number),
            Cell::plain(step.text.as_str()),
            Cell::maybe(step.record.as_ref()),
            Cell::maybe(step.caution.as_ref()),
        ]);
    }
    reply.csv = rows;
    reply.hint("This is club practice. Times of cure are from memory: the data sheet of the resin wins.");
    Ok(reply)
}

/// Shows the sheet of a repair.
pub fn show(args: &ShowArgs, session: &mut Session<'_, '_>) -> Result<Reply, Failure> {
    let query = args.asked.query(&session.client)?;
    let name = session.client.name(Noun::Repairs, &args.repair)?;
    let received = session.client.get(&[Noun::Repairs.as_str(), name, "sheet"], &query)?;
    let answer: Answer<RepairSheet> = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    let zone = session.client.zone()?;
    let frame = frame_line(&answer, zone);
    let sheet = answer.answer;
    reply.code = if sheet.released_at.is_some() { 0 } else { 1 };
    let state = match sheet.released_at {
        Some(at) => format!("released {}", show_short(at, zone)),
        None => "open".to_owned(),
    };
    reply.line(format!("{} {} {} on {}: {state}", sheet.repair, sheet.kind, sheet.title, sheet.model));
    reply.line(frame);
    let cure = sheet.cure_until_at.map_or_else(
        || "nothing cures".to_owned(),
        |until| {
            let left = match sheet.cure_left_s {
                0 => "cured".to_owned(),
                seconds => format!("{} h {:02} min left", seconds / 3600, seconds % 3600 / 60),
            };
            let source =
                sheet.cure_source.as_deref().map(|source| format!(" ({source})")).unwrap_or_default();
            format!("until {}, {left}{source}", show_short(until, zone))
        },
    );
    let may: Vec<String> = sheet
        .may_release
        .iter()
        .map(|one| if one.is_worker { format!("{} (worked on it)", one.member) } else { one.member.clone() })
        .collect();
    reply.blocks.push(Block::Fields(vec![
        field("text", sheet.text.as_str()),
        field("parts", sheet.parts.join(", ")),
        field("worked", sheet.workers.join(", ")),
        field("looked at by", sheet.looked_at_by.join(", ")),
        field("material", sheet.materials.join("; ")),
        field("mass added", format!("{:+} g", sheet.mass_added_g)),
        field("cure", cure),
        field("second person", spaced(sheet.second_person.as_str())),
        field("released by", format!("{}: {}", spaced(sheet.released_by.as_str()), may.join(", "))),
        field("looked at again", sheet.reopens.iter().map(told_reopened).collect::<Vec<_>>().join("; ")),
    ]));
    for joiner in &sheet.joiners {
        reply.line(told_joiner(joiner));
    }
    reply.line("");
    let mut table = Table::new([right("step"), left("state"), left("by"), left("when"), left("what")]);
    for row in &sheet.steps {
        let mut what = row.text.clone();
        if let Some(reason) = &row.reason {
            what = format!("{what} — {reason}");
        }
        if let Some(caution) = row.caution.as_ref().filter(|_| row.result.is_none()) {
            what = format!("{what} ! {caution}");
        }
        table.push([
            Cell::of(row.number),
            told_result(row),
            Cell::maybe(row.by.as_ref()),
            Cell::maybe(row.at.map(|at| show_short(at, zone))),
            Cell::plain(what),
        ]);
    }
    reply.csv = table.clone();
    reply.blocks.push(Block::Table(table));
    for blocked in &sheet.blocked_by {
        reply.line(format!("release blocked: {}; {}", blocked.text, blocked.clear_by));
    }
    for finding in &sheet.findings {
        reply.line(format!("{}: {}", finding.code.replace('_', " "), finding.text));
    }
    if !sheet.is_kept {
        reply.hint("No step is ticked: it is taken as entered from older papers.");
    }
    Ok(reply)
}

fn told_result(row: &SheetRow) -> Cell {
    match (row.result, row.is_optional) {
        (Some(StepResult::Done), _) => Cell::toned("done", Tone::Good),
        (Some(StepResult::NotApplicable), _) => Cell::plain("not applicable"),
        (None, true) => Cell::plain("optional"),
        (None, false) => Cell::toned("open", Tone::Caution),
    }
}
