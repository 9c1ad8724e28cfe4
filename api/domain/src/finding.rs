//! What an answer or a rule has to say against something: always all of it, never only the first.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::words::Severity;

/// One thing that is wrong, how bad it is, what it sits on and what clears it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Finding {
    /// Stable code for programs, such as `check_overdue`.
    pub code: String,
    /// How bad it is.
    pub severity: Severity,
    /// Tag of the model, part, defect, repair or campaign it sits on.
    pub subject: String,
    /// One sentence for people, with the numbers.
    pub text: String,
    /// What a person can do to clear it.
    pub clear_by: String,
}

impl Finding {
    /// A finding from its five parts.
    pub fn new(
        code: &str,
        severity: Severity,
        subject: impl Into<String>,
        text: impl Into<String>,
        clear_by: impl Into<String>,
    ) -> Self {
        Self {
            code: code.to_owned(),
            severity,
            subject: subject.into(),
            text: text.into(),
            clear_by: clear_by.into(),
        }
    }
}
