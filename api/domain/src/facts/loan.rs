//! A part or model lent to a member, and its return.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Subject;
use crate::{
    ids::{LoanId, LoanReturnId, MemberId, ModelId},
    text::{Tag, Text},
    time::Instant,
};

/// A loan. It may lie ahead.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Loan {
    /// Id made by the client (UUIDv7).
    pub id: LoanId,
    /// Number in the club's own record, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<Tag>,
    /// What is lent.
    pub item: Subject,
    /// To whom.
    pub lent_to: MemberId,
    /// For which model, where a part is lent for one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub for_model: Option<ModelId>,
    /// When it was agreed.
    pub occurred_at: Instant,
    /// First day.
    pub from_on: NaiveDate,
    /// Last day.
    pub due_back_on: NaiveDate,
    /// Anything else worth knowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}

/// The return of a loan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LoanReturn {
    /// Id made by the client (UUIDv7).
    pub id: LoanReturnId,
    /// The loan.
    pub loan: LoanId,
    /// When it came back.
    pub occurred_at: Instant,
    /// In what state it came back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
}
