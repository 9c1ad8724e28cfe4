//! Facts that come together, such as the rows of a table: tried first, then all or nothing, or each for itself. What a
//! rule refuses is told to whoever sends it and not kept as a question: they have the table at hand.

use preen_domain::words::Scope;

use super::inbox::{
    self, ITEMS, ItemReceived, ItemStatus, Outbox, OutboxItem, Received, Refusal, Sent, id_of, not_recorded,
    record,
};
use crate::access::actor::Actor;
use crate::db::door::{Change, DoorError, Failure, Kept};
use crate::problem::Problem;
use crate::resources::page::Pairs;
use crate::state::State;

/// Items that may stand or fall together.
const TOGETHER: usize = 20_000;

/// How facts of one request hang together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// An outbox: each for itself, and what a rule refuses becomes a question.
    Outbox,
    /// Each for itself; what is refused is told.
    Rows,
    /// All of them or none.
    All,
}

/// What is asked of a request with facts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// How they hang together.
    pub mode: Mode,
    /// Whether nothing is to be recorded.
    pub is_preview: bool,
}

impl Wanted {
    /// Reads the parameters `mode` and `preview`.
    pub fn read(query: &Pairs) -> Result<Self, Problem> {
        let mut wanted = Self { mode: Mode::Outbox, is_preview: false };
        for (name, value) in &query.0 {
            let wrong = |words: &str| Problem::bad_parameter(name, format!("`{value}` is not {words}."));
            match (name.as_str(), value.as_str()) {
                ("mode", "outbox") => wanted.mode = Mode::Outbox,
                ("mode", "rows") => wanted.mode = Mode::Rows,
                ("mode", "all") => wanted.mode = Mode::All,
                ("mode", _) => return Err(wrong("outbox, rows or all")),
                ("preview", _) => {
                    wanted.is_preview = value.parse().map_err(|_not_a_flag| wrong("true or false"))?;
                }
                _ => {
                    return Err(Problem::bad_parameter(name, "This knows `mode` and `preview`.".to_owned()));
                }
            }
        }
        if wanted.is_preview && wanted.mode == Mode::Outbox {
            let text = "An outbox is not tried: ask with mode=rows or mode=all.";
            return Err(Problem::bad_parameter("preview", text.to_owned()));
        }
        Ok(wanted)
    }
}

/// What a transaction ended with that is taken back.
enum Undone {
    /// What would have become of the items.
    Tried(Vec<ItemReceived>),
    /// Something that is no fault of theirs.
    Problem(Problem),
}

impl From<DoorError> for Undone {
    fn from(error: DoorError) -> Self {
        Self::Problem(error.into())
    }
}

impl Failure for Undone {
    fn is_full(&self) -> bool {
        matches!(self, Self::Problem(problem) if problem.is_full())
    }

    fn is_to_be_sent_again(&self) -> bool {
        matches!(self, Self::Problem(problem) if problem.is_to_be_sent_again())
    }
}

/// Takes in facts in a mode other than that of an outbox.
pub async fn receive(
    state: &State,
    actor: &Actor,
    sent: Outbox,
    wanted: Wanted,
) -> Result<Received, Problem> {
    let most = if wanted.mode == Mode::All || wanted.is_preview { TOGETHER } else { ITEMS };
    if sent.facts.len() > most {
        let text =
            format!("{most} facts at most in this way: send them in several requests, each for itself.");
        return Err(Problem::field("/facts", text));
    }
    if wanted.mode == Mode::Rows && !wanted.is_preview {
        return inbox::receive(state, actor, sent, Refusal::Told).await;
    }
    let received_at = state.now();
    let clock_ahead_s = sent.sent_at.map(|sent_at| sent_at.seconds_since(received_at));
    let results = as_one(state, actor, sent.facts, wanted).await?;
    Ok(Received { received_at, clock_ahead_s, results })
}

/// All in one change of the record, taken back where it is a preview or one of them is refused.
async fn as_one(
    state: &State,
    actor: &Actor,
    items: Vec<OutboxItem>,
    wanted: Wanted,
) -> Result<Vec<ItemReceived>, Problem> {
    let has_history = actor.scopes.contains(&Scope::History);
    let work = move |change: &mut Change<'_>| -> Result<Kept<Vec<ItemReceived>>, Undone> {
        let mut results = Vec::with_capacity(items.len());
        let mut is_new = false;
        for item in items {
            let id = id_of(&item);
            let (status, revision) = match record(change, &Sent::read(item), has_history) {
                Ok(Kept::Recorded(revision)) => {
                    is_new = true;
                    (ItemStatus::Recorded, revision)
                }
                Ok(Kept::Unchanged(revision)) => (ItemStatus::Known, revision),
                Err(problem) if problem.is_of_the_service() => return Err(Undone::Problem(problem)),
                Err(problem) => {
                    results.push(not_recorded(id, ItemStatus::Refused, &problem));
                    continue;
                }
            };
            results.push(ItemReceived {
                id,
                status,
                revision: Some(revision),
                question: None,
                problem: None,
            });
        }
        let has_refused = results.iter().any(|one| one.status == ItemStatus::Refused);
        if wanted.is_preview || has_refused {
            for one in results.iter_mut().filter(|one| one.status == ItemStatus::Recorded) {
                (one.status, one.revision) = (ItemStatus::Possible, None);
            }
            return Err(Undone::Tried(results));
        }
        Ok(if is_new { Kept::Recorded(results) } else { Kept::Unchanged(results) })
    };
    match state.door.write(&actor.club, actor.member, work).await {
        Ok(results) | Err(Undone::Tried(results)) => Ok(results),
        Err(Undone::Problem(problem)) => Err(problem),
    }
}
