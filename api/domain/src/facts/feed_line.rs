//! A fact as it goes out in the feed and comes back from a copy or an archive.

use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::{Fact, Noun, Recorded};
use crate::{ids::MemberId, time::Instant};

/// One fact of the feed.
///
/// ```
/// use preen_domain::facts::{FeedLine, Recorded};
/// let line = r#"{"revision":7,"noun":"parts","recorded_at":"2026-05-21T08:00:00Z",
///     "recorded_by":"01970a3c-5d00-7000-8000-000000000001",
///     "fact":{"id":"01970a3c-5d00-7000-8000-000000000002","tag":"SV08","kind":"servo","tracking":"serial",
///     "nominal_mass_g":10.4}}"#;
/// let line: FeedLine = serde_json::from_str(line).unwrap();
/// let recorded = line.clone().recorded().unwrap();
/// assert_eq!(recorded.revision, 7);
/// assert_eq!(FeedLine::of(&recorded).unwrap().noun, line.noun);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FeedLine {
    /// The revision at which it was recorded.
    pub revision: i64,
    /// Its noun.
    pub noun: Noun,
    /// When it was recorded.
    pub recorded_at: Instant,
    /// The member whose access was used.
    pub recorded_by: MemberId,
    /// The fact itself.
    #[schema(value_type = Object)]
    pub fact: Value,
}

impl FeedLine {
    /// The line of a fact.
    ///
    /// # Errors
    /// Never for the facts of this crate, all of which can be written.
    pub fn of(recorded: &Recorded<Fact>) -> Result<Self, serde_json::Error> {
        Ok(Self {
            revision: recorded.revision,
            noun: recorded.fact.noun(),
            recorded_at: recorded.recorded_at,
            recorded_by: recorded.recorded_by,
            fact: serde_json::to_value(&recorded.fact)?,
        })
    }

    /// The fact of a line.
    ///
    /// # Errors
    /// It does not read as one of its noun.
    pub fn recorded(self) -> Result<Recorded<Fact>, serde_json::Error> {
        Ok(Recorded {
            fact: Fact::from_json(self.noun, self.fact)?,
            recorded_at: self.recorded_at,
            recorded_by: self.recorded_by,
            revision: self.revision,
        })
    }
}
