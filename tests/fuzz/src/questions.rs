//! Parameters of questions, odd ones, asked of the small fleet that the bodies of the seeds make: answered or refused by name.

use std::sync::OnceLock;

use arbitrary::Unstructured;
use preen_domain::asked::{Asked, COMMON, Refused, Wanted, answer, parameters};
use preen_domain::facts::{Fact, Noun, Recorded};
use preen_domain::fleet::{Club, Fleet, Names};
use preen_domain::ids::{ClubId, MemberId};
use preen_domain::time::Instant;
use uuid::Uuid;

use crate::facts::{SEEDS, read};
use crate::texts::odd_text;

/// Paths of questions; `*` stands for a name.
const PATHS: [&[&str]; 23] = [
    &["may-fly"],
    &["due"],
    &["findings"],
    &["where"],
    &["stock"],
    &["exchange"],
    &["open-questions"],
    &["campaign-progress"],
    &["campaigns", "*", "progress"],
    &["defects", "*", "standing"],
    &["repairs", "*", "sheet"],
    &["life"],
    &["spares"],
    &["components", "*", "usage"],
    &["components", "*", "history"],
    &["components", "*", "trend"],
    &["models", "*", "usage"],
    &["models", "*", "balance"],
    &["models", "*", "ballast"],
    &["models", "*", "limits"],
    &["models", "*", "class-check"],
    &["models", "*", "readiness"],
    &["contests", "*", "readiness"],
];

struct Known {
    fleet: Fleet,
    names: Names,
    member: MemberId,
    tags: Vec<String>,
}

/// The fleet of the seeds, master data before what happened to it.
fn known() -> &'static Known {
    static KNOWN: OnceLock<Known> = OnceLock::new();
    KNOWN.get_or_init(|| {
        let club = Club {
            id: ClubId(Uuid::from_u128(1)),
            tag: "quillmarsh".parse().expect("a tag"),
            title: "A club".to_owned(),
            zone: chrono_tz::Europe::London,
        };
        let (mut fleet, mut names) = (Fleet::new(club), Names::default());
        let mut member = MemberId(Uuid::from_u128(2));
        let mut tags = vec!["SG-01".to_owned(), "AV".to_owned(), "nobody".to_owned()];
        for (revision, (noun, seed)) in (1..).zip(SEEDS) {
            let body = serde_json::from_str(seed).expect("JSON");
            let noun: Noun = noun.parse().expect("a noun");
            // What corrects or settles something speaks of what is not there.
            if matches!(*noun.as_str().as_bytes(), [b'c', b'o', b'r', ..] | [b's', b'e', b't', ..]) {
                continue;
            }
            let Some(fact) = read(noun, body) else { continue };
            if let Fact::Member(one) = &fact {
                member = one.id;
            }
            tags.extend(fact.tag().map(ToString::to_string));
            let at = "2026-05-21T08:00:00Z".parse().expect("a moment");
            let recorded = Recorded { fact, recorded_at: at, recorded_by: member, revision };
            names.apply(&recorded.fact);
            fleet.apply(&recorded);
        }
        Known { fleet, names, member, tags }
    })
}

fn name(bytes: &mut Unstructured<'_>, tags: &[String]) -> String {
    match bytes.choose(tags) {
        Ok(tag) if bytes.ratio(2, 3).unwrap_or(true) => tag.clone(),
        _ => odd_text(bytes),
    }
}

/// One question made from these bytes.
///
/// # Panics
/// Where a promise is broken.
pub fn try_questions(bytes: &mut Unstructured<'_>) {
    let known = known();
    let Ok(path) = bytes.choose(&PATHS) else { return };
    let called = name(bytes, &known.tags);
    let path: Vec<&str> = path.iter().map(|part| if *part == "*" { called.as_str() } else { part }).collect();
    let own = parameters(&path).expect("a question that is there");
    let all: Vec<&str> = COMMON.iter().chain(own).copied().collect();
    let mut pairs = Vec::new();
    for _ in 0..bytes.int_in_range(0..=4).unwrap_or(0) {
        let Ok(parameter) = bytes.choose(&all) else { break };
        let value = match bytes.int_in_range(0..=3).unwrap_or(0) {
            0 => name(bytes, &known.tags),
            1 => bytes.arbitrary::<i32>().map_or(String::new(), |number| number.to_string()),
            2 => {
                format!("{}:{}", bytes.arbitrary::<u16>().unwrap_or(1), bytes.arbitrary::<u8>().unwrap_or(1))
            }
            _ => odd_text(bytes),
        };
        pairs.push(((*parameter).to_owned(), value));
    }
    let now: Instant = "2026-05-23T12:00:00Z".parse().expect("a moment");
    let there = (&known.fleet, &known.names);
    let said = Wanted::read(&pairs, own, there, known.member, now).and_then(|wanted| {
        let asked = Asked {
            fleet: &known.fleet,
            names: &known.names,
            moment: wanted.moment,
            member: known.member,
            sees_all: wanted.sees_all,
            now,
            pairs: &pairs,
        };
        answer(&asked, &path)
    });
    match said {
        Ok(text) => {
            assert!(serde_json::from_str::<serde_json::Value>(&text).is_ok(), "{path:?} {pairs:?}: {text}")
        }
        Err(Refused::Parameter { name, text }) => {
            assert!(all.contains(&name.as_str()) && text.len() > 10, "{path:?} {pairs:?}: {name}: {text}");
        }
        Err(Refused::NotFound(text) | Refused::NotAllowed(text)) => {
            assert!(text.len() > 10, "{path:?}: {text}")
        }
        Err(Refused::NoSuchQuestion) => panic!("{path:?} is no question"),
    }
}
