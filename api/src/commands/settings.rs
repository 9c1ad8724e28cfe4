//! What is wrong with a setting of the service, said at the start in one line: which setting, and what to do.
//!
//! Here the settings are looked at that would only be missed later, and faults of the others get the name of theirs.

use std::path::Path;

use clap::CommandFactory as _;

use crate::config::{Cli, ServeArgs, names_in_environment};
use crate::db::conn::Place;
use crate::server::StartError;
use crate::watch::token::read_token;

/// A setting and what is wrong with it.
#[derive(Debug)]
pub struct Wrong {
    /// As an option and in the environment.
    setting: String,
    /// What is wrong with it and what to do.
    text: String,
}

impl Wrong {
    /// The line about it. Several lines of a fault become one.
    pub fn new(setting: &str, text: impl std::fmt::Display) -> Self {
        let text = text.to_string().split_whitespace().collect::<Vec<_>>().join(" ");
        Self { setting: setting.to_owned(), text }
    }
}

impl std::fmt::Display for Wrong {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.setting, self.text)
    }
}

impl std::error::Error for Wrong {}

/// Settings as people find them.
pub const DATABASE: &str = "--database (PREEN_DATABASE)";
pub const LISTEN: &str = "--listen (PREEN_LISTEN)";
/// A read replica.
pub const REPLICA: &str = "--replica (PREEN_REPLICA)";
/// Pictures.
pub const PHOTOS: &str = "--photos (PREEN_PHOTOS)";
const TLS: &str = "--tls-cert, --tls-key (PREEN_TLS_CERT, PREEN_TLS_KEY)";
const BACKUP_TO: &str = "--backup-to (PREEN_BACKUP_TO)";

/// Which setting a failed start is about.
#[must_use]
pub fn of_start(error: &StartError, database: &Place) -> Wrong {
    let setting = match error {
        StartError::Open(_) => DATABASE,
        StartError::Listen(..) => LISTEN,
        StartError::Tls(_) => TLS,
        StartError::Photos(_) => PHOTOS,
        StartError::Thread(_) => "threads of this machine",
    };
    let advice = match error {
        StartError::Listen(_, error) if error.kind() == std::io::ErrorKind::AddrInUse => {
            ". Something else listens there: end it, or name another port."
        }
        StartError::Listen(..) => ". Name an address of this machine and a port that may be taken.",
        _ => "",
    };
    Wrong::new(setting, format!("{}{advice}", database.without_secrets(&error.to_string())))
}

/// Refuses what looks like a setting that was mistyped: it would be passed over in silence.
///
/// # Errors
/// The name, and the one that was probably meant.
pub fn check_names() -> Result<(), Wrong> {
    let command = Cli::command();
    let all = std::iter::once(&command).chain(command.get_subcommands());
    let names = all.flat_map(clap::Command::get_arguments).filter_map(clap::Arg::get_env);
    let mut known: Vec<String> = names.filter_map(|name| Some(name.to_str()?.to_owned())).collect();
    known.push("PREEN_LOG".to_owned());
    for name in names_in_environment() {
        if known.contains(&name) {
            continue;
        }
        let near = known.iter().find(|known| strsim::damerau_levenshtein(known, &name) <= 2);
        if let Some(meant) = near {
            let text = format!("nothing is set by that name; is {meant} meant? Rename it, or take it away.");
            return Err(Wrong::new(&name, text));
        }
    }
    Ok(())
}

/// Refuses words that are no level: they would be taken for parts of the program, and nothing be logged.
///
/// # Errors
/// The first such word.
pub fn check_log(text: &str) -> Result<(), String> {
    const LEVELS: [&str; 6] = ["off", "error", "warn", "info", "debug", "trace"];
    let is_level = |word: &str| LEVELS.contains(&word.to_ascii_lowercase().as_str());
    for part in text.split(',').map(str::trim).filter(|part| !part.is_empty()) {
        let word = part.rsplit_once('=').map_or(part, |(_, level)| level);
        if !is_level(word) {
            return Err(format!("`{word}` is no level"));
        }
    }
    Ok(())
}

/// Looks whether backups can be kept where the settings say.
///
/// # Errors
/// They cannot.
pub fn check_backups(args: &ServeArgs, records: &Place) -> Result<(), Wrong> {
    let Some(folder) = &args.backup_to else { return Ok(()) };
    let wrong = |error: &dyn std::fmt::Display| Wrong::new(BACKUP_TO, error);
    if matches!(records, Place::Server(_)) {
        return Err(wrong(&crate::backup::FOR_SERVERS));
    }
    try_to_write(folder).map_err(|error| {
        wrong(&format!(
            "nothing can be kept in {}: {error}. Name a folder that may be written.",
            folder.display()
        ))
    })
}

/// What lets others read the numbers.
///
/// # Errors
/// The file cannot be used.
pub fn metrics_token(args: &ServeArgs) -> Result<Option<String>, Wrong> {
    let read = args.metrics_token_file.as_deref().map(read_token).transpose();
    read.map_err(|error| Wrong::new("--metrics-token-file (PREEN_METRICS_TOKEN_FILE)", error))
}

fn try_to_write(folder: &Path) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
    tempfile::tempfile_in(folder).map(drop)
}
