//! Facts coming in from an outbox: each is recorded, known, kept as a question, or refused, whatever happens to
//! the others.

use futures_util::future::join;
use preen_domain::facts::{Fact, Noun, Question};
use preen_domain::fleet::Fleet;
use preen_domain::ids::QuestionId;
use preen_domain::time::Instant;
use preen_domain::words::Scope;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::access::actor::Actor;
use crate::access::sight::Sight;
use crate::audit;
use crate::db::door::{Change, Kept};
use crate::problem::{Problem, ProblemBody};
use crate::resources::body::{make_whole, names_ids_alone, parse_as_sent, resolve};
use crate::resources::nouns::add_any;
use crate::state::State;

/// Items of one outbox at most.
pub const ITEMS: usize = 2_000;
/// Further ahead of the service's clock than this a fact is refused outright, s.
const FAR_AHEAD_S: i64 = 86_400;

/// The facts of an outbox.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Outbox {
    /// What the sender's clock reads now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sent_at: Option<Instant>,
    /// The facts, in the order in which they were made.
    pub facts: Vec<OutboxItem>,
}

impl Outbox {
    /// Reads what was sent. Facts are taken out of it as they are; only where something is odd is all of it read field by
    /// field, which copies them, to say what and where.
    pub fn read(mut sent: Value) -> Result<Self, Problem> {
        match Self::plain(&mut sent) {
            Some(plain) => Ok(plain),
            None => parse_as_sent("", sent),
        }
    }

    fn plain(sent: &mut Value) -> Option<Self> {
        let fields = sent.as_object_mut()?;
        if fields.keys().any(|key| key != "sent_at" && key != "facts") {
            return None;
        }
        let sent_at = match fields.get("sent_at") {
            Some(at) => Option::<Instant>::deserialize(at).ok()?,
            None => None,
        };
        Some(Self { sent_at, facts: plain_items(fields.get_mut("facts")?)? })
    }
}

/// The items of a list in which each says its noun and its fact and nothing else; nothing is taken out of another.
fn plain_items(list: &mut Value) -> Option<Vec<OutboxItem>> {
    let list = list.as_array_mut()?;
    let noun_of = |item: &Value| -> Option<Noun> {
        let fields = item.as_object().filter(|fields| fields.len() == 2 && fields.contains_key("fact"))?;
        fields.get("noun")?.as_str()?.parse().ok()
    };
    let nouns = list.iter().map(noun_of).collect::<Option<Vec<Noun>>>()?;
    let facts = list.iter_mut().map(|item| item.get_mut("fact").map(Value::take).unwrap_or_default());
    Some(nouns.into_iter().zip(facts).map(|(noun, fact)| OutboxItem { noun, fact }).collect())
}

/// One fact of an outbox.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OutboxItem {
    /// Its noun.
    pub noun: Noun,
    /// The fact, as it would be posted to its noun. Whatever else stands here is kept as a question.
    pub fact: Value,
}

/// What became of an outbox.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Received {
    /// The service's clock, to compare with the sender's.
    pub received_at: Instant,
    /// How far the sender's clock is ahead of the service's, s; null if it was not said.
    pub clock_ahead_s: Option<i64>,
    /// One result an item, in order.
    pub results: Vec<ItemReceived>,
}

/// What became of one item.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ItemReceived {
    /// Id of the fact; null if it has none that can be read.
    pub id: Option<Uuid>,
    /// What became of it.
    pub status: ItemStatus,
    /// The revision at which it was recorded, or its question was.
    pub revision: Option<i64>,
    /// The question it is kept as.
    pub question: Option<QuestionId>,
    /// Why it was not recorded.
    pub problem: Option<ProblemBody>,
}

/// What became of one item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ItemStatus {
    /// It is on record now.
    Recorded,
    /// It was on record before.
    Known,
    /// It is kept as a question for a person to settle.
    Question,
    /// It was not kept: the sender may not do it, or it lies more than a day ahead.
    Refused,
    /// It can be recorded, and nothing was: this was a preview, or another item stood against all.
    Possible,
    /// It was not tried: the service is busy or out of room. Send it again.
    TryAgain,
}

