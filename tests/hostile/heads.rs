//! Heads that are too long, contradict themselves, or are none: refused or closed, and nothing that hides behind them is
//! taken for a request of its own.

use std::time::Duration;

use crate::target::{AT_ONCE, SLACK, Target};
use crate::wire::{Heard, Wire};

/// What may become of one.
enum Want {
    /// Refused with one of these, or closed without a word.
    Refused(&'static [u16]),
    /// Answered so, once.
    Answered(u16),
}
use Want::{Answered, Refused};

const BAD: &[u16] = &[400, 431];

fn head(lines: &str) -> Vec<u8> {
    format!("GET /health/live HTTP/1.1\r\nHost: a\r\n{lines}\r\n").into_bytes()
}

/// A request with a body that another one hides in.
fn hidden(token: &str, framing: &str, body: &str) -> Vec<u8> {
    format!(
        "POST /api/v1/parts HTTP/1.1\r\nHost: a\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\n{framing}\r\n\r\n{body}"
    )
    .into_bytes()
}

fn cases(token: &str) -> Vec<(&'static str, Vec<u8>, Want)> {
    let many: String = (0..400).map(|number| format!("X-{number}: 1\r\n")).collect();
    let smuggled =
        format!("GET /api/v1/members HTTP/1.1\r\nHost: a\r\nAuthorization: Bearer {token}\r\n\r\n");
    let both = format!("0\r\n\r\n{smuggled}");
    let hello = [&[0x16, 3, 1, 2, 0, 1, 0, 1, 0xFC, 3, 3][..], &[7; 300]].concat();
    let noise: Vec<u8> = (0..4096_u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    let h2 = "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";
    vec![
        ("400 headers", head(&many), Refused(BAD)),
        ("a header of 1 MiB", head(&format!("X-Long: {}\r\n", "x".repeat(1 << 20))), Refused(BAD)),
        ("a cookie of 100 KiB", head(&format!("Cookie: {}\r\n", "x=1; ".repeat(20_000))), Answered(200)),
        ("a header without a colon", head("X-Nothing\r\n"), Refused(BAD)),
        ("a blank before the colon", head("Content-Length : 5\r\n"), Refused(BAD)),
        ("a folded header", head("X-Folded: a\r\n b\r\n"), Refused(BAD)),
        ("a NUL in a header", head("X-Nul: a\0b\r\n"), Refused(BAD)),
        ("a bare return in a header", head("X-Split: a\rSet-Cookie: b\r\n"), Refused(BAD)),
        ("a header without a name", head(": nothing\r\n"), Refused(BAD)),
        ("a path of 1 MiB", format!("GET /{} HTTP/1.1\r\n\r\n", "a".repeat(1 << 20)).into(), Refused(BAD)),
        (
            "a path of 60 KiB",
            format!("GET /{} HTTP/1.1\r\nHost: a\r\n\r\n", "a/".repeat(30_000)).into(),
            Answered(404),
        ),
        (
            "a method of 60 KiB",
            format!("{} / HTTP/1.1\r\n\r\n", "A".repeat(60_000)).into(),
            Refused(&[400, 404, 405, 431]),
        ),
        ("an unknown method", "BREW /api/v1/parts HTTP/1.1\r\nHost: a\r\n\r\n".into(), Answered(405)),
        ("TRACE", "TRACE /api/v1/parts HTTP/1.1\r\nHost: a\r\nCookie: s=1\r\n\r\n".into(), Answered(405)),
        (
            "CONNECT",
            "CONNECT example.invalid:443 HTTP/1.1\r\nHost: a\r\n\r\n".into(),
            Refused(&[400, 404, 405]),
        ),
        ("HTTP/0.9", "GET /\r\n".into(), Refused(BAD)),
        ("HTTP/9.9", "GET / HTTP/9.9\r\nHost: a\r\n\r\n".into(), Refused(&[400, 505])),
        ("HTTP/2 without encryption", h2.into(), Refused(BAD)),
        ("noise", noise, Refused(BAD)),
        ("encryption where none is spoken", hello, Refused(BAD)),
        ("only ends of lines", "\r\n".repeat(4000).into(), Refused(BAD)),
        (
            "another host in the target",
            "GET http://evil.example/health/live HTTP/1.1\r\nHost: a\r\n\r\n".into(),
            Answered(200),
        ),
        (
            "a wish to speak otherwise",
            head("Connection: Upgrade\r\nUpgrade: h2c\r\nHTTP2-Settings: AAMAAABk\r\n"),
            Answered(200),
        ),
        (
            "a wish for a socket",
            head("Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Key: x\r\n"),
            Answered(200),
        ),
        (
            "both framings",
            hidden(token, "Content-Length: 4\r\nTransfer-Encoding: chunked", &both),
            Refused(BAD),
        ),
        (
            "both framings, the other way round",
            hidden(token, "Transfer-Encoding: chunked\r\nContent-Length: 400", &both),
            Refused(BAD),
        ),
        (
            "two lengths",
            hidden(token, "Content-Length: 2\r\nContent-Length: 400", &format!("{{}}{smuggled}")),
            Refused(BAD),
        ),
        ("a list of lengths", hidden(token, "Content-Length: 2, 2", "{}"), Refused(BAD)),
        ("a length below nothing", hidden(token, "Content-Length: -1", &smuggled), Refused(BAD)),
        (
            "a length with a sign",
            hidden(token, "Content-Length: +2", &format!("{{}}{smuggled}")),
            Refused(BAD),
        ),
        ("a length in another base", hidden(token, "Content-Length: 0x2", "{}"), Refused(BAD)),
        (
            "a length beyond all numbers",
            hidden(token, "Content-Length: 99999999999999999999999", "{}"),
            Refused(BAD),
        ),
        ("an unknown framing", hidden(token, "Transfer-Encoding: xchunked", &both), Refused(&[400, 501])),
        (
            "chunked, and something after it",
            hidden(token, "Transfer-Encoding: chunked, identity", &both),
            Refused(&[400, 501]),
        ),
        (
            "chunked twice",
            hidden(token, "Transfer-Encoding: chunked\r\nTransfer-Encoding: chunked", &both),
            Refused(&[400, 501]),
        ),
        (
            "a chunk beyond all numbers",
            hidden(token, "Transfer-Encoding: chunked", "FFFFFFFFFFFFFFFFF\r\n"),
            Refused(BAD),
        ),
        ("a chunk below nothing", hidden(token, "Transfer-Encoding: chunked", "-1\r\n{}\r\n"), Refused(BAD)),
        (
            "a chunk in another spelling",
            hidden(token, "Transfer-Encoding: chunked", "0x2\r\n{}\r\n0\r\n\r\n"),
            Refused(BAD),
        ),
        (
            "a chunk longer than it says",
            hidden(token, "Transfer-Encoding: chunked", "2\r\n{}}}\r\n0\r\n\r\n"),
            Refused(BAD),
        ),
        (
            "a chunk with endless words",
            hidden(token, "Transfer-Encoding: chunked", &format!("2;{}", "x".repeat(300_000))),
            Refused(&[400, 408, 413, 431]),
        ),
    ]
}

/// All of them, each with an honest request after it.
pub fn odd() -> String {
    let target = Target::begin();
    let cases = cases(&target.caller.token);
    let mut closed = 0;
    let mut wrong = Vec::new();
    for (name, bytes, want) in &cases {
        let heard = ask(&target, bytes);
        let status = heard.status();
        let is_right = match want {
            Answered(wanted) => status == Some(*wanted) && heard.answers() == 1,
            // What came after it on the line was not looked at.
            Refused(wanted) => {
                heard.is_closed && heard.answers() < 2 && status.is_none_or(|status| wanted.contains(&status))
            }
        };
        if !is_right || heard.text().contains("\"items\"") {
            let start: String = heard.text().chars().take(200).collect();
            wrong.push(format!(
                "{name}: {status:?}, closed {}, {} answers: {start}",
                heard.is_closed,
                heard.answers()
            ));
        }
        closed += usize::from(status.is_none());
        target.is_well();
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    format!("{} heads, {closed} closed without a word, {}", cases.len(), target.end())
}

fn ask(target: &Target, bytes: &[u8]) -> Heard {
    let mut wire = Wire::to(target.address);
    wire.send(bytes);
    let heard = wire.hear(Duration::from_millis(300));
    if heard.is_closed || heard.status().is_some_and(|status| status < 300) {
        return heard;
    }
    // Whatever is left open must be closed in time.
    wire.end();
    let rest = wire.hear(AT_ONCE + SLACK);
    Heard { bytes: [heard.bytes, rest.bytes].concat(), is_closed: rest.is_closed }
}
