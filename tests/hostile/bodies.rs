//! Bodies that are too long, too deep, endless, packed, or of letters that no text has: each is told in the interface's
//! own shape what is wrong with it, whatever it was sent to.

use preen_tests::world::new_id;
use serde_json::{Value, json};

use crate::pack::blanks;
use crate::target::{AT_ONCE, SLACK, Target};
use crate::wire::Wire;

/// Where bodies of JSON go: nouns, an outbox, a calculator, a password, a form of access.
const PLACES: [&str; 9] =
    ["parts", "designs", "flights", "facts", "facts?mode=all", "compute/plan", "setup", "session", "tokens"];

fn deep(levels: usize) -> Vec<u8> {
    [b"[".repeat(levels), b"]".repeat(levels)].concat()
}

fn deep_object(levels: usize) -> Vec<u8> {
    [b"{\"a\":".repeat(levels), b"1".to_vec(), b"}".repeat(levels)].concat()
}

/// What is sent, and the codes that may be answered.
fn cases() -> Vec<(&'static str, Vec<u8>, &'static [&'static str])> {
    const MALFORMED: &[&str] = &["malformed_json"];
    const FIELDS: &[&str] = &["invalid_fields", "malformed_json"];
    let long = format!("{{\"id\":\"{}\",\"tag\":\"{}\"}}", new_id(), "x".repeat(900_000));
    let digits = format!("{{\"nominal_mass_g\":{}}}", "9".repeat(400_000));
    let fraction = format!("{{\"nominal_mass_g\":0.{}e-5}}", "1".repeat(400_000));
    let keys: String = (0..60_000).map(|number| format!("\"k{number}\":1,")).collect();
    let same = format!("{{{}\"a\":1}}", "\"a\":1,".repeat(100_000));
    vec![
        ("100,000 lists in each other", deep(100_000), MALFORMED),
        ("100,000 objects in each other", deep_object(100_000), MALFORMED),
        ("deep and never closed", b"[".repeat(900_000), MALFORMED),
        ("a text of 900,000 letters", long.into(), FIELDS),
        ("a number of 400,000 digits", digits.into(), FIELDS),
        ("a fraction of 400,000 digits", fraction.into(), FIELDS),
        ("a number beyond all", b"{\"nominal_mass_g\":1e400}".to_vec(), FIELDS),
        ("an integer beyond all", b"{\"launches\":99999999999999999999999999}".to_vec(), FIELDS),
        ("60,000 unknown keys", format!("{{{keys}\"z\":1}}").into(), FIELDS),
        ("a key 100,000 times", same.into(), FIELDS),
        ("NUL in a text", b"{\"tag\":\"a\\u0000b\"}".to_vec(), FIELDS),
        ("NUL as it is", b"{\"tag\":\"a\0b\"}".to_vec(), MALFORMED),
        ("half of a pair", b"{\"tag\":\"\\ud800\"}".to_vec(), FIELDS),
        ("the other half", b"{\"tag\":\"\\udc00x\"}".to_vec(), FIELDS),
        ("letters that are no UTF-8", b"{\"tag\":\"\xff\xfe\"}".to_vec(), MALFORMED),
        ("UTF-16", "\u{feff}{}".encode_utf16().flat_map(u16::to_le_bytes).collect(), MALFORMED),
        ("a mark before it", b"\xef\xbb\xbf{}".to_vec(), MALFORMED),
        ("two documents", b"{}{}".to_vec(), MALFORMED),
        ("a comment", b"{/* a */}".to_vec(), MALFORMED),
        ("nothing", Vec::new(), MALFORMED),
        ("null", b"null".to_vec(), FIELDS),
        ("a text", b"\"id\"".to_vec(), FIELDS),
    ]
}

/// All of them, everywhere.
pub fn odd() -> String {
    let target = Target::begin();
    let mut asked = 0;
    for (name, body, codes) in cases() {
        for place in PLACES {
            let kind = "application/json";
            let reply = target.caller.post_file(&format!("/{place}"), kind, &body);
            let said = reply.json();
            let code = said["code"].as_str().unwrap_or_default();
            assert!((400..500).contains(&reply.status), "{name} to {place}: {} {}", reply.status, reply.text);
            assert!(codes.contains(&code), "{name} to {place}: {}", reply.text);
            assert!(reply.text.len() < 40_000, "{name} to {place}: an answer of {} bytes", reply.text.len());
            asked += 1;
        }
        target.is_well();
    }
    other_letters(&target);
    packed(&target);
    lengths(&target);
    format!("{asked} bodies, {}", target.end())
}

fn other_letters(target: &Target) {
    for (kind, status) in [
        ("application/json; charset=utf-16", 400),
        ("application/json; charset=\"utf-7\"", 400),
        ("text/json", 415),
        ("application/x-www-form-urlencoded", 415),
        ("multipart/form-data; boundary=x", 415),
        ("application/json, text/plain", 415),
        ("", 415),
    ] {
        let reply = target.caller.post_file("/parts", kind, b"+A");
        assert_eq!(reply.status, status, "{kind}: {}", reply.text);
    }
    // Said under another method than it was sent by, it stays what it was sent by.
    for name in ["X-HTTP-Method-Override", "X-HTTP-Method", "X-Method-Override"] {
        let request = target.caller.request("POST", "/parts?_method=DELETE").header(name, "DELETE");
        let reply = preen_tests::Reply::of(request.json(&json!({ "_method": "DELETE" })));
        assert!(matches!(reply.status, 400 | 422), "{name}: {}", reply.text);
    }
}

fn packed(target: &Target) {
    let bomb = blanks(b"", 512).gzip();
    assert!(bomb.len() < 1 << 20, "512 MiB in {} bytes", bomb.len());
    for encoding in ["gzip", "deflate", "br", "zstd", "gzip, gzip"] {
        let request = target.caller.request("POST", "/parts").header("content-encoding", encoding);
        let request = request.header("content-type", "application/json").body(bomb.clone());
        preen_tests::Reply::of(request).problem(415, "packed");
    }
    // A form of a page is unpacked, no further than a form may be long.
    let request = reqwest::blocking::Client::builder().no_proxy().build().unwrap();
    let request =
        request.post(format!("{}/sign-in", target.caller.base())).header("content-encoding", "gzip");
    let request = request.header("content-type", "application/x-www-form-urlencoded").body(bomb);
    let status = request.send().unwrap().status().as_u16();
    assert!((400..500).contains(&status), "a packed form: {status}");
    target.is_well();
}

/// Lengths that are wrong, or none.
fn lengths(target: &Target) {
    let token = &target.caller.token;
    let head = format!(
        "POST /api/v1/parts HTTP/1.1\r\nHost: a\r\nAuthorization: Bearer {token}\r\nContent-Type: application/json\r\n"
    );
    // Said to be long, and broken off: no answer is owed to somebody who went away, and nothing is waited for.
    let mut wire = Wire::to(target.address);
    wire.send(format!("{head}Content-Length: 500\r\n\r\n{{\"id\":").as_bytes());
    wire.end();
    let heard = wire.hear(SLACK);
    assert!(heard.is_closed, "{}", heard.text());
    assert!(heard.status().is_none_or(|status| status == 400), "{}", heard.text());
    // Longer than said: what is left over is no request.
    let body = json!({ "id": "x" }).to_string();
    let heard = Wire::ask(
        target.address,
        format!("{head}Content-Length: {}\r\n\r\n{body}and more\r\n\r\n", body.len()).as_bytes(),
        SLACK,
    );
    assert_eq!((heard.status(), heard.answers() <= 2), (Some(422), true), "{}", heard.text());
    // Said to be of any length, and asked whether to go on.
    for length in ["2000000", "99999999999", "18446744073709551615"] {
        let asked = format!("{head}Expect: 100-continue\r\nContent-Length: {length}\r\n\r\n");
        let heard = Wire::ask(target.address, asked.as_bytes(), AT_ONCE + SLACK);
        assert!(heard.is_closed, "{length}: {}", heard.text());
        let last = heard.text().rsplit("HTTP/1.1 ").next().unwrap_or_default().to_owned();
        assert!(last.starts_with("408") || last.starts_with("413"), "{length}: {}", heard.text());
    }
    // Endless, in chunks and with a length: told so, and the line closed, after no more than was said to be read.
    let piece = vec![b' '; 64 << 10];
    let chunk = [format!("{:x}\r\n", piece.len()).as_bytes(), &piece, b"\r\n"].concat();
    for (framing, piece) in [("Transfer-Encoding: chunked", &chunk), ("Content-Length: 9999999999", &piece)] {
        let mut wire = Wire::to(target.address);
        wire.send(format!("{head}{framing}\r\n\r\n").as_bytes());
        let sent = (0..2000).take_while(|_| wire.send(piece)).count();
        let heard = wire.hear(AT_ONCE + SLACK);
        assert!(sent < 2000 || heard.is_closed, "{framing}: {sent} pieces were taken");
        let is_told = heard.status() == Some(413) && heard.code().as_deref() == Some("too_large");
        assert!(is_told || heard.bytes.is_empty(), "{framing}: {}", heard.text());
        target.is_well();
    }
    let _: Value = target.caller.get("/parts").expect(200).json();
}
