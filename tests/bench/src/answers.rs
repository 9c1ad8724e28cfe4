//! Marks 2 and 3: the may-fly board of a club over HTTP, whole and unchanged, and how soon a new fact is in answers.

use std::time::{Duration, Instant as Stopwatch};

use serde_json::{Value, json};

use crate::club::{self, Extent};
use crate::fleet::median;
use crate::load::{Bounds, Connection, Measured, drive, request};
use crate::marks::{Mark, Sense};
use crate::service::{Hello, How, Served, cores};

const BOARD: &str = "/api/v1/may-fly";

/// How long each load lasts, and how many rounds by turns.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// One load.
    pub time: Duration,
    /// Rounds by turns.
    pub rounds: usize,
}

fn clean(what: &str, measured: &Measured, wanted: u16) {
    assert_eq!(measured.others_than(wanted), 0, "{what}: {:?}", measured.statuses);
}

/// Measures them.
pub fn measure(extent: Extent, effort: Effort) -> Vec<Mark> {
    let mut marks = Vec::new();
    // One thread answers and the load takes the other core: what comes out is answers a core.
    let served = Served::start(extent, How { workers: Some(1), changes_a_commit: None });
    let bounds = |connections| Bounds { connections, time: effort.time, requests: u64::MAX };
    let whole = request("GET", BOARD, served.token(), &[], None);
    let body = Connection::open(served.address()).unwrap().ask(&whole).unwrap();
    let board = drive(served.address(), bounds(4), |_| whole.clone());
    clean("board", &board, 200);
    marks.push(Mark::figure(
        "2",
        "may-fly board over HTTP, whole, nothing new on record",
        board.rate(),
        "/s a core",
        Sense::AtLeast(100.0),
        format!(
            "{} models, {} kB of JSON, p99 {:.1} ms",
            extent.models,
            body.body.len() / 1_000,
            board.quantile(0.99) / 1e3
        ),
    ));
    marks.extend(after_each_fact(&served, extent, effort));
    drop(served);

    let served = Served::start(extent, How { workers: None, changes_a_commit: None });
    let hello = Hello::start(cores());
    let etag = Connection::open(served.address())
        .unwrap()
        .ask(&request("GET", BOARD, served.token(), &[], None))
        .unwrap();
    let etag =
        etag.head.lines().find_map(|line| line.strip_prefix("etag: ")).unwrap().trim().replace("w/", "W/");
    let known = request("GET", BOARD, served.token(), &[("if-none-match", &etag)], None);
    let plain = request("GET", "/", "", &[], None);
    let (mut unchanged, mut greeted) = (Vec::new(), Vec::new());
    for _ in 0..effort.rounds {
        let measured = drive(served.address(), bounds(32), |_| known.clone());
        clean("unchanged", &measured, 304);
        unchanged.push(measured.rate());
        let measured = drive(hello.address, bounds(32), |_| plain.clone());
        clean("hello", &measured, 200);
        greeted.push(measured.rate());
    }
    let (unchanged, greeted) = (median(unchanged), median(greeted));
    marks.push(Mark::ratio(
        "2",
        "unchanged board (If-None-Match) beside a bare hello of the same server",
        unchanged / greeted,
        Sense::AtLeast(0.5),
        format!("{unchanged:.0} /s and {greeted:.0} /s over 32 connections"),
    ));
    marks
}

/// How long after its acknowledgement a fact is in an answer, and the board when each is asked after a new fact.
fn after_each_fact(served: &Served, extent: Extent, effort: Effort) -> Vec<Mark> {
    let mut connection = Connection::open(served.address()).unwrap();
    let (mut seen_ms, mut board_ms) = (Vec::new(), Vec::new());
    let usage_of =
        |model: u32| request("GET", &format!("/api/v1/models/L-{model}/usage"), served.token(), &[], None);
    let flights = |connection: &mut Connection, model: u32| -> u64 {
        let reply = connection.ask(&usage_of(model)).unwrap();
        let said: Value = serde_json::from_slice(&reply.body).unwrap();
        said["flights"].as_u64().unwrap()
    };
    for turn in 0..u32::try_from(effort.rounds * 10).unwrap() {
        let model = turn % extent.models;
        let before = flights(&mut connection, model);
        let fact = club::later_flight(model, turn, club::end().plus_seconds(-3_600 * (i64::from(turn) + 1)));
        let post = request("POST", "/api/v1/flights", served.token(), &[], Some(&json!(fact).to_string()));
        let reply = connection.ask(&post).unwrap();
        assert_eq!(reply.status, 201, "{}", String::from_utf8_lossy(&reply.body));
        let told = Stopwatch::now();
        let after = flights(&mut connection, model);
        seen_ms.push(told.elapsed().as_secs_f64() * 1e3);
        assert_eq!(after, before + 1, "the flight is in the very next answer");
        let told = Stopwatch::now();
        let reply = connection.ask(&request("GET", BOARD, served.token(), &[], None)).unwrap();
        assert_eq!(reply.status, 200);
        board_ms.push(told.elapsed().as_secs_f64() * 1e3);
    }
    let made_of = format!("{} flights, each asked for at once", seen_ms.len());
    vec![
        Mark::figure(
            "3",
            "a new fact is in the very next answer",
            median(seen_ms),
            "ms",
            Sense::AtMost(5.0),
            made_of.clone(),
        ),
        Mark::figure("2", "board after each new fact", median(board_ms), "ms", Sense::Told, made_of),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_club_is_measured() {
        let marks = measure(Extent::TINY, Effort { time: Duration::from_millis(60), rounds: 1 });
        assert_eq!(marks.len(), 4);
        assert!(marks.iter().all(|mark| mark.figure > 0.0));
    }
}
