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

/// Tokens by the tag of their member, and the password with which each of them signs in to the pages.
#[derive(Debug, Clone)]
pub struct Tokens {
    tokens: Vec<(String, String)>,
    password: Option<String>,
}

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
        Ok(Self { tokens: made, password: None })
    }

    /// Gives every member the same password for the pages, made anew at each start.
    ///
    /// # Errors
    /// The service does not answer, or refuses.
    pub async fn set_password(&mut self, rest: &Rest) -> Result<(), RestError> {
        // The last digits of such an id are random.
        let random = Uuid::now_v7().simple().to_string();
        let password = format!("thermal-{}", random.get(24..).unwrap_or(&random));
        let wanted = json!({ "new_password": password });
        // Few at once: the service hashes two at a time and lets no long queue wait.
        for some in self.tokens.chunks(8) {
            let set = some.iter().map(|(tag, token)| {
                let (own, path) = (rest.with_token(token), format!("members/{tag}/password"));
                let wanted = &wanted;
                async move { own.put(&path, wanted).await }
            });
            futures_util::future::try_join_all(set).await?;
        }
        self.password = Some(password);
        Ok(())
    }

    /// The password of every member, if there is one.
    #[must_use]
    pub fn password(&self) -> Option<&str> {
        self.password.as_deref()
    }

    /// Who signs in, for an example.
    #[must_use]
    pub fn usual_member(&self) -> Option<&str> {
        let usual = self.tokens.iter().find(|(member, _)| member == USUAL).or_else(|| self.tokens.first());
        usual.map(|(member, _)| member.as_str())
    }

    /// The token of a member.
    #[must_use]
    pub fn of(&self, tag: &str) -> Option<&str> {
        self.tokens.iter().find(|(member, _)| member == tag).map(|(_, token)| token.as_str())
    }

    /// The token for `PREEN_TOKEN`.
    #[must_use]
    pub fn usual(&self) -> Option<&str> {
        self.of(USUAL).or_else(|| self.tokens.first().map(|(_, token)| token.as_str()))
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
        if let Some(password) = self.password() {
            writeln!(file, "export PREEN_PASSWORD={password}")?;
        }
        for (tag, token) in &self.tokens {
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
