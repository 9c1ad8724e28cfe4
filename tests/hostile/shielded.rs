//! The encrypted door: plain speech where encryption is awaited, handshakes that stop, and HTTP/2 as no honest client
//! speaks it, frame by frame (RFC 9113; the header fields as RFC 7541 writes them).

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::sync::Arc;
use std::time::{Duration, Instant};

use preen_tests::waiting::rest;
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{ClientConfig, ClientConnection, RootCertStore, StreamOwned};

use crate::target::{IDLE, SLACK, STALLED, Target};
use crate::wire::{Heard, Wire};

/// How long the server below waits for a handshake.
const HANDSHAKE: Duration = Duration::from_secs(3);
/// Slow ones at once.
const MANY: usize = 40;

const PREFACE: &[u8] = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";
const DATA: u8 = 0;
const HEADERS: u8 = 1;
const RESET: u8 = 3;
const SETTINGS: u8 = 4;
const PING: u8 = 6;
const CONTINUATION: u8 = 9;
const END_STREAM: u8 = 1;
const END_HEADERS: u8 = 4;

/// A frame of HTTP/2.
fn frame(kind: u8, flags: u8, stream: u32, payload: &[u8]) -> Vec<u8> {
    let length = u32::try_from(payload.len()).unwrap().to_be_bytes();
    let mut bytes = length[1..].to_vec();
    bytes.extend([kind, flags]);
    bytes.extend(stream.to_be_bytes());
    bytes.extend(payload);
    bytes
}

/// A text as header fields carry it, without the Huffman code.
fn literal(text: &str) -> Vec<u8> {
    let mut bytes = vec![u8::try_from(text.len()).expect("short")];
    bytes.extend(text.as_bytes());
    bytes
}

/// The fields of a request: GET, https, path, authority.
fn asks(path: &str) -> Vec<u8> {
    // Fields 2 and 7 of the static table; 4 and 1 with a value of their own, not to be kept.
    [vec![0x82, 0x87, 0x04], literal(path), vec![0x01], literal("localhost")].concat()
}

/// An encrypted line that speaks HTTP/2.
struct Shielded(StreamOwned<ClientConnection, TcpStream>);

impl Shielded {
    /// A line with its preface and settings sent.
    fn to(target: &Target, settings: &[u8]) -> Self {
        let cert = target.cert.as_ref().expect("it encrypts");
        let mut roots = RootCertStore::empty();
        roots.add(CertificateDer::from_pem_file(cert).unwrap()).unwrap();
        let provider = Arc::new(rustls::crypto::aws_lc_rs::default_provider());
        let config =
            ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions().unwrap();
        let mut config = config.with_root_certificates(roots).with_no_client_auth();
        config.alpn_protocols = vec![b"h2".to_vec()];
        let name = ServerName::try_from("localhost").unwrap();
        let client = ClientConnection::new(Arc::new(config), name).unwrap();
        let socket = TcpStream::connect(target.address).unwrap();
        socket.set_write_timeout(Some(Duration::from_secs(5))).unwrap();
        let mut line = Self(StreamOwned::new(client, socket));
        assert!(line.send(PREFACE) && line.send(&frame(SETTINGS, 0, 0, settings)));
        assert_eq!(line.0.conn.alpn_protocol(), Some(&b"h2"[..]), "it speaks HTTP/2");
        line
    }

    /// Sends; false if the other end takes no more.
    fn send(&mut self, bytes: &[u8]) -> bool {
        self.0.write_all(bytes).and_then(|()| self.0.flush()).is_ok()
    }

    /// Reads until the line is closed, or for so long.
    fn hear(&mut self, most: Duration) -> Heard {
        let socket = self.0.sock.try_clone().unwrap();
        Heard::from(&socket, |piece| self.0.read(piece), most)
    }
}

/// The kinds of the frames that came back, as far as they came whole.
fn kinds(mut bytes: &[u8]) -> Vec<u8> {
    let mut list = Vec::new();
    while let Some((head, rest)) = bytes.split_first_chunk::<9>() {
        list.push(head[3]);
        let length = usize::from(head[0]) << 16 | usize::from(head[1]) << 8 | usize::from(head[2]);
        bytes = rest.get(length..).unwrap_or_default();
    }
    list
}

/// What speaks plainly, and what begins to shake hands and stops.
pub fn handshakes() -> String {
    let target = Target::begin_shielded();
    let plain = "GET /api/v1/club HTTP/1.1\r\nHost: a\r\n\r\n".as_bytes();
    for speech in [plain, PREFACE, b"\0".repeat(4096).as_slice(), b"\x16\x03\x01\xff\xff".as_slice()] {
        let heard = Wire::ask(target.address, speech, HANDSHAKE + SLACK);
        assert!(heard.is_closed, "still open after {speech:?}");
        assert!(!heard.text().contains("HTTP/"), "answered without encryption: {}", heard.text());
        target.is_well();
    }
    // The first bytes of a greeting, one by one.
    let mut wires: Vec<Wire> = (0..MANY).map(|_| Wire::to(target.address)).collect();
    let began = Instant::now();
    for wire in &mut wires {
        wire.send(b"\x16\x03\x01\x02\x00\x01");
    }
    while !wires.is_empty() {
        assert!(began.elapsed() < HANDSHAKE + SLACK, "{} handshakes are still waited for", wires.len());
        wires.retain_mut(|wire| wire.send(b"\0") && !wire.is_closed());
        target.is_well();
        rest(Duration::from_millis(100));
    }
    format!("{MANY} handshakes given up after {:.1?}, {}", began.elapsed(), target.end())
}

