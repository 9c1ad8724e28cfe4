//! What a copy of the feed answers, by the domain alone: held against what the service answers.

use preen_domain::answers::ClubSaid;
use preen_domain::asked::{self, Asked, Refused, Wanted};
use preen_domain::facts::{Fact, Noun, Recorded};
use preen_domain::fleet::{Club, Fleet, Names};
use preen_domain::time::Instant;
use serde_json::Value;
use uuid::Uuid;

use crate::http::Caller;

/// Everything on record, as the feed gives it.
pub fn on_record(caller: &Caller) -> Vec<Recorded<Fact>> {
    let text = caller.get("/facts?since=0").expect(200).text;
    text.lines()
        .map(|line| {
            let line: Value = serde_json::from_str(line).unwrap();
            let noun: Noun = line["noun"].as_str().unwrap().parse().unwrap();
            Recorded {
                fact: Fact::from_json(noun, line["fact"].clone()).unwrap(),
                recorded_at: line["recorded_at"].as_str().unwrap().parse().unwrap(),
                recorded_by: line["recorded_by"].as_str().unwrap().parse::<Uuid>().unwrap().into(),
                revision: line["revision"].as_i64().unwrap(),
            }
        })
        .collect()
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
        let said = &self.said;
        let tag = said.club.parse().unwrap();
        let club = Club { id: said.club_id, tag, title: said.title.clone(), zone: said.time_zone };
        let (mut fleet, mut names) = (Fleet::new(club), Names::default());
        for fact in self.record.iter().filter(|fact| fact.revision <= revision) {
            fleet.apply(fact);
            names.apply(&fact.fact);
        }
        fleet.reach(revision);
        (fleet, names)
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
