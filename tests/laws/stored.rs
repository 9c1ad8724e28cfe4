//! A large history through the doors of running services, on SQLite and on PostgreSQL, as it was lived and as it arrives
//! from phones that were out of reach: the same answers everywhere, and those of the slow evaluator.

use std::{collections::BTreeMap, thread, time};

use preen_api::audit::rebuild::Until;
use preen_domain::{
    answers::{Answer, CampaignProgress, ComponentUsage, DueList, Findings, FleetBoard, Moment},
    facts::{Fact, Noun, Recorded},
    ids::{CampaignId, ComponentId, ModelId},
    time::{Instant, day_of},
};
use preen_tests::copied::Copied;
use preen_tests::{Database, World};
use serde_json::Value;

use crate::{
    compare::{
        audit_difference, audited, component_difference, due_difference, progress_difference,
        verdict_difference,
    },
    history::{History, club},
    large::{Size, a_few, times},
    sending::{Entry, callers, entries, late, send, send_again, some},
    slow::{Asked, Book, campaigns, checks, each, usage, verdict},
    world::{self, Extent},
};

/// The size of the club.
const EXTENT: Extent = Extent { groups: 22, more: 124 };

/// What is asked of every service.
struct Questions {
    as_ofs: [Instant; 2],
    models: Vec<ModelId>,
    parts: Vec<ComponentId>,
    campaigns: Vec<CampaignId>,
}

impl Questions {
    fn common(as_of: Instant) -> String {
        let on = day_of(as_of, club().zone);
        format!("as_of={as_of}&on={on}&pilot=M1")
    }

    fn moment(as_of: Instant) -> Moment {
        Moment { as_of, on: day_of(as_of, club().zone), pilot: Some(world::member(1)) }
    }

    fn paths(&self) -> Vec<String> {
        let mut list = Vec::new();
        for as_of in self.as_ofs {
            let common = Self::common(as_of);
            list.extend(["may-fly", "due", "findings", "where"].map(|one| format!("/{one}?{common}")));
            list.extend(self.models.iter().map(|id| format!("/models/{}/usage?as_of={as_of}", id.0)));
            list.extend(
                self.models.iter().take(12).map(|id| format!("/models/{}/balance?as_of={as_of}", id.0)),
            );
            list.extend(self.parts.iter().map(|id| format!("/components/{}/usage?as_of={as_of}", id.0)));
            list.extend(self.campaigns.iter().map(|id| format!("/campaigns/{}/progress?{common}", id.0)));
        }
        list
    }
}

/// What a service answered, by path, without the revision at which it did; and what it has on record.
struct Told {
    answers: BTreeMap<String, Value>,
    record: Vec<Recorded<Fact>>,
    /// The board as it was known when two thirds of the facts were in, that revision, and what changed since.
    earlier: (i64, Value, Value),
    left_out: usize,
}

/// Answers without what says when and how they came in: the revision, and questions that wait.
fn plain(mut answer: Value) -> Value {
    let fields = answer.as_object_mut().unwrap();
    fields.remove("revision");
    if let Some(Value::Array(findings)) = fields.get_mut("findings") {
        findings.retain(|found| found["code"] != "question_open");
        fields.remove("counts");
    }
    answer
}

fn tell(
    database: Database,
    order: &[Entry],
    beginning: usize,
    asked: &Questions,
    goes_elsewhere: bool,
) -> Told {
    let begun = time::Instant::now();
    let world = World::begin(database);
    let first =
        send(std::slice::from_ref(&world.av), &order[..beginning].iter().map(of_keeper).collect::<Vec<_>>());
    assert!(first.is_empty(), "the beginning is refused: {:?}", first[0].fact);
    let callers = callers(&world);
    let refused = send(&callers, &order[beginning..]);
    let left_out = send_again(&callers, refused).len();
    let sent_s = begun.elapsed().as_secs_f64();
    let answers: BTreeMap<String, Value> = asked
        .paths()
        .into_iter()
        .map(|path| {
            let answer = world.av.get(&path).expect(200).json();
            (path, plain(answer))
        })
        .collect();
    let copied = Copied::take(&world.av);
    let newest = copied.newest();
    for (path, by_service) in &answers {
        let by_copy = copied.answer(&newest, path).unwrap();
        assert_eq!(plain(by_copy), *by_service, "a copy answers otherwise: {path}");
    }
    let record = copied.into_record();
    let newest = record.last().unwrap().revision;
    let revision = record[record.len() * 2 / 3].revision;
    let common = Questions::common(asked.as_ofs[0]);
    let board = world.av.get(&format!("/may-fly?{common}&at_revision={revision}")).expect(200).json();
    let changed = world.av.get(&format!("/changes?since={revision}&{common}")).expect(200).json();
    if goes_elsewhere {
        stays_the_same_elsewhere(&world, &answers);
    }
    println!(
        "{database:?}: {} facts, revision {newest}, {left_out} left as questions; sent in {sent_s:.1} s, {} answers, {:.1} s in all",
        record.len(),
        answers.len(),
        begun.elapsed().as_secs_f64()
    );
    Told { answers, record, earlier: (revision, board, changed), left_out }
}

