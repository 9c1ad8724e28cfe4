//! Those who take their time, many of them at once: heads and bodies that drip, answers that nobody takes, lines on which
//! nothing is said. Honest clients are answered at once all the while, and the slow are dropped in the stated time.

use std::time::{Duration, Instant};

use preen_tests::waiting::rest;

use crate::target::{AT_ONCE, BODY, HEAD, IDLE, LINES, SLACK, STALLED, Target};
use crate::wire::Wire;

/// Slow ones at once; fewer than the lines of one address, so that none has to make room.
const MANY: usize = LINES - 8;
/// Second heads at once: all of them must have begun before the first may have to end.
const FEW: usize = 8;
/// Between two drops.
const DROP: Duration = Duration::from_millis(100);

/// Lets all drip, one byte at a time, until each is closed; how long the last one lasted.
fn drip(target: &Target, wires: &mut Vec<Wire>, text: &[u8], most: Duration) -> Duration {
    let began = Instant::now();
    let mut drops = text.iter().cycle();
    let mut slowest = Duration::ZERO;
    while !wires.is_empty() {
        assert!(began.elapsed() < most, "{} are still held open after {most:?}", wires.len());
        let byte = [*drops.next().unwrap()];
        wires.retain_mut(|wire| wire.send(&byte) && !wire.is_closed());
        slowest = slowest.max(target.is_well());
        rest(DROP);
    }
    println!("  slowest honest answer {slowest:?}");
    began.elapsed()
}

/// Heads that never end: of the first request on a line, and of a second one.
pub fn heads() -> String {
    let target = Target::begin();
    let mut first: Vec<Wire> = (0..MANY).map(|_| Wire::to(target.address)).collect();
    for wire in &mut first {
        wire.send(b"GET /health/live HTTP/1.1\r\nHost: a\r\n");
    }
    let one = drip(&target, &mut first, b"X-Drop: 1\r\n", HEAD + SLACK);
    let mut second: Vec<Wire> = (0..FEW).map(|_| Wire::to(target.address)).collect();
    for wire in &mut second {
        wire.send(b"GET /health/live HTTP/1.1\r\nHost: a\r\n\r\n");
    }
    for wire in &mut second {
        while !wire.hear(Duration::from_millis(20)).text().contains("\"live\"") {}
        wire.send(b"GET /health/live HTTP/1.1\r\nHost: a\r\n");
    }
    let two = drip(&target, &mut second, b"X-Drop: 1\r\n", IDLE + SLACK);
    format!("{MANY} first heads gone after {one:.1?}, {FEW} second ones after {two:.1?}, {}", target.end())
}

/// Bodies that drip, with a length and in chunks: told 408.
pub fn bodies() -> String {
    let target = Target::begin();
    let token = &target.caller.token;
    let head = format!(
        "POST /api/v1/parts HTTP/1.1\r\nHost: a\r\nAuthorization: Bearer {token}\r\nContent-Type: application/json\r\n"
    );
    let began = Instant::now();
    let mut told = 0;
    for (how, drop) in
        [("Content-Length: 100000\r\n\r\n", &b" "[..]), ("Transfer-Encoding: chunked\r\n\r\n", b"1\r\n \r\n")]
    {
        let mut wires: Vec<Wire> = (0..MANY / 2).map(|_| Wire::to(target.address)).collect();
        for wire in &mut wires {
            wire.send(format!("{head}{how}").as_bytes());
        }
        let round = Instant::now();
        while !wires.is_empty() {
            assert!(round.elapsed() < BODY + SLACK, "{} bodies still drip", wires.len());
            target.is_well();
            wires.retain_mut(|wire| {
                wire.send(drop);
                let heard = wire.hear(Duration::from_millis(2));
                let is_told = heard.status() == Some(408);
                assert!(is_told || heard.bytes.is_empty(), "{}", heard.text());
                assert!(!is_told || heard.code().as_deref() == Some("too_slow"), "{}", heard.text());
                told += usize::from(is_told);
                !is_told && !heard.is_closed
            });
        }
    }
    assert_eq!(told, MANY / 2 * 2);
    // A picture, and a form with one.
    let picture = format!(
        "POST /api/v1/photos/files HTTP/1.1\r\nHost: a\r\nAuthorization: Bearer {token}\r\nContent-Length: 9000\r\n\r\n"
    );
    let heard = Wire::ask(target.address, picture.as_bytes(), BODY + SLACK);
    assert_eq!((heard.status(), heard.code().as_deref()), (Some(408), Some("too_slow")), "{}", heard.text());
    format!("{told} told within {:.1?}, {}", began.elapsed() / 2, target.end())
}

/// Answers that nobody takes: many large ones, asked for on one line each.
pub fn readers() -> String {
    let target = Target::begin();
    const ASKED: usize = 40;
    let size = target.caller.get("/openapi.json").expect(200).bytes.len();
    let mut wires: Vec<Wire> = (0..MANY).map(|_| Wire::to(target.address)).collect();
    for wire in &mut wires {
        // More than any buffer between the two takes in.
        wire.send("GET /openapi.json HTTP/1.1\r\nHost: a\r\n\r\n".repeat(ASKED).as_bytes());
    }
    let began = Instant::now();
    while began.elapsed() < STALLED + SLACK {
        target.is_well();
        rest(DROP);
    }
    let mut most = 0;
    for mut wire in wires {
        let heard = wire.hear(SLACK);
        assert!(heard.is_closed, "a line that nobody reads is still open");
        assert!(heard.bytes.len() < ASKED * size, "all was kept for somebody who did not read it");
        most = most.max(heard.bytes.len());
    }
    format!("at most {} KiB of {} were on their way, {}", most >> 10, (ASKED * size) >> 10, target.end())
}

/// More lines than one address may have: the longest silent makes room, honest ones are answered.
pub fn crowd() -> String {
    let target = Target::begin();
    let mut wires: Vec<Wire> = Vec::new();
    for _ in 0..6 {
        wires.extend((0..LINES).map(|_| Wire::to(target.address)));
        target.is_well();
    }
    let began = Instant::now();
    while open(&mut wires) > LINES {
        assert!(began.elapsed() < AT_ONCE, "{} lines of one address are open", open(&mut wires));
    }
    rest(HEAD + SLACK / 2);
    assert_eq!(open(&mut wires), 0, "lines on which nothing was said are still open");
    format!("{} lines came, {}", 6 * LINES, target.end())
}

fn open(wires: &mut [Wire]) -> usize {
    wires.iter_mut().filter_map(|wire| (!wire.is_closed()).then_some(())).count()
}
