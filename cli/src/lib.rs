//! The Preen command line as a library: [`run`] takes arguments and streams and gives the exit code.
//!
//! * `args`: what can be typed · `commands`: one file a command · `settings`: environment and stored access
//! * `client`: the only user of the network · `failure`: what went wrong, as exit code, sentence and hint
//! * `output`: the only printer · `moments`: times as people type and read them · `fields`: `FIELD=VALUE`
//! * `field`: outbox and copy, for work without signal · `files`: files that are never half written · `rows`: spreadsheets
//! * `names`: ids to tags · `suggest`: did you mean
//!
//! Nothing here reads the process's own environment or clock: what time it is, the service says, or is reckoned from
//! what it last said.

mod args;
mod client;
mod commands;
mod failure;
mod field;
mod fields;
mod files;
mod moments;
mod names;
mod output;
pub mod rows;
mod seen;
mod settings;
mod suggest;

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::io::{Read, Write};

use preen_domain::time::Instant;
use uuid::Uuid;

pub use args::command;

/// What a run of the program is given by its surroundings.
pub struct Io<'a> {
    /// Where input is read from, where it is asked for.
    pub stdin: &'a mut dyn Read,
    /// Reads a line that is not shown while it is typed; asked only where somebody types.
    pub read_hidden: &'a mut dyn FnMut() -> std::io::Result<String>,
    /// Data.
    pub stdout: &'a mut dyn Write,
    /// Talk: hints, progress, complaints.
    pub stderr: &'a mut dyn Write,
    /// Whether somebody types at the input.
    pub is_stdin_terminal: bool,
    /// Whether somebody reads the data.
    pub is_stdout_terminal: bool,
    /// Whether somebody reads the talk.
    pub is_stderr_terminal: bool,
    /// Columns of the terminal, if there is one.
    pub width: Option<usize>,
    /// The environment.
    pub env: BTreeMap<String, String>,
    /// What the clock of this machine reads (compared with the service's, never taken for the time).
    pub now: &'a mut dyn FnMut() -> Instant,
    /// Where ids of new facts come from (UUIDv7).
    pub new_id: &'a mut dyn FnMut() -> Uuid,
}

/// Runs the program with its arguments (without its own name) and gives the exit code:
/// 0 nothing due, 1 something due or restricted, 2 overdue or grounded, 3 bad input, 4 refused by a rule or
/// by access, 5 the service cannot be reached.
pub fn run(args: impl IntoIterator<Item = OsString>, io: &mut Io<'_>) -> u8 {
    let wanted = match args::parse(args, io) {
        Ok(wanted) => wanted,
        Err(said) => return output::say_usage(io, &said),
    };
    let style = output::Style::choose(&wanted.global, io);
    match commands::run(&wanted, io) {
        Ok(reply) => output::print(io, &style, &reply),
        Err(failure) => output::complain(io, &style, &failure),
    }
}
