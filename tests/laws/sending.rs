//! Sends a history to a running service as the club's phones would: the workshop's own, and those of four members, each
//! with its outbox in the order in which things were entered on it.

use std::collections::BTreeSet;

use preen_domain::facts::{Fact, Noun, Recorded};
use preen_tests::{World, http::Caller};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::{history::Roll, world};

/// Facts of an outbox at most.
const AT_ONCE: usize = 200;

/// One fact and the phone that sends it; phone 0 is the workshop's.
#[derive(Clone)]
pub struct Entry {
    pub phone: usize,
    pub fact: Fact,
}

/// Moves of parts, repairs and master data are entered in the workshop, what happens at the field on four phones.
pub fn entries(facts: &[Recorded<Fact>]) -> Vec<Entry> {
    let of_the_field = [
        Noun::Flights,
        Noun::Riggings,
        Noun::Charges,
        Noun::Measurements,
        Noun::Inspections,
        Noun::Weighings,
        Noun::Events,
        Noun::Defects,
    ];
    let phone = |at: usize, fact: &Fact| {
        if of_the_field.contains(&fact.noun()) { 1 + (at / 12) % 4 } else { 0 }
    };
    let all = facts.iter().map(|recorded| recorded.fact.clone()).enumerate();
    all.map(|(at, fact)| Entry { phone: phone(at, &fact), fact }).collect()
}

/// The same facts as they arrive when the phones are out of reach for a while, each longer than the one before: the
/// order on each phone stays. The first so many, the beginning of the record, are not late.
pub fn late(entries: &[Entry], beginning: usize) -> Vec<Entry> {
    let mut order: Vec<Entry> = entries[..beginning].to_vec();
    let mut waiting: Vec<Vec<Entry>> = vec![Vec::new(); 5];
    for (at, entry) in entries[beginning..].iter().enumerate() {
        waiting[entry.phone].push(entry.clone());
        for (phone, every) in [1, 7, 90, 700].into_iter().enumerate() {
            if at % every == 0 {
                order.append(&mut waiting[phone]);
            }
        }
    }
    for phone in [3, 2, 4, 1, 0] {
        order.append(&mut waiting[phone]);
    }
    order
}

/// The callers behind the phones. The members of the world must be on record.
pub fn callers(world: &World) -> Vec<Caller> {
    let mut list = vec![world.av.clone()];
    for number in 1..world::MEMBERS {
        list.push(world.token_of(&format!("M{number}"), &["read", "write", "history"], None));
    }
    list
}

/// Sends facts in order; returns those that were not recorded. What is already known counts as recorded.
pub fn send(callers: &[Caller], entries: &[Entry]) -> Vec<Entry> {
    let mut refused = Vec::new();
    let mut known: BTreeSet<(Noun, Uuid)> = BTreeSet::new();
    let mut outbox: Vec<Entry> = Vec::new();
    for entry in entries {
        let fact = &entry.fact;
        let is_version = fact.noun().is_master_data() && !known.insert((fact.noun(), fact.id()));
        let is_plain = !is_version && !matches!(fact, Fact::Correction(_));
        let is_of_another = outbox.first().is_some_and(|first| first.phone != entry.phone);
        if is_of_another || !is_plain || outbox.len() == AT_ONCE {
            flush(callers, &mut outbox, &mut refused);
        }
        if is_plain {
            outbox.push(entry.clone());
            continue;
        }
        let caller = &callers[entry.phone];
        let status = match fact {
            Fact::Correction(correction) => {
                let mut body = json!(correction);
                for key in ["noun", "original"] {
                    body.as_object_mut().unwrap().remove(key);
                }
                let path = format!("/{}/{}/correction", correction.noun, correction.original);
                caller.post(&path, &without_nulls(body)).status
            }
            version => {
                let path = format!("/{}/{}", version.noun(), version.id());
                caller.put(&path, Some("*"), &without_nulls(json!(version))).status
            }
        };
        assert!(status < 500, "{status} for {fact:?}");
        if status >= 300 {
            refused.push(entry.clone());
        }
    }
    flush(callers, &mut outbox, &mut refused);
    refused
}

/// Sends what was refused again, in order, until nothing more is taken; returns what stays refused.
pub fn send_again(callers: &[Caller], mut refused: Vec<Entry>) -> Vec<Entry> {
    loop {
        let before = refused.len();
        refused = send(callers, &refused);
        if refused.is_empty() || refused.len() == before {
            return refused;
        }
    }
}

fn flush(callers: &[Caller], outbox: &mut Vec<Entry>, refused: &mut Vec<Entry>) {
    let sent = std::mem::take(outbox);
    let Some(first) = sent.first() else { return };
    let facts: Vec<Value> = sent
        .iter()
        .map(|entry| json!({"noun": entry.fact.noun(), "fact": without_nulls(json!(entry.fact))}))
        .collect();
    let answer = callers[first.phone].post("/facts", &json!({"facts": facts})).expect(200).json();
    let results = answer["results"].as_array().unwrap();
    assert_eq!(results.len(), sent.len());
    for (entry, result) in sent.into_iter().zip(results) {
        let status = result["status"].as_str().unwrap();
        assert_ne!(status, "try_again", "{result}");
        if status != "recorded" && status != "known" {
            refused.push(entry);
        }
    }
}

fn without_nulls(mut body: Value) -> Value {
    if let Some(fields) = body.as_object_mut() {
        fields.retain(|_, value| !value.is_null());
    }
    body
}

/// A few of a list, the same for the same number.
pub fn some<T: Clone + Ord>(list: &[T], count: usize, number: u64) -> Vec<T> {
    let mut roll = Roll(number);
    let mut some: Vec<T> = (0..count).filter_map(|_| roll.pick(list)).collect();
    some.sort();
    some.dedup();
    some
}
