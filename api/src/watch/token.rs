//! The file with the word that lets others than this machine read the numbers.

use std::path::Path;

/// Letters that the word must have.
const LEAST: usize = 16;

/// Why the file cannot be used. Every text says what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum TokenFileError {
    /// It is not there, or may not be read.
    #[error("{0}: {1}. It must be readable and hold the token on its first line.")]
    Unreadable(String, std::io::Error),
    /// Others may read it.
    #[error("{0} can be read by others on this machine: `chmod 600` it, and put a new token into it")]
    Open(String),
    /// Too short or with other letters than can be sent.
    #[error("{0}: the token is its first line, {LEAST} letters, digits or signs at least, without spaces")]
    Poor(String),
}

/// Reads the word.
///
/// # Errors
/// [`TokenFileError`], which says what to do.
pub fn read_token(file: &Path) -> Result<String, TokenFileError> {
    let shown = file.display().to_string();
    let text =
        std::fs::read_to_string(file).map_err(|error| TokenFileError::Unreadable(shown.clone(), error))?;
    if is_open(file) {
        return Err(TokenFileError::Open(shown));
    }
    let token = text.lines().next().unwrap_or_default().trim();
    let is_sound = token.len() >= LEAST && token.bytes().all(|byte| byte.is_ascii_graphic());
    if is_sound { Ok(token.to_owned()) } else { Err(TokenFileError::Poor(shown)) }
}

/// Whether others than its owner and group may read a file.
#[must_use]
pub fn is_open(file: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt as _;
    std::fs::metadata(file).is_ok_and(|known| known.permissions().mode() & 0o004 != 0)
}
