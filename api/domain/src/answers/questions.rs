//! Questions that nobody has settled: what was sent, why it was refused, and what stands against it now.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::changes::said_of;
use crate::{
    facts::{Fact, Noun, Question, QuestionReason},
    fleet::Fleet,
    ids::QuestionId,
    rules::check,
    time::{Instant, day_of},
};

/// Codes of refusals that no change of the record takes away: the fact needs an id or a tag of its own.
const NEEDS_OTHER_NAME: [&str; 2] = ["id_taken", "tag_taken"];

/// The questions that wait for somebody to settle them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OpenQuestions {
    /// One a question, the oldest first.
    pub questions: Vec<QuestionStanding>,
}

/// A question as it stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct QuestionStanding {
    /// Id of the question.
    pub id: QuestionId,
    /// Noun of what was sent.
    pub noun: Noun,
    /// Id that what was sent would have; null if none can be read.
    pub fact_id: Option<Uuid>,
    /// What was sent, in a few words.
    pub text: String,
    /// Tag of the member who sent it.
    pub sent_by: String,
    /// When the service refused it.
    pub asked_at: Instant,
    /// The club day of that.
    pub asked_on: NaiveDate,
    /// When it is said to have happened.
    pub occurred_at: Option<Instant>,
    /// Why it was refused.
    pub reasons: Vec<QuestionReason>,
    /// What stands against it by what is known now; empty if it can be recorded as it was sent.
    pub stands_against: Vec<QuestionReason>,
    /// What a person can do to settle it.
    pub clear_by: String,
}

/// The questions that had been asked and not settled by a moment.
///
/// `read` makes a fact of what was sent, its tags resolved to ids, or says why it cannot be read.
#[must_use]
pub fn open_questions(
    fleet: &Fleet,
    as_of: Instant,
    read: impl Fn(&Question) -> Result<Fact, Vec<QuestionReason>>,
) -> OpenQuestions {
    let mut questions: Vec<QuestionStanding> = fleet
        .questions()
        .filter(|(_, file)| file.settlements.until(as_of).is_empty())
        .filter_map(|(_, file)| file.question.as_ref())
        .filter(|question| question.fact.occurred_at <= as_of)
        .map(|recorded| {
            let question = &recorded.fact;
            let fact = read(question);
            let stands_against = match &fact {
                Ok(fact) => against(fleet, question, fact, as_of),
                Err(reasons) => reasons.clone(),
            };
            QuestionStanding {
                id: question.id,
                noun: question.noun,
                fact_id: fact.as_ref().ok().map(Fact::id),
                text: match &fact {
                    Ok(fact) => said_of(fleet, fact),
                    Err(_) => format!("one of the {} that cannot be read", question.noun),
                },
                sent_by: fleet.member_tag(recorded.recorded_by),
                asked_at: question.occurred_at,
                asked_on: day_of(question.occurred_at, fleet.club().zone),
                occurred_at: fact.as_ref().ok().and_then(Fact::occurred_at),
                reasons: question.reasons.clone(),
                clear_by: clear_by(stands_against.is_empty()).to_owned(),
                stands_against,
            }
        })
        .collect();
    questions.sort_by_key(|question| (question.asked_at, question.id));
    OpenQuestions { questions }
}

fn against(fleet: &Fleet, question: &Question, fact: &Fact, now: Instant) -> Vec<QuestionReason> {
    let kept = question.reasons.iter().filter(|reason| NEEDS_OTHER_NAME.contains(&reason.code.as_str()));
    let broken = check(fleet, fact, now).into_iter().map(|broken| QuestionReason {
        code: broken.code.to_owned(),
        pointer: broken.pointer,
        text: broken.text,
    });
    let mut list: Vec<QuestionReason> = kept.cloned().collect();
    list.extend(broken.filter(|new| {
        !question
            .reasons
            .iter()
            .any(|kept| kept.code == new.code && NEEDS_OTHER_NAME.contains(&new.code.as_str()))
    }));
    list
}

fn clear_by(can_be_recorded: bool) -> &'static str {
    if can_be_recorded {
        "settle it by recording what was sent: nothing stands against it any more"
    } else {
        "settle it by recording it with the content put right, or by saying why it is left out; or first correct the record that stands against it"
    }
}
