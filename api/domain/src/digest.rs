//! The digest by which kept content is named. What computes one lives with those who read the content.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Why a text is no digest.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no SHA-256: 64 digits of 0 to 9 and a to f")]
pub struct BadDigest(String);

/// A SHA-256 digest (FIPS 180-4) in small hexadecimal digits.
///
/// ```
/// use preen_domain::digest::Digest;
/// let of_nothing = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
/// assert_eq!(of_nothing.parse::<Digest>().unwrap().as_str(), of_nothing);
/// assert!("E3B0".parse::<Digest>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(try_from = "String", into = "String")]
#[schema(
    value_type = String, min_length = 64, max_length = 64, pattern = "^[0-9a-f]{64}$",
    example = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
)]
pub struct Digest(String);

impl Digest {
    /// The digits.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for Digest {
    type Error = BadDigest;

    fn try_from(text: String) -> Result<Self, BadDigest> {
        let is_digit = |byte: u8| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte);
        if text.len() == 64 && text.bytes().all(is_digit) { Ok(Self(text)) } else { Err(BadDigest(text)) }
    }
}

impl std::str::FromStr for Digest {
    type Err = BadDigest;

    fn from_str(text: &str) -> Result<Self, BadDigest> {
        Self::try_from(text.to_owned())
    }
}

impl From<Digest> for String {
    fn from(digest: Digest) -> Self {
        digest.0
    }
}

impl std::fmt::Display for Digest {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}
