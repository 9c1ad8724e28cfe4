//! How much of an archive is read at most, and what is said of one that goes beyond. An archive may come from anybody.

use super::head::FORMAT;

/// What an archive may have at most.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of the file itself.
    pub packed_bytes: u64,
    /// Things in it.
    pub entries: usize,
    /// Bytes of one of them, unpacked.
    pub entry_bytes: u64,
    /// Bytes of all of them, unpacked.
    pub all_bytes: u64,
    /// How many times longer something may be than it is packed, beyond the first MiB.
    pub ratio: u64,
    /// Bytes of one line.
    pub line_bytes: u64,
    /// Lines of one revision.
    pub step_lines: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            packed_bytes: 32 << 30,
            entries: 100_000,
            entry_bytes: 8 << 30,
            all_bytes: 32 << 30,
            ratio: 200,
            line_bytes: 4 << 20,
            step_lines: 50_000,
        }
    }
}

/// Why an archive is not taken.
#[derive(Debug, thiserror::Error)]
pub enum BadArchive {
    /// It is no archive of this kind.
    #[error("this is no archive of a club: {0}")]
    Other(String),
    /// It was made by a newer version.
    #[error("the archive has format {0}, and this preen-server knows up to {FORMAT}: use a newer one")]
    TooNew(u32),
    /// It broke off, or bytes of it changed.
    #[error("the archive is damaged: {0}")]
    Damaged(String),
    /// It goes beyond a limit.
    #[error("the archive goes beyond a limit: {0}")]
    Beyond(String),
    /// It holds what no archive holds.
    #[error("the archive holds {0}, which no archive of a club does")]
    Foreign(String),
    /// A line cannot be read.
    #[error("{file} line {line}: {text}")]
    Line {
        /// In which file.
        file: &'static str,
        /// Which one, from 1.
        line: u64,
        /// What is wrong with it.
        text: String,
    },
}
