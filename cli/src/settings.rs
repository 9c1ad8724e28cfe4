//! Where the service is and by which token it is asked: the one place where the environment is read.
//!
//! The address is taken from `--url`, else from `PREEN_URL`, else from the stored access, else it is this
//! machine. The token is taken from `PREEN_TOKEN`, else from the stored access, and from there only for the
//! address it was stored with, so that it is never sent to another service.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::failure::Failure;
use crate::files::write_whole;

/// What the help says about the environment.
pub const HELP: &str = "\
Environment:
  PREEN_URL        Address of the service; the stored access or http://127.0.0.1:8026 if absent
  PREEN_TOKEN      Token by which it is asked; the one stored by `preen login` if absent
  XDG_CONFIG_HOME  Folder of settings, ~/.config if absent; `preen login` writes preen/access.json
  XDG_STATE_HOME   Folder of state, ~/.local/state if absent; the last look of `preen changes`, the outbox
  XDG_DATA_HOME    Folder of data, ~/.local/share if absent; `preen copy` keeps the copy there
  NO_COLOR         No colour, whatever its value (colour never carries meaning alone)

Exit codes:
  0  nothing due              3  bad input
  1  something due, or        4  refused by a rule or by access
     a model restricted       5  the service cannot be reached
  2  overdue, never done, or
     a model that may not fly";

const HERE: &str = "http://127.0.0.1:8026";

/// Address and token.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Access {
    /// Address of the service, without a slash at the end.
    pub url: String,
    /// The token, if there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub token: Option<String>,
    /// What the service calls the token, where it was made from here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub token_id: Option<String>,
}

/// Address and token, and what the user should know about where they came from.
pub fn find(env: &BTreeMap<String, String>, url: Option<&str>) -> Result<(Access, Vec<String>), Failure> {
    let mut notes = Vec::new();
    let stored = match path(env) {
        Some(path) => read(&path, &mut notes)?,
        None => None,
    };
    let said = url.map(ToOwned::to_owned).or_else(|| said_in(env, "PREEN_URL"));
    let url = said.or_else(|| stored.as_ref().map(|access| access.url.clone()));
    let url = tidy(&url.unwrap_or_else(|| HERE.to_owned()));
    let token = said_in(env, "PREEN_TOKEN")
        .or_else(|| stored.filter(|access| access.url == url).and_then(|access| access.token));
    Ok((Access { url, token, token_id: None }, notes))
}

/// The stored access, if there is one.
pub fn stored(env: &BTreeMap<String, String>) -> Result<Option<Access>, Failure> {
    path(env).map_or(Ok(None), |path| read(&path, &mut Vec::new()))
}

/// Removes the stored access.
pub fn remove(env: &BTreeMap<String, String>) -> Result<PathBuf, Failure> {
    let path = path(env).unwrap_or_default();
    fs::remove_file(&path)
        .map_err(|error| Failure::bad_input(format!("{} cannot be removed: {error}.", path.display())))?;
    Ok(path)
}

/// A value of the environment; an empty one counts as absent.
pub fn said_in(env: &BTreeMap<String, String>, name: &str) -> Option<String> {
    env.get(name).map(|value| value.trim().to_owned()).filter(|value| !value.is_empty())
}

/// An address without a slash at its end.
pub fn tidy(url: &str) -> String {
    url.trim().trim_end_matches('/').to_owned()
}

/// The file of the stored access; absent where no folder for it is known.
pub fn path(env: &BTreeMap<String, String>) -> Option<PathBuf> {
    let folder = said_in(env, "XDG_CONFIG_HOME")
        .map(PathBuf::from)
        .filter(|folder| folder.is_absolute())
        .or_else(|| said_in(env, "HOME").map(|home| Path::new(&home).join(".config")))?;
    Some(folder.join("preen").join("access.json"))
}

fn read(path: &Path, notes: &mut Vec<String>) -> Result<Option<Access>, Failure> {
    let text = match fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(error) => {
            return Err(Failure::bad_input(format!("{} cannot be read: {error}.", path.display())));
        }
    };
    if is_open_to_others(path) {
        notes.push(format!(
            "{} can be read by others: `chmod 600` it, or `preen login` anew.",
            path.display()
        ));
    }
    serde_json::from_str(&text).map(Some).map_err(|error| {
        Failure::bad_input(format!("{} is not an access file: {error}.", path.display()))
            .hint("`preen login` writes it anew.")
    })
}

#[cfg(unix)]
fn is_open_to_others(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt;
    fs::metadata(path).is_ok_and(|data| data.permissions().mode() & 0o077 != 0)
}

#[cfg(not(unix))]
fn is_open_to_others(_path: &Path) -> bool {
    false
}

/// Stores address and token, readable by their owner alone, in one step: an old file or the new one is
/// there at any moment, never half of one.
pub fn store(env: &BTreeMap<String, String>, access: &Access) -> Result<PathBuf, Failure> {
    let path = path(env).ok_or_else(|| {
        Failure::bad_input("No folder for settings is known.").hint("Set XDG_CONFIG_HOME or HOME.")
    })?;
    let not_written =
        |error: std::io::Error| Failure::bad_input(format!("{} cannot be written: {error}.", path.display()));
    let text = serde_json::to_string_pretty(access)
        .map_err(|error| Failure::bad_input(format!("The access cannot be written: {error}.")))?;
    write_whole(&path, &text).map_err(not_written)?;
    Ok(path)
}
