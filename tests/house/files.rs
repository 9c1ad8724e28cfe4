//! The files of the repository as they lie on disk: what is generated or ignored is left out.

use std::path::{Path, PathBuf};

/// A text file and its path from the top, with `/`.
pub struct File {
    pub path: String,
    pub text: String,
}

/// The top folder of the repository.
pub fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// Names in the top folder that git ignores or that are git itself.
pub const NOT_OURS: &[&str] = &[".git", "target", "demo-data", "demo.env"];

/// Every file below the top folder.
pub fn all_paths() -> Vec<String> {
    let mut list = Vec::new();
    walk(&top(), "", &mut list);
    list.sort();
    assert!(list.len() > 100, "only {} files found below {}", list.len(), top().display());
    list
}

fn walk(folder: &Path, prefix: &str, list: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name().into_string().unwrap();
        let is_ignored = [".db", ".db-shm", ".db-wal"].iter().any(|end| name.ends_with(end));
        if is_ignored || (prefix.is_empty() && NOT_OURS.contains(&name.as_str())) {
            continue;
        }
        let path = format!("{prefix}{name}");
        if entry.file_type().unwrap().is_dir() {
            walk(&entry.path(), &format!("{path}/"), list);
        } else {
            list.push(path);
        }
    }
}

/// The files whose path satisfies a condition, with their text.
pub fn read(wanted: impl Fn(&str) -> bool) -> Vec<File> {
    let files: Vec<File> = all_paths()
        .into_iter()
        .filter(|path| wanted(path))
        .map(|path| File { text: std::fs::read_to_string(top().join(&path)).unwrap(), path })
        .collect();
    assert!(!files.is_empty(), "no file to look at: has a folder moved?");
    files
}

/// All Rust files.
pub fn rust() -> Vec<File> {
    read(|path| path.ends_with(".rs"))
}

/// Fails with all complaints, one a line.
#[track_caller]
pub fn expect_none(complaints: &[String]) {
    assert!(complaints.is_empty(), "\n{}\n", complaints.join("\n"));
}
