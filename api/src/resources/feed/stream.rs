//! Facts going out, a stretch of revisions at a time, so that a long record never stands in memory whole.

use std::sync::Arc;

use actix_web::web::Bytes;
use futures_util::Stream;
use futures_util::stream::unfold;
use preen_domain::facts::{Fact, Noun, Recorded};
use preen_domain::ids::MemberId;
use preen_domain::time::Instant;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::db::door::{DoorError, Span};
use crate::problem::Problem;
use crate::state::State;

/// Revisions read at once.
const STRETCH: i64 = 5_000;

/// One fact of the feed.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
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
    pub fact: serde_json::Value,
}

/// The lines of the feed after `since`, up to and including `newest`.
pub fn lines(
    state: Arc<State>,
    club: String,
    since: i64,
    newest: i64,
) -> impl Stream<Item = Result<Bytes, Problem>> {
    unfold(since, move |after| {
        let (state, club) = (Arc::clone(&state), club.clone());
        async move {
            if after >= newest {
                return None;
            }
            let up_to = after.saturating_add(STRETCH).min(newest);
            let loaded = state.door.facts(&club, Span { after, up_to: Some(up_to) }).await;
            Some((loaded.and_then(|facts| write(&facts)).map_err(Problem::from), up_to))
        }
    })
}

fn write(facts: &[Recorded<Fact>]) -> Result<Bytes, DoorError> {
    let mut text = Vec::new();
    for recorded in facts {
        let broken = |error: serde_json::Error| DoorError::Broken(error.to_string());
        let line = FeedLine {
            revision: recorded.revision,
            noun: recorded.fact.noun(),
            recorded_at: recorded.recorded_at,
            recorded_by: recorded.recorded_by,
            fact: serde_json::to_value(&recorded.fact).map_err(broken)?,
        };
        serde_json::to_writer(&mut text, &line).map_err(broken)?;
        text.push(b'\n');
    }
    Ok(text.into())
}