/// HTTP/2: silence, floods of frames, requests taken back at once, endless and swollen headers, answers nobody takes.
pub fn frames() -> String {
    let target = Target::begin_shielded();
    let mut honest = Shielded::to(&target, &[]);
    assert!(honest.send(&frame(HEADERS, END_STREAM | END_HEADERS, 1, &asks("/health/live"))));
    let heard = honest.hear(Duration::from_secs(1));
    let seen = kinds(&heard.bytes);
    assert!(seen.contains(&HEADERS) && seen.contains(&DATA), "an honest request is answered: {seen:?}");
    let mut told = vec![silence(&target), takes_back(&target), endless(&target), swollen(&target)];
    told.push(untaken(&target));
    told.push(target.end());
    told.join(", ")
}

/// Nothing is asked, and pings keep the line busy: it is cut all the same.
fn silence(target: &Target) -> String {
    let began = Instant::now();
    let mut mute = Shielded::to(target, &[]);
    let mut pinging = Shielded::to(target, &[]);
    let pings = frame(PING, 0, 0, b"12345678").repeat(100);
    let mut count = 0;
    while pinging.send(&pings) && !pinging.hear(Duration::from_millis(1)).is_closed {
        assert!(began.elapsed() < IDLE + SLACK, "pings keep a line");
        target.is_well();
        count += 100;
    }
    assert!(mute.hear(IDLE + SLACK).is_closed, "a line on which nothing is asked is kept");
    format!("{count} pings before the line was cut")
}

/// Requests that are taken back as soon as they are sent, many at once.
fn takes_back(target: &Target) -> String {
    let mut line = Shielded::to(target, &[]);
    let mut sent = 0;
    for number in 0..20_000_u32 {
        let stream = 2 * number + 1;
        let asked = frame(HEADERS, END_STREAM | END_HEADERS, stream, &asks("/openapi.json"));
        if !line.send(&[asked, frame(RESET, 0, stream, &[0, 0, 0, 8])].concat()) {
            break;
        }
        sent += 1;
        if number % 2_000 == 0 {
            target.is_well();
        }
    }
    target.is_well();
    let heard = line.hear(Duration::from_millis(200));
    // Why is told before, but what still comes in after the end takes that away again.
    assert!(heard.is_closed, "{sent} were taken back and borne");
    format!("cut after {sent} requests taken back")
}

/// Headers that never end.
fn endless(target: &Target) -> String {
    let mut line = Shielded::to(target, &[]);
    line.send(&frame(HEADERS, END_STREAM, 1, &asks("/health/live")));
    let mut fields = Vec::new();
    while fields.len() < 16_000 {
        fields.extend([0x00]);
        fields.extend(literal("x-more"));
        fields.extend(literal(&"y".repeat(100)));
    }
    let more = frame(CONTINUATION, 0, 1, &fields);
    let mut sent = 0;
    while line.send(&more) {
        sent += fields.len();
        assert!(sent < 64 << 20, "headers of {sent} bytes are still taken in");
    }
    target.is_well();
    format!("headers refused after {} KiB", sent >> 10)
}

/// One large field, kept by the other side and named again by a single byte, many times.
fn swollen(target: &Target) -> String {
    let mut line = Shielded::to(target, &[]);
    let mut fields = asks("/health/live");
    // Literal with a new name, to be kept: 3,000 bytes (127 and 2,873 in groups of seven bits).
    fields.push(0x40);
    fields.extend(literal("x-large"));
    fields.extend([0x7f, 0xb9, 0x16]);
    fields.extend([b'z'; 3_000]);
    // The first entry of the dynamic table, 12,000 times: 36 MB.
    fields.extend([0xbe; 12_000]);
    line.send(&frame(HEADERS, END_STREAM | END_HEADERS, 1, &fields));
    let heard = line.hear(Duration::from_secs(2));
    let seen = kinds(&heard.bytes);
    assert!(!seen.contains(&DATA), "36 MB of headers were borne: {seen:?}");
    target.is_well();
    "36 MB of headers refused".to_owned()
}

/// A hundred large answers asked for on one line that gives no room for any.
fn untaken(target: &Target) -> String {
    // SETTINGS_INITIAL_WINDOW_SIZE: 0.
    let mut line = Shielded::to(target, &[0, 4, 0, 0, 0, 0]);
    for number in 0..100_u32 {
        line.send(&frame(HEADERS, END_STREAM | END_HEADERS, 2 * number + 1, &asks("/openapi.json")));
    }
    let began = Instant::now();
    let heard = line.hear(STALLED + SLACK);
    assert!(heard.is_closed, "a line that takes no answer is kept");
    assert!(!kinds(&heard.bytes).contains(&DATA), "no room was given");
    target.is_well();
    format!("untaken answers cut after {:.1?}", began.elapsed())
}
