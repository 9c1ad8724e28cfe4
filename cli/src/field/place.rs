//! The folders in which things of a club are kept for one of its members at one service.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use preen_domain::answers::ClubSaid;
use sha2::{Digest as _, Sha256};

use crate::settings::said_in;

/// Where things are kept, as the environment says.
#[derive(Clone, Debug)]
pub struct Folders {
    state: PathBuf,
    data: PathBuf,
}

impl Folders {
    /// The folders; absent where neither they nor a home are known.
    pub fn find(env: &BTreeMap<String, String>) -> Option<Self> {
        let folder = |name: &str, usual: [&str; 2]| {
            said_in(env, name)
                .map(PathBuf::from)
                .filter(|folder| folder.is_absolute())
                .or_else(|| said_in(env, "HOME").map(|home| Path::new(&home).join(usual[0]).join(usual[1])))
        };
        Some(Self {
            state: folder("XDG_STATE_HOME", [".local", "state"])?.join("preen"),
            data: folder("XDG_DATA_HOME", [".local", "share"])?.join("preen"),
        })
    }

    /// The file that remembers what was last heard of clubs.
    pub fn known(&self) -> PathBuf {
        self.state.join("known.json")
    }

    /// The folder of a member's outbox.
    pub fn outbox(&self, url: &str, club: &ClubSaid) -> PathBuf {
        self.state.join("outbox").join(name(url, club))
    }

    /// The folder of a member's copy.
    pub fn copy(&self, url: &str, club: &ClubSaid) -> PathBuf {
        self.data.join("copies").join(name(url, club))
    }
}

/// Club and member as people read them, and the service by its digest, as addresses hold signs that paths do not.
fn name(url: &str, club: &ClubSaid) -> String {
    format!("{}-{}-{}", club.club, club.member, fingerprint(&["preen service 1", url]))
}

/// The first 16 digits of a digest of some texts: enough to tell a few services and tokens apart, and no way back.
pub fn fingerprint(parts: &[&str]) -> String {
    let mut sha = Sha256::new();
    for part in parts {
        sha.update(part.len().to_be_bytes());
        sha.update(part.as_bytes());
    }
    sha.finalize().iter().take(8).fold(String::with_capacity(16), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_cannot_slide_into_each_other() {
        assert_ne!(fingerprint(&["ab", "c"]), fingerprint(&["a", "bc"]));
        assert_eq!(fingerprint(&["a"]).len(), 16);
    }
}
