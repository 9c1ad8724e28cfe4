//! What the process takes of its machine, and what is left. Asked of the system each time; nothing is kept.

use std::io;
use std::path::Path;

use rustix::fs::statvfs;
use rustix::param::page_size;

/// Bytes of a disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Room {
    /// What this process may still write.
    pub free: u64,
    /// All of it.
    pub whole: u64,
}

/// The room on the disk that holds a folder.
///
/// # Errors
/// The folder is not there, or its disk does not answer.
pub fn room_at(folder: &Path) -> io::Result<Room> {
    let told = statvfs(folder)?;
    let bytes = |blocks: u64| blocks.saturating_mul(told.f_frsize);
    Ok(Room { free: bytes(told.f_bavail), whole: bytes(told.f_blocks) })
}

/// Bytes of memory that this process holds; nothing where the system does not say.
#[must_use]
pub fn resident_bytes() -> Option<u64> {
    let told = std::fs::read_to_string("/proc/self/statm").ok()?;
    let pages: u64 = told.split_whitespace().nth(1)?.parse().ok()?;
    Some(pages.saturating_mul(u64::try_from(page_size()).ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_system_says_how_much_is_left_and_taken() {
        let room = room_at(Path::new("/")).unwrap();
        assert!(room.whole > 1 << 20 && room.free <= room.whole, "{room:?}");
        assert!(room_at(Path::new("/nowhere-at-all")).is_err());
        let before = resident_bytes().unwrap();
        let held = vec![7_u8; 64 << 20];
        let grown = resident_bytes().unwrap() - before;
        assert!(grown > 48 << 20 && held.iter().all(|byte| *byte == 7), "{grown}");
    }
}
