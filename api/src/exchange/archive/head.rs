//! What lies in an archive, by which names, and what it says of itself.

use preen_domain::digest::Digest;
use preen_domain::facts::Noun;
use preen_domain::time::Instant;
use serde::{Deserialize, Serialize};

/// The number of the format; it is raised when an older reader would read something wrongly.
pub const FORMAT: u32 = 1;
/// What the format is called in [`Head::format`].
pub const FORMAT_NAME: &str = "preen-archive";

/// The text for people.
pub const README: &str = "README.txt";
/// What the archive says of itself.
pub const HEAD: &str = "club.json";
/// Every fact ever recorded, one a line.
pub const FACTS: &str = "facts.ndjson";
/// Every entry of the trail, one a line.
pub const TRAIL: &str = "trail.ndjson";

/// The name of the table of a noun.
#[must_use]
pub fn table_name(noun: Noun) -> String {
    format!("csv/{noun}.csv")
}

/// The name of a picture.
#[must_use]
pub fn picture_name(digest: &Digest) -> String {
    format!("photos/{digest}.jpg")
}

/// Whether an archive can have something by this name.
#[must_use]
pub fn is_known(name: &str) -> bool {
    if [README, HEAD, FACTS, TRAIL].contains(&name) {
        return true;
    }
    let table = name.strip_prefix("csv/").and_then(|name| name.strip_suffix(".csv"));
    let picture = name.strip_prefix("photos/").and_then(|name| name.strip_suffix(".jpg"));
    table.is_some_and(|noun| noun.parse::<Noun>().is_ok())
        || picture.is_some_and(|digest| digest.parse::<Digest>().is_ok())
}

/// What an archive says of itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Head {
    /// `preen-archive`.
    pub format: String,
    /// The number of the format.
    pub format_number: u32,
    /// The club.
    pub club: ClubHead,
    /// Its newest revision.
    pub revision: i64,
    /// The hash of the last entry of its trail.
    pub head: String,
    /// When the archive was made.
    pub exported_at: Instant,
    /// Facts in it.
    pub facts: usize,
    /// Entries of the trail in it.
    pub entries: usize,
    /// Pictures in it.
    pub photos: usize,
    /// Pictures that photos name and that were lost before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos_lost: Vec<Digest>,
}

/// The club of an archive.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClubHead {
    /// Its short name, which is in every hash of the trail and stays.
    pub short_name: String,
    /// Its id.
    pub id: String,
    /// Its name for people.
    pub name: String,
    /// Where its days begin and end.
    pub time_zone: String,
    /// When it was created.
    pub created_at: Instant,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_the_format_are_known() {
        let digest = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        for good in ["club.json", "csv/flights.csv", &format!("photos/{digest}.jpg")] {
            assert!(is_known(good), "{good}");
        }
        let bad = [
            "",
            "x",
            "../club.json",
            "/club.json",
            "csv/../club.json",
            "csv/wings.csv",
            "csv/",
            "photos/x.jpg",
        ];
        for bad in bad.into_iter().chain(["csv\\flights.csv", "photos/a/b.jpg", "CLUB.JSON", "club.json/"]) {
            assert!(!is_known(bad), "{bad}");
        }
    }
}
