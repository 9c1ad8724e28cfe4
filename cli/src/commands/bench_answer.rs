//! How answers of the bench calculators are shown: names and values, the worst class with its exit code, cautions
//! last, and the same as rows. How questions are typed lives in `bench`.

use preen_domain::words::Severity;

use super::balance::{field, fields_as_csv};
use crate::output::{Block, Cell, Reply, Tone};

/// A class as a word with a shape.
pub fn class_cell(class: Option<Severity>) -> Cell {
    match class {
        Some(Severity::Ground) => Cell::toned("■ ground", Tone::Bad),
        Some(Severity::Restrict) => Cell::toned("▲ restrict", Tone::Caution),
        Some(Severity::Watch) => Cell::plain("· watch"),
        None => Cell::plain("inside the limits"),
    }
}

/// A class as a word behind a value.
pub fn say_class(class: Option<Severity>) -> String {
    class_cell(class).text
}

/// Puts an answer together: its fields, the worst class of all parts, cautions, method.
pub fn reply(
    json: String,
    mut fields: Vec<(String, Cell)>,
    class: Option<Option<Severity>>,
    cautions: &[String],
    method: &str,
) -> Reply {
    if let Some(class) = class {
        fields.push(("worst".to_owned(), class_cell(class)));
    }
    fields.push(field("method", method));
    let mut rows = fields.clone();
    rows.extend(cautions.iter().map(|caution| field("caution", caution.as_str())));
    let mut reply = Reply { json, csv: fields_as_csv(&rows), ..Reply::default() };
    reply.code = match class.flatten() {
        Some(Severity::Ground) => 2,
        Some(Severity::Restrict) => 1,
        Some(Severity::Watch) | None => 0,
    };
    reply.blocks.push(Block::Fields(fields));
    reply.line("");
    for caution in cautions {
        reply.line(format!("Caution: {caution}"));
    }
    reply.line("Computed values are estimates: measure and test before relying on them.");
    reply
}

/// Values in one line.
pub fn joined(values: impl IntoIterator<Item = f64>, decimals: usize) -> String {
    let texts: Vec<String> = values.into_iter().map(|value| format!("{value:.decimals$}")).collect();
    texts.join(" / ")
}
