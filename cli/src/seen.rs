//! Up to which revision somebody has looked at a club: one small file in the folder for state, a line a service
//! and club. Losing it costs nothing but the memory of the last look.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::failure::Failure;
use crate::files::write_whole;
use crate::settings::said_in;

/// The file; absent where no folder for it is known.
fn path(env: &BTreeMap<String, String>) -> Option<PathBuf> {
    let folder = said_in(env, "XDG_STATE_HOME")
        .map(PathBuf::from)
        .filter(|folder| folder.is_absolute())
        .or_else(|| said_in(env, "HOME").map(|home| Path::new(&home).join(".local").join("state")))?;
    Some(folder.join("preen").join("seen.json"))
}

fn key(url: &str, club: &str) -> String {
    format!("{url} {club}")
}

/// Up to which revision a club was looked at; absent if it never was, or nobody remembers.
pub fn last(env: &BTreeMap<String, String>, url: &str, club: &str) -> Option<i64> {
    all(&path(env)?).get(&key(url, club)).copied()
}

/// Remembers it. Where no folder is known nothing is remembered.
///
/// # Errors
/// The file that cannot be written.
pub fn remember(env: &BTreeMap<String, String>, url: &str, club: &str, revision: i64) -> Result<(), Failure> {
    let Some(path) = path(env) else { return Ok(()) };
    let mut all = all(&path);
    if all.insert(key(url, club), revision) == Some(revision) {
        return Ok(());
    }
    let not_written =
        |error: std::io::Error| Failure::bad_input(format!("{} cannot be written: {error}.", path.display()));
    let text = serde_json::to_string_pretty(&all)
        .map_err(|error| Failure::bad_input(format!("The last look cannot be written: {error}.")))?;
    write_whole(&path, &text).map_err(not_written)
}

fn all(path: &Path) -> BTreeMap<String, i64> {
    fs::read_to_string(path).ok().and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default()
}
