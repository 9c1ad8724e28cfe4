//! Marks 5, 6 and 8: what is written over HTTP on this machine. Flights one by one with their access check, rules, facts
//! and entries of the trail; an outbox; and several clubs on one PostgreSQL server.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant as Stopwatch};

use preen_api::db::conn::Place;
use preen_domain::facts::Fact;
use serde_json::{Value, json};

use crate::club::{self, Extent};
use crate::fleet::median;
use crate::load::{Bounds, Connection, Measured, drive, request};
use crate::marks::{Mark, Sense};
use crate::service::{CLUB, Folder, How, Served, everything};

static NUMBER: AtomicU64 = AtomicU64::new(0);

/// A flight that nobody logged before, as it is posted: the models by turns, each a second after the one before.
fn new_flight(extent: Extent) -> Fact {
    let number = NUMBER.fetch_add(1, Ordering::Relaxed);
    let model = u32::try_from(number % u64::from(extent.models)).unwrap();
    let seconds = i64::try_from(number / u64::from(extent.models)).unwrap() + 1;
    let at = club::end().plus_seconds(seconds - 86_400);
    club::short_flight(model, at)
}

fn post_of(extent: Extent, token: &str) -> Vec<u8> {
    request("POST", "/api/v1/flights", token, &[], Some(&serde_json::to_string(&new_flight(extent)).unwrap()))
}

fn all_recorded(what: &str, measured: &Measured) {
    assert_eq!(measured.others_than(201), 0, "{what}: {:?}", measured.statuses);
}

/// How much is written.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Each load at most.
    pub time: Duration,
    /// Requests of each load at most.
    pub requests: u64,
    /// Facts of the outbox.
    pub outbox: usize,
    /// Rounds by turns.
    pub rounds: usize,
}

/// Mark 5: one COMMIT for what waits, beside one for each request.
pub fn one_by_one(extent: Extent, effort: Effort) -> Vec<Mark> {
    let together = Served::start(extent, How { workers: None, changes_a_commit: None });
    let apart = Served::start(extent, How { workers: None, changes_a_commit: Some(1) });
    let load = |served: &Served| {
        let bounds = Bounds { connections: 32, time: effort.time, requests: effort.requests };
        let measured = drive(served.address(), bounds, |_| post_of(extent, served.token()));
        all_recorded("flights", &measured);
        measured
    };
    let (mut grouped, mut single, mut spread) = (Vec::new(), Vec::new(), Vec::new());
    let mut tails = Vec::new();
    for _ in 0..effort.rounds {
        let measured = load(&together);
        grouped.push(measured.rate());
        spread.push(measured.quantile(0.99) / measured.quantile(0.5));
        tails.push((measured.quantile(0.5), measured.quantile(0.99)));
        single.push(load(&apart).rate());
    }
    let (grouped, single) = (median(grouped), median(single));
    let (p50, p99) = tails[tails.len() / 2];
    vec![
        Mark::ratio(
            "5",
            "flights posted, group commit beside one commit a request, 32 connections",
            grouped / single,
            Sense::AtLeast(4.0),
            format!("{grouped:.0} /s and {single:.0} /s, `synchronous=FULL`"),
        ),
        Mark::ratio(
            "5",
            "flights posted, p99 beside p50",
            median(spread),
            Sense::AtMost(5.0),
            format!("{:.1} ms and {:.1} ms", p99 / 1e3, p50 / 1e3),
        ),
    ]
}

/// Mark 6: an outbox, sent in pieces of the most that the service takes.
pub fn outbox(extent: Extent, effort: Effort) -> Vec<Mark> {
    const PIECE: usize = 2_000;
    let served = Served::start(extent, How { workers: None, changes_a_commit: None });
    let mut rates = Vec::new();
    for _ in 0..effort.rounds {
        let items: Vec<Value> = (0..effort.outbox)
            .map(|_| {
                let fact = new_flight(extent);
                json!({ "noun": fact.noun(), "fact": fact })
            })
            .collect();
        let pieces: Vec<Vec<u8>> = items
            .chunks(PIECE)
            .map(|piece| {
                let body = json!({ "facts": piece }).to_string();
                request("POST", "/api/v1/facts", served.token(), &[], Some(&body))
            })
            .collect();
        let mut connection = Connection::open(served.address()).unwrap();
        let started = Stopwatch::now();
        let mut recorded = 0;
        for piece in &pieces {
            let reply = connection.ask(piece).unwrap();
            assert_eq!(reply.status, 200, "{}", String::from_utf8_lossy(&reply.body));
            let said: Value = serde_json::from_slice(&reply.body).unwrap();
            let results = said["results"].as_array().unwrap();
            recorded += results.iter().filter(|one| one["status"] == "recorded").count();
        }
        rates.push(effort.outbox as f64 / started.elapsed().as_secs_f64());
        assert_eq!(recorded, effort.outbox, "every fact of the outbox is on record");
    }
    vec![Mark::figure(
        "6",
        "outbox through POST /facts, embedded database",
        median(rates),
        "facts/s",
        Sense::AtLeast(20_000.0),
        format!(
            "{} facts in requests of {PIECE}, one after the other, {} models",
            effort.outbox, extent.models
        ),
    )]
}

/// Mark 8: flights of eight clubs on one PostgreSQL server beside flights of one.
pub fn clubs(extent: Extent, effort: Effort) -> Vec<Mark> {
    const CLUBS: usize = 8;
    let place = Place::from_url(&preen_tests::cluster::new_database());
    let mut served = Served::on(place, Folder::new(), How { workers: None, changes_a_commit: None });
    for number in 0..CLUBS {
        let name = format!("{CLUB}-{number}");
        served.begin_club(&name);
        served.record(&name, everything(extent));
    }
    let load = |clubs: usize| {
        let bounds = Bounds { connections: 32, time: effort.time, requests: effort.requests };
        let measured = drive(served.address(), bounds, |turn| {
            post_of(extent, &served.tokens[usize::try_from(turn).unwrap() % clubs])
        });
        all_recorded("flights of clubs", &measured);
        measured.rate()
    };
    let (mut one, mut many) = (Vec::new(), Vec::new());
    for _ in 0..effort.rounds {
        one.push(load(1));
        many.push(load(CLUBS));
    }
    let (one, many) = (median(one), median(many));
    vec![Mark::ratio(
        "8",
        "flights of 8 clubs beside flights of one, PostgreSQL on this machine, 32 connections",
        many / one,
        Sense::AtLeast(1.0),
        format!("{many:.0} /s and {one:.0} /s; load, service and database share the cores"),
    )]
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: Effort = Effort { time: Duration::from_secs(20), requests: 40, outbox: 50, rounds: 1 };

    #[test]
    fn a_few_flights_are_measured() {
        assert!(one_by_one(Extent::TINY, SMALL).iter().all(|mark| mark.figure > 0.0));
    }

    #[test]
    fn a_small_outbox_is_measured() {
        assert!(outbox(Extent::TINY, SMALL).iter().all(|mark| mark.figure > 0.0));
    }

    #[test]
    fn some_clubs_are_measured() {
        assert!(clubs(Extent::TINY, SMALL).iter().all(|mark| mark.figure > 0.0));
    }
}