/// Taken away as an archive and put into the other database, the club gives the same answers.
fn stays_the_same_elsewhere(world: &World, answers: &BTreeMap<String, Value>) {
    let begun = time::Instant::now();
    let other = world.taken_over(&world.export(), Database::Postgres, Until::Newest);
    for (path, answer) in answers {
        let there = plain(other.av.get(path).expect(200).json());
        assert_eq!(there, *answer, "{path} is answered otherwise elsewhere");
    }
    println!("taken over with {} answers the same in {:.1} s", answers.len(), begun.elapsed().as_secs_f64());
}

fn of_keeper(entry: &Entry) -> Entry {
    Entry { phone: 0, fact: entry.fact.clone() }
}

/// What differs between the answers of a service and the slow evaluator over what the service has on record.
fn differences(told: &Told, asked: &Questions) -> Vec<String> {
    let mut list = Vec::new();
    let book = Book::read(&told.record, club().zone);
    let tag_of = |id: ModelId| book.model(id).tag.to_string();
    for as_of in asked.as_ofs {
        let (common, moment) = (Questions::common(as_of), Questions::moment(as_of));
        let at = Asked { as_of, on: moment.on, pilot: moment.pilot };
        let answer = |path: String| told.answers[&path].clone();
        let board: FleetBoard = serde_json::from_value(answer(format!("/may-fly?{common}"))).unwrap();
        assert_eq!(board.models.len(), book.models().len());
        let due: DueList = serde_json::from_value(answer(format!("/due?{common}"))).unwrap();
        for id in &asked.models {
            let tag = tag_of(*id);
            let said = board.models.iter().find(|one| one.model == tag).unwrap();
            let differs = verdict_difference(said, &verdict::of_model(&book, *id, at));
            list.extend(differs.map(|text| format!("{tag} {at:?}: {text}")));
            let items: Vec<_> = due.items.iter().filter(|item| item.model == tag).cloned().collect();
            let mut known = checks::of_model(&book, *id, at);
            known.retain(|check| items.iter().any(|item| item.group == check.group));
            let mut in_order = items.clone();
            in_order.sort_by_key(|item| known.iter().position(|check| check.group == item.group));
            let differs = due_difference(&in_order, &known);
            list.extend(differs.map(|text| format!("{tag} {at:?}: due: {text}")));
        }
        for id in &asked.parts {
            let path = format!("/components/{}/usage?as_of={as_of}", id.0);
            let used: ComponentUsage = serde_json::from_value(answer(path)).unwrap();
            let slow = usage::of_component(&book, *id, as_of);
            let differs = component_difference(&used, &slow, tag_of);
            list.extend(differs.map(|text| format!("{} {as_of}: {text}", used.component)));
        }
        for campaign in each!(book, Campaign).filter(|one| one.occurred_at <= as_of) {
            let path = format!("/campaigns/{}/progress?{common}", campaign.id);
            let Some(said) = told.answers.get(&path) else { continue };
            let said: CampaignProgress = serde_json::from_value(said.clone()).unwrap();
            let differs = progress_difference(&said, &campaigns::covered(&book, campaign, at));
            list.extend(differs.map(|text| format!("{} {at:?}: {text}", campaign.id)));
        }
        let mut found = answer(format!("/findings?{common}"));
        found["counts"] = serde_json::json!({"ground": 0, "restrict": 0, "watch": 0});
        let found: Findings = serde_json::from_value(found).unwrap();
        let differs = audit_difference(&found, &audited(&book, at));
        list.extend(differs.map(|text| format!("{at:?}: {text}")));
    }
    earlier_differences(told, asked, &mut list);
    list
}

/// The same for what was known earlier; and what changed since then is what reads differently.
fn earlier_differences(told: &Told, asked: &Questions, list: &mut Vec<String>) {
    let (revision, board, changed) = &told.earlier;
    let known: Vec<_> = told.record.iter().filter(|one| one.revision <= *revision).cloned().collect();
    let book = Book::read(&known, club().zone);
    let moment = Questions::moment(asked.as_ofs[0]);
    let at = Asked { as_of: moment.as_of, on: moment.on, pilot: moment.pilot };
    let then: Answer<FleetBoard> = serde_json::from_value(board.clone()).unwrap();
    for id in some(&asked.models, 12, 5) {
        let tag = book.model(id).tag.to_string();
        let said = then.answer.models.iter().find(|one| one.model == tag).unwrap();
        let differs = verdict_difference(said, &verdict::of_model(&book, id, at));
        list.extend(differs.map(|text| format!("{tag} at revision {revision}: {text}")));
    }
    let now = &told.answers[&format!("/may-fly?{}", Questions::common(asked.as_ofs[0]))];
    let words = |board: &Value| -> BTreeMap<String, Value> {
        let models = board["models"].as_array().unwrap().iter().cloned();
        models
            .map(|mut one| {
                one.as_object_mut().unwrap().remove("next_due");
                (one["model"].as_str().unwrap().to_owned(), one)
            })
            .collect()
    };
    let (then, now) = (words(board), words(now));
    let differing: Vec<&String> = now.keys().filter(|tag| then.get(*tag) != now.get(*tag)).collect();
    let named: Vec<String> = changed["models"]
        .as_array()
        .unwrap()
        .iter()
        .map(|change| change["model"].as_str().unwrap().to_owned())
        .collect();
    let gone: Vec<&String> = then.keys().filter(|tag| !now.contains_key(*tag)).collect();
    if !gone.is_empty() || named.iter().collect::<Vec<_>>() != differing {
        list.push(format!(
            "changed since {revision}: named {named:?}, differing {differing:?}, gone {gone:?}"
        ));
    }
    if named.len() < 20 {
        list.push(format!("too little changed to tell: {named:?}"));
    }
}

