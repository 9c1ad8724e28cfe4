//! What a copy of the feed answers, by the domain alone: held against what the service answers.

use preen_domain::answers::ClubSaid;
use preen_domain::asked::{self, Asked, Refused, Wanted};
use preen_domain::facts::{Fact, FeedLine, Recorded};
use preen_domain::fleet::{Fleet, Names, arrange};
use preen_domain::time::Instant;
use serde_json::Value;

use crate::http::Caller;

/// Everything on record, as the feed gives it.
pub fn on_record(caller: &Caller) -> Vec<Recorded<Fact>> {
    let text = caller.get("/facts?since=0").expect(200).text;
    text.lines().map(|line| serde_json::from_str::<FeedLine>(line).unwrap().recorded().unwrap()).collect()
}

/// A copy of a club's record as one of its members may take it along.
pub struct Copied {
    said: ClubSaid,
    record: Vec<Recorded<Fact>>,
}

impl Copied {
    /// Takes it.
    pub fn take(caller: &Caller) -> Self {
        let said = serde_json::from_value(caller.get("/club").expect(200).json()).unwrap();
        Self { said, record: on_record(caller) }
    }

    /// The facts of it.
    pub fn into_record(self) -> Vec<Recorded<Fact>> {
        self.record
    }

    fn arrange(&self, revision: i64) -> (Fleet, Names) {
        arrange(self.said.club().unwrap(), &self.record, revision)
    }

    /// The Fleet of all of it, for many questions.
    pub fn newest(&self) -> (Fleet, Names) {
        self.arrange(self.said.revision)
    }

    /// Answers a question such as `/due?on=2026-05-23` from what [`Copied::newest`] gave.
    pub fn answer(&self, newest: &(Fleet, Names), question: &str) -> Result<Value, Refused> {
        let (path, query) = question.split_once('?').unwrap_or((question, ""));
        let path: Vec<&str> = path.trim_start_matches('/').split('/').collect();
        let pairs: Vec<(String, String)> = query
            .split('&')
            .filter_map(|pair| pair.split_once('='))
            .map(|(name, value)| (name.to_owned(), value.to_owned()))
            .collect();
        let known = asked::parameters(&path).ok_or(Refused::NoSuchQuestion)?;
        let now: Instant = self.said.now;
        let member = self.said.member_id;
        let wanted = Wanted::read(&pairs, known, (&newest.0, &newest.1), member, now)?;
        let earlier = wanted.at_revision.map(|revision| self.arrange(revision));
        let (fleet, names) = earlier.as_ref().unwrap_or(newest);
        let asked = Asked {
            fleet,
            names,
            moment: wanted.moment,
            member,
            sees_all: wanted.sees_all,
            now,
            pairs: &pairs,
        };
        asked::answer(&asked, &path).map(|text| serde_json::from_str(&text).unwrap())
    }
}
