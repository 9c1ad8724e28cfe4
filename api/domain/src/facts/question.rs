//! What was sent and could not be recorded: kept as a question for a person to settle, never dropped.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Noun;
use crate::{
    ids::{QuestionId, SettlementId},
    text::Text,
    time::Instant,
};

/// A fact that was sent from an outbox and refused by a rule. It counts for nothing until somebody settles it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Question {
    /// Id of the question, made by the service; the fact keeps its own.
    pub id: QuestionId,
    /// Noun of what was sent.
    pub noun: Noun,
    /// What was sent, whole.
    pub fact: serde_json::Value,
    /// Why it was refused.
    pub reasons: Vec<QuestionReason>,
    /// When the service refused it.
    pub occurred_at: Instant,
}

/// One reason why something could not be recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct QuestionReason {
    /// Stable code of the rule.
    pub code: String,
    /// JSON pointer to the field.
    pub pointer: String,
    /// What is wrong and how to mend it.
    pub text: String,
}

/// The settling of a question: what was recorded instead, or why nothing was.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Settlement {
    /// Id made by the client (UUIDv7).
    pub id: SettlementId,
    /// The question.
    pub question: QuestionId,
    /// When it was settled.
    pub occurred_at: Instant,
    /// How.
    pub text: Text,
}
