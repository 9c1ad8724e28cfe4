//! What `swap`, `fit` and `remove` have in common: sending the plan, and showing what it does.

use preen_domain::answers::{SwapAnswer, SwapDelta};
use preen_domain::formulas::balance::MassAndCg;
use serde_json::Value;

use super::Session;
use super::balance::{field, fields_as_csv, say_method, say_range, show_findings};
use crate::failure::Failure;
use crate::output::{Block, Cell, Reply, Table, left, right};

/// Whether only to say what it would do.
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct Preview {
    /// Only say what it would do; nothing is recorded
    #[arg(long)]
    pub preview: bool,
}

/// Sends the plan and shows what came of it.
pub fn send(
    session: &Session<'_, '_>,
    path: &[&str],
    preview: Preview,
    body: &Value,
    what: &str,
) -> Result<Reply, Failure> {
    let query = if preview.preview { vec![("preview", "true".to_owned())] } else { Vec::new() };
    let received = session.client.post(path, &query, body)?;
    let answer: SwapAnswer = received.read()?;
    let mut reply = Reply { json: received.text, ..Reply::default() };
    reply.line(match (answer.is_preview, received.is_new) {
        (true, _) => format!("Would be done, nothing is recorded: {what}."),
        (false, true) => format!("Recorded: {what}."),
        (false, false) => format!("On record already: {what}."),
    });
    show(&mut reply, &answer);
    if answer.is_preview {
        reply.hint("The same without --preview records it.");
    } else if let (Some(model), Some(group)) = (&answer.model, answer.checks_opened.first()) {
        reply.hint(format!("`preen inspect {model} {group} --result pass` when {group} is done and passed."));
    }
    Ok(reply)
}

fn show(reply: &mut Reply, answer: &SwapAnswer) {
    if let (Some(before), Some(after), Some(delta)) = (&answer.before, &answer.after, &answer.delta) {
        reply.line("");
        reply.blocks.push(Block::Table(balance_table(before, after, delta)));
    }
    let mut fields = Vec::new();
    if let Some(delta) = &answer.delta {
        let parts: Vec<String> = [
            ("roll", delta.roll_inertia_pct),
            ("pitch", delta.pitch_inertia_pct),
            ("yaw", delta.yaw_inertia_pct),
        ]
        .into_iter()
        .filter_map(|(axis, percent)| Some(format!("{axis} {:+.3} %", percent?)))
        .collect();
        if !parts.is_empty() {
            fields.push(field("inertia", parts.join(", ")));
        }
    }
    if let Some(range) = &answer.range {
        fields.push(field("range", say_range(range.min_mm, range.max_mm, range.inside)));
    }
    if let (Some(weight), Some(x)) = (answer.nose_weight_g, answer.nose_weight_x_mm) {
        let needed = match &answer.range {
            Some(range) if range.inside => "; not required to fly",
            Some(_) | None => "",
        };
        fields.push(field(
            "nose weight",
            format!("{weight:+.2} g at x {x:.0} mm restores the CG before{needed}"),
        ));
    }
    fields.extend(answer.method.map(|method| field("from", say_method(method))));
    let opened =
        if answer.checks_opened.is_empty() { "none".to_owned() } else { answer.checks_opened.join(", ") };
    fields.push(field("checks opened", opened));
    let mut csv = fields_as_csv(&fields);
    if let Some(delta) = &answer.delta {
        for (name, value) in [("mass change g", delta.mass_g), ("x change mm", delta.x_mm)] {
            csv.push([Cell::plain(name), Cell::of(value)]);
        }
    }
    reply.csv = csv;
    reply.line("");
    reply.blocks.push(Block::Fields(fields));
    show_findings(reply, &answer.findings);
}

fn balance_table(before: &MassAndCg, after: &MassAndCg, delta: &SwapDelta) -> Table {
    let mut table = Table::new([left(""), right("before"), right("after"), right("change")]);
    for (name, before, after, change, decimals) in [
        ("mass g", before.mass_g, after.mass_g, delta.mass_g, 2),
        ("CG x mm", before.x_mm, after.x_mm, delta.x_mm, 3),
        ("CG y mm", before.y_mm, after.y_mm, delta.y_mm, 3),
        ("CG z mm", before.z_mm, after.z_mm, delta.z_mm, 3),
    ] {
        table.push([
            Cell::plain(name),
            Cell::number(before, decimals),
            Cell::number(after, decimals),
            Cell::plain(format!("{change:+.decimals$}")),
        ]);
    }
    table
}
