//! The only printer. Data goes to stdout as a table for people, as JSON or as CSV; talk goes to stderr.
//!
//! Colour is used on a terminal only, never where NO_COLOR is set, and never alone: what it says, a word says too.

mod csv;
mod json;
mod table;

use std::io::Write;

use crate::Io;
use crate::args::Global;
use crate::failure::Failure;
use crate::settings;

pub use table::{Cell, Column, Table, Tone, left, right};

/// How data is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// For people.
    Table,
    /// As the service answered it.
    Json,
    /// Rows for a spreadsheet.
    Csv,
}

/// How this run prints.
#[derive(Clone, Copy, Debug)]
pub struct Style {
    /// The format.
    pub format: Format,
    /// Whether data may have colour.
    pub is_coloured: bool,
    /// Columns of the terminal; `None`: lines may be of any length.
    pub width: Option<usize>,
}

impl Style {
    /// From what was asked for and where it goes.
    pub fn choose(global: &Global, io: &Io<'_>) -> Self {
        let format = match (global.json, global.csv) {
            (true, _) => Format::Json,
            (false, true) => Format::Csv,
            (false, false) => Format::Table,
        };
        Self {
            format,
            is_coloured: io.is_stdout_terminal && !io.env.contains_key("NO_COLOR"),
            width: io.width.filter(|_| io.is_stdout_terminal),
        }
    }
}

/// A part of an answer for people.
#[derive(Clone, Debug)]
pub enum Block {
    /// A line of text.
    Line(String),
    /// Rows in aligned columns.
    Table(Table),
    /// A text that is printed byte by byte, such as a script.
    Verbatim(String),
    /// Names and values, one below the other.
    Fields(Vec<(String, Cell)>),
}

/// What a command has to say.
#[derive(Clone, Debug, Default)]
pub struct Reply {
    /// The answer as JSON text, as the service sent it.
    pub json: String,
    /// The answer for people.
    pub blocks: Vec<Block>,
    /// The answer as rows.
    pub csv: Table,
    /// The exit code: 0, 1 or 2.
    pub code: u8,
    /// The next sensible commands, and what else is worth saying beside the data.
    pub hints: Vec<String>,
}

impl Reply {
    /// An answer that is one table for people and for CSV alike.
    pub fn of_table(json: String, table: Table) -> Self {
        Self { json, csv: table.clone(), blocks: vec![Block::Table(table)], ..Self::default() }
    }

    /// Adds a line for people.
    pub fn line(&mut self, text: impl Into<String>) {
        self.blocks.push(Block::Line(text.into()));
    }

    /// Adds a hint.
    pub fn hint(&mut self, text: impl Into<String>) {
        self.hints.push(text.into());
    }
}

/// Prints an answer and gives the exit code.
pub fn print(io: &mut Io<'_>, style: &Style, reply: &Reply) -> u8 {
    let text = match style.format {
        Format::Json => json::indent(&reply.json),
        Format::Csv => csv::lines(&reply.csv),
        Format::Table => reply.blocks.iter().map(|block| table::draw(block, style)).collect(),
    };
    // A reader that has seen enough and left (a closed pipe) is no failure of the answer.
    let is_written = io.stdout.write_all(text.as_bytes()).and_then(|()| io.stdout.flush()).is_ok();
    if is_written {
        for hint in &reply.hints {
            say(io, &format!("hint: {hint}"));
        }
    }
    reply.code
}

/// Says what went wrong and gives the exit code.
pub fn complain(io: &mut Io<'_>, _style: &Style, failure: &Failure) -> u8 {
    let is_coloured = io.is_stderr_terminal && !io.env.contains_key("NO_COLOR");
    let word = if is_coloured { "\u{1b}[31;1merror\u{1b}[0m" } else { "error" };
    say(io, &format!("{word}: {}", table::clean(&failure.text)));
    for detail in &failure.details {
        say(io, &format!("  - {}", table::clean(detail)));
    }
    for hint in &failure.hints {
        say(io, &format!("hint: {}", table::clean(hint)));
    }
    failure.code()
}

/// One line of talk.
pub fn say(io: &mut Io<'_>, text: &str) {
    // Nothing can be said about a place to which nothing can be said.
    let _ = writeln!(io.stderr, "{text}");
}

/// A question to somebody who types, without a line end.
pub fn ask(io: &mut Io<'_>, text: &str) {
    let _ = write!(io.stderr, "{text}");
    let _ = io.stderr.flush();
}

/// Progress of something long: only to somebody who watches, and overwritten by the next line.
pub fn progress(io: &mut Io<'_>, text: &str) {
    if io.is_stderr_terminal {
        ask(io, &format!("\r\u{1b}[K{text}"));
    }
}

/// Help, version, or a complaint about the arguments.
pub fn say_usage(io: &mut Io<'_>, said: &clap::Error) -> u8 {
    let is_help = !said.use_stderr();
    let is_terminal = if is_help { io.is_stdout_terminal } else { io.is_stderr_terminal };
    let is_coloured = is_terminal && !io.env.contains_key("NO_COLOR");
    let rendered = said.render();
    let text = if is_coloured { rendered.ansi().to_string() } else { rendered.to_string() };
    let target: &mut dyn Write = if is_help { &mut *io.stdout } else { &mut *io.stderr };
    let _ = target.write_all(text.as_bytes()).and_then(|()| target.flush());
    if is_help { 0 } else { crate::failure::BAD_INPUT }
}

/// Notes on how access was found.
pub fn say_notes(io: &mut Io<'_>, notes: &[String]) {
    for note in notes {
        say(io, &format!("note: {note}"));
    }
}

/// The environment and the exit codes, for the help.
pub const HELP: &str = settings::HELP;
