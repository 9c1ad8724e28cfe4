//! Which backups are thrown away: the oldest beyond so many good ones. What is damaged is neither counted nor removed,
//! so that it never stands for a good one.

use std::fs;
use std::path::{Path, PathBuf};

use preen_domain::time::Instant;

use super::BackupError;
use super::label::{Label, beside};

/// What became of the older ones.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rotated {
    /// Thrown away.
    pub removed: Vec<PathBuf>,
    /// Left as they are though they are no good backups.
    pub damaged: Vec<PathBuf>,
}

/// Backups with when they were made.
type Dated = Vec<(PathBuf, Instant)>;

/// The backups of a folder, oldest first: good ones, and those that are not.
pub fn list(folder: &Path) -> Result<(Dated, Vec<PathBuf>), BackupError> {
    let (mut good, mut damaged) = (Vec::new(), Vec::new());
    for entry in fs::read_dir(folder).map_err(BackupError::of(folder))?.flatten() {
        let (path, name) = (entry.path(), entry.file_name());
        let name = name.to_string_lossy();
        if !name.starts_with("preen-") || !(name.ends_with(".zip") || name.ends_with(".zip.age")) {
            continue;
        }
        let length = entry.metadata().map(|data| data.len()).ok();
        match Label::read(&path) {
            Ok(Some(label)) if Some(label.bytes) == length => good.push((path, label.contents.made_at)),
            _ => damaged.push(path),
        }
    }
    good.sort_by(|one, other| (one.1, &one.0).cmp(&(other.1, &other.0)));
    damaged.sort();
    Ok((good, damaged))
}

/// Throws away the oldest beyond `keep`, never the one that was made last.
pub fn rotate(folder: &Path, keep: usize, newest: &Path) -> Result<Rotated, BackupError> {
    let (good, damaged) = list(folder)?;
    let surplus = good.len().saturating_sub(keep.max(1));
    let old = good.into_iter().take(surplus).map(|(path, _)| path).filter(|path| path != newest);
    let mut removed = Vec::new();
    for path in old {
        fs::remove_file(&path).map_err(BackupError::of(&path))?;
        let label = beside(&path);
        fs::remove_file(&label).map_err(BackupError::of(&label))?;
        removed.push(path);
    }
    Ok(Rotated { removed, damaged })
}