/// What becomes of a fact that a rule refuses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// It is kept as a question: whoever made it may be far away by now.
    Asked,
    /// It is told: whoever sends it has it at hand.
    Told,
}

/// Takes in facts, in order, each for itself.
pub async fn receive(
    state: &State,
    actor: &Actor,
    outbox: Outbox,
    refusal: Refusal,
) -> Result<Received, Problem> {
    if outbox.facts.len() > ITEMS {
        let text = format!("An outbox holds {ITEMS} facts at most: send the rest in another.");
        return Err(Problem::field("/facts", text));
    }
    let received_at = state.now();
    let clock_ahead_s = outbox.sent_at.map(|sent_at| sent_at.seconds_since(received_at));
    let mut results: Vec<ItemReceived> = Vec::with_capacity(outbox.facts.len());
    let mut held_up: Option<Problem> = None;
    let mut items = outbox.facts.into_iter();
    let mut read = || -> Vec<Sent> { items.by_ref().take(state.door.at_once).map(Sent::read).collect() };
    let mut parcel = read();
    while !parcel.is_empty() {
        let ids: Vec<Option<Uuid>> = parcel.iter().map(|sent| id_of(&sent.item)).collect();
        // Later items may rest on those that were not taken in: none is tried before them. They are read meanwhile.
        let (taken, next) = match &held_up {
            Some(problem) => (Err(problem.clone()), read()),
            None => join(take_in(state, actor, &ids, parcel, refusal), async { read() }).await,
        };
        parcel = next;
        match taken {
            Ok(received) => results.extend(received),
            Err(problem) => {
                results.extend(ids.into_iter().map(|id| not_recorded(id, ItemStatus::TryAgain, &problem)));
                held_up = Some(problem);
            }
        }
    }
    Ok(Received { received_at, clock_ahead_s, results })
}

pub(super) fn id_of(item: &OutboxItem) -> Option<Uuid> {
    item.fact.get("id").and_then(Value::as_str).and_then(|id| id.parse().ok())
}

pub(super) fn not_recorded(id: Option<Uuid>, status: ItemStatus, problem: &Problem) -> ItemReceived {
    ItemReceived { id, status, revision: None, question: None, problem: Some(problem.body()) }
}

/// Takes in the items of one transaction; an error if none of it was kept.
async fn take_in(
    state: &State,
    actor: &Actor,
    ids: &[Option<Uuid>],
    parcel: Vec<Sent>,
    refusal: Refusal,
) -> Result<Vec<ItemReceived>, Problem> {
    let has_history = actor.scopes.contains(&Scope::History);
    let works = parcel.into_iter().map(|sent| {
        move |change: &mut Change<'_>| -> Result<Kept<ItemReceived>, Problem> {
            record_or_ask(change, &sent, has_history, refusal)
        }
    });
    let asked = ids.iter().copied().flatten().collect();
    let outcomes = state.door.write_each(&actor.club, actor.member, asked, works.collect()).await?;
    Ok(ids.iter().copied().zip(outcomes).map(|(id, outcome)| item_received(id, outcome)).collect())
}

/// An item, and the fact that it reads as if all that it names is named by id, with the text of its payload.
pub(super) struct Sent {
    item: OutboxItem,
    fact: Option<(Fact, String)>,
}

impl Sent {
    /// Reads an item, before anybody waits for it.
    pub(super) fn read(item: OutboxItem) -> Self {
        let fact = Fact::from_json(item.noun, make_whole(item.fact.clone())).ok();
        let fact = fact.and_then(|fact| audit::payload_of(&fact).ok().map(|payload| (fact, payload)));
        Self { item, fact }
    }
}

