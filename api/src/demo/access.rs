//! Access for the members of a demo club: their tokens, and the file that a shell can source.

use std::{
    fs::OpenOptions,
    io::Write,
    path::{Path, PathBuf},
};

use preen_domain::{facts::Fact, words::Role};
use serde_json::json;
use uuid::Uuid;

use super::rest::{Rest, RestError};
use crate::exchange::tables::Row;

/// The member whose token stands in `PREEN_TOKEN`, if the club has one of this tag.
const USUAL: &str = "FS";

/// Tokens by the tag of their member.
#[derive(Debug, Clone)]
pub struct Tokens(Vec<(String, String)>);

impl Tokens {
    /// Has the keeper make one for each member: for reading, recording and taking a copy, and the keeper's
    /// also for entering what others did.
    ///
    /// # Errors
    /// The service does not answer, or refuses.
    pub async fn make(keeper: &Rest, rows: &[Row]) -> Result<Self, RestError> {
        let mut made = Vec::new();
        for row in rows {
            let Fact::Member(member) = &row.fact else { continue };
            let mut scopes = vec!["read", "write", "copy", "calendar"];
            if member.roles.contains(&Role::Keeper) {
                scopes.push("history");
            }
            let wanted =
                json!({ "id": Uuid::now_v7(), "member": member.id, "label": "demo", "scopes": scopes });
            let answer = keeper.post("tokens", &wanted).await?;
            let token = answer.get("token").and_then(|token| token.as_str()).unwrap_or_default();
            made.push((member.tag.to_string(), token.to_owned()));
        }
        Ok(Self(made))
    }

    /// The token of a member.
    #[must_use]
    pub fn of(&self, tag: &str) -> Option<&str> {
        self.0.iter().find(|(member, _)| member == tag).map(|(_, token)| token.as_str())
    }

    /// The token for `PREEN_TOKEN`.
    #[must_use]
    pub fn usual(&self) -> Option<&str> {
        self.of(USUAL).or_else(|| self.0.first().map(|(_, token)| token.as_str()))
    }

    /// Writes `demo.env` into a folder, for its owner's eyes only.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn write_env(&self, folder: &Path, url: &str) -> std::io::Result<PathBuf> {
        let path = folder.join("demo.env");
        if path.exists() {
            std::fs::remove_file(&path)?;
        }
        let mut options = OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = options.open(&path)?;
        writeln!(file, "# Access to the demo club, made by `preen-server demo`; gone when it starts again.")?;
        writeln!(file, "export PREEN_URL={url}")?;
        writeln!(file, "export PREEN_TOKEN={}", self.usual().unwrap_or_default())?;
        for (tag, token) in &self.0 {
            writeln!(file, "export PREEN_TOKEN_{}={token}", variable(tag))?;
        }
        file.sync_all()?;
        Ok(path)
    }
}

/// A tag as part of a variable's name.
fn variable(tag: &str) -> String {
    tag.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_uppercase() } else { '_' }).collect()
}
