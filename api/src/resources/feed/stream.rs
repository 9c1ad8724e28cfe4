//! Facts going out, a stretch of revisions at a time, so that a long record never stands in memory whole.

use std::sync::Arc;

use actix_web::web::Bytes;
use futures_util::Stream;
use futures_util::stream::unfold;
use preen_domain::facts::{Fact, FeedLine, Recorded};

use crate::db::door::{DoorError, Span};
use crate::db::replica::{Leave, within};
use crate::problem::Problem;
use crate::state::State;

/// Revisions read at once.
const STRETCH: i64 = 5_000;

/// The lines of the feed after `since`, up to and including `newest`.
pub fn lines(
    state: Arc<State>,
    club: String,
    since: i64,
    newest: i64,
) -> impl Stream<Item = Result<Bytes, Problem>> {
    // The lines are read after the request was answered, by the leave that it had.
    let leave = Leave::of_this_task();
    unfold(since, move |after| {
        let (state, club, leave) = (Arc::clone(&state), club.clone(), leave.clone());
        async move {
            if after >= newest {
                return None;
            }
            let up_to = after.saturating_add(STRETCH).min(newest);
            let span = Span { after, up_to: Some(up_to) };
            let loaded = within(leave, state.door.facts(&club, span)).await;
            Some((loaded.and_then(|facts| write(&facts)).map_err(Problem::from), up_to))
        }
    })
}

fn write(facts: &[Recorded<Fact>]) -> Result<Bytes, DoorError> {
    let mut text = Vec::new();
    for recorded in facts {
        let broken = |error: serde_json::Error| DoorError::Broken(error.to_string());
        let line = FeedLine::of(recorded).map_err(broken)?;
        serde_json::to_writer(&mut text, &line).map_err(broken)?;
        text.push(b'\n');
    }
    Ok(text.into())
}