fn item_received(id: Option<Uuid>, outcome: Result<ItemReceived, Problem>) -> ItemReceived {
    match outcome {
        Ok(done) => ItemReceived { id, ..done },
        Err(problem) if problem.is_of_the_service() => not_recorded(id, ItemStatus::TryAgain, &problem),
        Err(problem) => not_recorded(id, ItemStatus::Refused, &problem),
    }
}

fn record_or_ask(
    change: &mut Change<'_>,
    sent: &Sent,
    has_history: bool,
    refusal: Refusal,
) -> Result<Kept<ItemReceived>, Problem> {
    let received = |status, revision| ItemReceived {
        id: None,
        status,
        revision: Some(revision),
        question: None,
        problem: None,
    };
    match record(change, sent, has_history) {
        Ok(Kept::Recorded(revision)) => Ok(Kept::Recorded(received(ItemStatus::Recorded, revision))),
        Ok(Kept::Unchanged(revision)) => Ok(Kept::Unchanged(received(ItemStatus::Known, revision))),
        Err(problem) if refusal == Refusal::Asked && becomes_question(&problem, &sent.item, change.now()) => {
            ask(change, &sent.item, &problem)
        }
        Err(problem) => Err(problem),
    }
}

pub(super) fn record(change: &mut Change<'_>, sent: &Sent, has_history: bool) -> Result<Kept<i64>, Problem> {
    let Sent { item, fact } = sent;
    // Resolved inside the door, so that an item may name one that came just before it.
    let sight = Sight::new(change.fleet(), change.names(), change.by(), change.now());
    if let Some((fact, payload)) = fact
        && names_ids_alone(item.noun, &item.fact, &sight)
    {
        return add_any(change, "send_facts", fact.clone(), Some(payload), has_history);
    }
    let mut body = item.fact.clone();
    resolve(item.noun, "", &mut body, &sight)?;
    let fact = Fact::from_json(item.noun, make_whole(body)).map_err(|error| {
        Problem::unreadable("", format!("It does not read as one of the {}: {error}.", item.noun))
    })?;
    add_any(change, "send_facts", fact, None, has_history)
}

/// What a rule refuses is kept; what the sender may not do, or what lies more than a day ahead, is not.
fn becomes_question(problem: &Problem, item: &OutboxItem, now: Instant) -> bool {
    let occurred_at = item.fact.get("occurred_at").and_then(Value::as_str).and_then(|at| at.parse().ok());
    let is_far_ahead = occurred_at.is_some_and(|at: Instant| at > now.plus_seconds(FAR_AHEAD_S));
    let is_of_the_record = matches!(
        problem,
        Problem::RefusedByRule(_) | Problem::InvalidFields(_) | Problem::IdTaken(_) | Problem::TagTaken(_)
    );
    is_of_the_record && !is_far_ahead
}

fn ask(change: &mut Change<'_>, item: &OutboxItem, problem: &Problem) -> Result<Kept<ItemReceived>, Problem> {
    let asked = |id, revision| ItemReceived {
        id: None,
        status: ItemStatus::Question,
        revision: Some(revision),
        question: Some(id),
        problem: Some(problem.body()),
    };
    if let Some((id, revision)) = asked_before(change.fleet(), item) {
        return Ok(Kept::Unchanged(asked(id, revision)));
    }
    let reasons = problem.reasons();
    let question = Question {
        id: QuestionId(Uuid::now_v7()),
        noun: item.noun,
        fact: item.fact.clone(),
        reasons,
        occurred_at: change.now(),
    };
    let id = question.id;
    let recorded = change.record("ask_question", Fact::Question(question))?;
    Ok(Kept::Recorded(asked(id, recorded.revision)))
}

fn asked_before(fleet: &Fleet, item: &OutboxItem) -> Option<(QuestionId, i64)> {
    fleet
        .questions()
        .filter_map(|(id, file)| file.question.as_ref().map(|question| (id, question)))
        .find(|(_, question)| question.fact.noun == item.noun && question.fact.fact == item.fact)
        .map(|(id, question)| (id, question.revision))
}
