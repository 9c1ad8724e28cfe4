//! Texts that people write: tags read by eye on a part, and notes. Control characters never pass.

use ecow::EcoString;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Why a text was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadText {
    /// Nothing stands there.
    #[error("must not be empty")]
    Empty,
    /// More characters than allowed.
    #[error("has {0} characters: {1} are allowed")]
    TooLong(usize, usize),
    /// A character that cannot stand there.
    #[error("holds {0:?}: {1}")]
    BadCharacter(char, &'static str),
    /// It reads like an identifier.
    #[error("must not look like a UUID, which is an id and not a tag")]
    LikeAnId,
}

/// A short code read by eye on a model or part, such as `SG-01`: 1 to 40 letters, digits, `-`, `_` and `.`,
/// beginning with a letter or digit. Upper and lower case differ.
///
/// ```
/// use preen_domain::text::Tag;
/// assert!("SV08-B011".parse::<Tag>().is_ok());
/// assert!("SG\u{7}01".parse::<Tag>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(try_from = "String", into = "String")]
#[schema(
    value_type = String, min_length = 1, max_length = 40, example = "SG-01",
    pattern = r"^[^\u0000-/:-@\[-`{-\u007f][^\u0000-,/:-@\[-^`{-\u007f]*$"
)]
pub struct Tag(
    // A short one lies where it is named and not in memory of its own: a club has tens of thousands.
    EcoString,
);

impl Tag {
    /// The tag as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for Tag {
    type Error = BadText;

    fn try_from(text: String) -> Result<Self, BadText> {
        let count = text.chars().count();
        let Some(first) = text.chars().next() else { return Err(BadText::Empty) };
        if count > 40 {
            return Err(BadText::TooLong(count, 40));
        }
        if !first.is_alphanumeric() {
            return Err(BadText::BadCharacter(first, "a tag begins with a letter or digit"));
        }
        if let Some(bad) = text.chars().find(|c| !(c.is_alphanumeric() || matches!(c, '-' | '_' | '.'))) {
            return Err(BadText::BadCharacter(bad, "a tag has letters, digits, `-`, `_` and `.` only"));
        }
        if uuid::Uuid::parse_str(&text).is_ok() {
            return Err(BadText::LikeAnId);
        }
        Ok(Self(text.into()))
    }
}

/// A line or a few of free text: 1 to 2,000 characters, no control characters but line breaks and tabs.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(try_from = "String", into = "String")]
#[schema(
    value_type = String, min_length = 1, max_length = 2000,
    pattern = r"^[^\u0000-\u0008\u000b-\u001f\u007f-\u009f]*[^\s\u0000-\u001f\u007f-\u009f][^\u0000-\u0008\u000b-\u001f\u007f-\u009f]*$"
)]
pub struct Text(String);

impl Text {
    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for Text {
    type Error = BadText;

    fn try_from(text: String) -> Result<Self, BadText> {
        if text.trim().is_empty() {
            return Err(BadText::Empty);
        }
        let count = text.chars().count();
        if count > 2000 {
            return Err(BadText::TooLong(count, 2000));
        }
        match text.chars().find(|c| c.is_control() && !matches!(c, '\n' | '\t')) {
            Some(bad) => Err(BadText::BadCharacter(bad, "only line breaks and tabs may stand in a text")),
            None => Ok(Self(text)),
        }
    }
}

macro_rules! text_like {
    ($($name:ident),+) => {$(
        impl From<$name> for String { fn from(text: $name) -> Self { text.0.into() } }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.pad(&self.0) }
        }
        impl std::str::FromStr for $name {
            type Err = BadText;
            fn from_str(text: &str) -> Result<Self, BadText> { Self::try_from(text.to_owned()) }
        }
        impl AsRef<str> for $name { fn as_ref(&self) -> &str { &self.0 } }
        impl std::borrow::Borrow<str> for $name { fn borrow(&self) -> &str { &self.0 } }
    )+};
}

text_like!(Tag, Text);