/// Where two services answer differently.
fn unlike(one: &Told, other: &Told, what: &str) -> Vec<String> {
    let mut list = Vec::new();
    for (path, answer) in &one.answers {
        if other.answers[path] != *answer {
            list.push(format!("{what}: {path}\n  {answer}\n  {}", other.answers[path]));
        }
    }
    list
}

#[test]
fn both_databases_and_every_order_of_arrival_give_the_answers_of_the_slow_evaluator() {
    for number in 0..u64::from(times()) {
        let history = History::large(EXTENT, 1_700, 1_000 + number);
        let size = Size::of(history.facts.iter());
        size.is_worth_judging();
        let beginning = History::begin(EXTENT).facts.len();
        let lived = entries(&history.facts);
        let arrived = late(&lived, beginning);
        let (models, parts) = a_few(&history.fleet, &history.facts, &mut crate::history::Roll(number));
        let past_s = history.cursor.seconds_since(world::start()) * 2 / 3;
        let asked = Questions {
            as_ofs: [history.cursor, world::start().plus_seconds(past_s)],
            models: some(&models, 24, 1),
            parts: some(&parts, 60, 2),
            // Those that were open by the earlier moment, too.
            campaigns: history
                .facts
                .iter()
                .filter_map(|recorded| match &recorded.fact {
                    Fact::Campaign(campaign) => Some(campaign),
                    _ => None,
                })
                .filter(|campaign| campaign.occurred_at <= world::start().plus_seconds(past_s))
                .take(3)
                .map(|campaign| campaign.id)
                .collect(),
        };
        // In every run PostgreSQL takes in what arrives late alone.
        let is_long = times() > 1;
        let (sqlite, late_postgres, postgres) = thread::scope(|scope| {
            let of_postgres = scope.spawn(|| {
                let late = tell(Database::Postgres, &arrived, beginning, &asked, false);
                (late, is_long.then(|| tell(Database::Postgres, &lived, beginning, &asked, false)))
            });
            let late = tell(Database::Sqlite, &arrived, beginning, &asked, false);
            let sqlite = (tell(Database::Sqlite, &lived, beginning, &asked, true), late);
            let (late, lived) = of_postgres.join().unwrap();
            (sqlite, late, lived)
        });
        crate::expect_none(&unlike(&sqlite.1, &late_postgres, "databases, late"));
        assert_eq!(sqlite.1.left_out, late_postgres.left_out);
        if let Some(postgres) = postgres {
            crate::expect_none(&unlike(&sqlite.0, &postgres, "databases"));
        }
        let begun = time::Instant::now();
        crate::expect_none(&differences(&sqlite.0, &asked));
        crate::expect_none(&differences(&sqlite.1, &asked));
        println!("compared with the slow evaluator in {:.1} s", begun.elapsed().as_secs_f64());
        let facts = |told: &Told| {
            let of_facts = told.record.iter().filter(|one| one.fact.noun() != Noun::Questions);
            let mut ids: Vec<_> = of_facts.map(|one| (one.fact.noun(), one.fact.id())).collect();
            ids.sort();
            ids
        };
        let (lived, arrived) = (facts(&sqlite.0), facts(&sqlite.1));
        let in_both = lived.iter().filter(|one| arrived.binary_search(one).is_ok()).count();
        println!("{in_both} of {} facts came in either way", lived.len());
        assert!(in_both * 100 >= lived.len() * 98, "{in_both} of {}", lived.len());
        // What came in one way alone, as a rule had something against it then, shows in the answers that it concerns.
        let unlike = unlike(&sqlite.0, &sqlite.1, "orders of arrival");
        println!("{} of {} answers differ by that", unlike.len(), sqlite.0.answers.len());
        if lived == arrived {
            crate::expect_none(&unlike);
        }
        assert!(unlike.len() * 10 <= sqlite.0.answers.len(), "{}", unlike.len());
    }
}
