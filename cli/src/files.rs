//! Small files that must never be half written: an old one or the new one is there at any moment, readable by their
//! owner alone. Not here: what stands in them.

use std::fs;
use std::io::{self, Write as _};
use std::path::Path;

/// Makes a folder with all above it, open to their owner alone where they are new.
#[cfg(unix)]
pub fn make_folder(folder: &Path) -> io::Result<()> {
    use std::os::unix::fs::DirBuilderExt as _;
    fs::DirBuilder::new().recursive(true).mode(0o700).create(folder)
}

/// Makes a folder with all above it.
#[cfg(not(unix))]
pub fn make_folder(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)
}

/// Options by which a file is made that only its owner can read.
#[cfg(unix)]
pub fn private() -> fs::OpenOptions {
    use std::os::unix::fs::OpenOptionsExt as _;
    let mut options = fs::OpenOptions::new();
    options.mode(0o600);
    options
}

/// Options by which a file is made.
#[cfg(not(unix))]
pub fn private() -> fs::OpenOptions {
    fs::OpenOptions::new()
}

/// Writes a whole file in one step and sees to it that it outlasts a power cut; its folder is made if it is missing.
pub fn write_whole(path: &Path, text: &str) -> io::Result<()> {
    write_bytes(path, format!("{text}\n").as_bytes())
}

/// The same for what is no text.
pub fn write_bytes(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    make_folder(folder)?;
    let draft = path.with_extension(format!("{}.new", std::process::id()));
    let written = private()
        .write(true)
        .create_new(true)
        .open(&draft)
        .and_then(|mut file| {
            file.write_all(bytes)?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&draft, path))
        .and_then(|()| sync_folder(folder));
    if written.is_err() {
        let _ = fs::remove_file(&draft);
    }
    written
}

/// Sees to it that names added to or taken out of a folder outlast a power cut.
#[cfg(unix)]
pub fn sync_folder(folder: &Path) -> io::Result<()> {
    fs::File::open(folder)?.sync_all()
}

/// Names in a folder are kept by the system.
#[cfg(not(unix))]
pub fn sync_folder(_folder: &Path) -> io::Result<()> {
    Ok(())
}
