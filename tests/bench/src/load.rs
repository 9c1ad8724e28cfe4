//! Load over HTTP on this machine: connections that are kept, bounded in time and in requests. A load takes one thread a
//! core for all its connections, and reads as little of an answer as shows where the next one begins, so that most of the
//! machine is left to the service.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io::{self, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use futures_util::future::join_all;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};

use crate::service::cores;

/// Headers of an answer at most.
const HEADERS: usize = 64;
/// Bytes read at once.
const PIECE: usize = 16_384;

/// Where the parts of an answer lie among the bytes that came.
struct Shape {
    status: u16,
    head: usize,
    body: Body,
    end: usize,
}

enum Body {
    Whole,
    Chunks,
}

/// The shape of an answer, if it came to its end.
fn shape(bytes: &[u8]) -> io::Result<Option<Shape>> {
    let mut headers = [httparse::EMPTY_HEADER; HEADERS];
    let mut answer = httparse::Response::new(&mut headers);
    let httparse::Status::Complete(head) = answer.parse(bytes).map_err(no_answer)? else { return Ok(None) };
    let status = answer.code.ok_or(io::ErrorKind::InvalidData)?;
    let value = |name: &str| {
        let header = answer.headers.iter().find(|header| header.name.eq_ignore_ascii_case(name))?;
        std::str::from_utf8(header.value).ok()
    };
    let (body, end) = match (value("content-length"), value("transfer-encoding")) {
        (Some(length), _) => (Body::Whole, Some(head + length.parse::<usize>().map_err(no_answer)?)),
        (None, Some(_)) => (Body::Chunks, each_chunk(bytes, head, |_| ())?),
        (None, None) => (Body::Whole, Some(head)),
    };
    Ok(end.filter(|end| *end <= bytes.len()).map(|end| Shape { status, head, body, end }))
}

fn no_answer(error: impl std::error::Error + Send + Sync + 'static) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, error)
}

/// Hands over each chunk of a body, and says where the last one ends, if it came.
fn each_chunk(bytes: &[u8], mut at: usize, mut take: impl FnMut(&[u8])) -> io::Result<Option<usize>> {
    loop {
        let size = httparse::parse_chunk_size(&bytes[at..]).map_err(|_| io::ErrorKind::InvalidData)?;
        let httparse::Status::Complete((line, size)) = size else { return Ok(None) };
        let from = at + line;
        let to = from + usize::try_from(size).map_err(no_answer)?;
        if bytes.len() < to + 2 {
            return Ok(None);
        }
        take(&bytes[from..to]);
        at = to + 2;
        if size == 0 {
            return Ok(Some(at));
        }
    }
}

/// One kept connection, on whose answers its thread waits.
pub struct Connection {
    stream: TcpStream,
    buffer: Vec<u8>,
}

/// What came back.
pub struct Reply {
    /// Its status.
    pub status: u16,
    /// Its headers as they came, in small letters.
    pub head: String,
    /// Its body.
    pub body: Vec<u8>,
}

impl Connection {
    /// Opens one.
    pub fn open(address: SocketAddr) -> io::Result<Self> {
        let stream = TcpStream::connect(address)?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(Duration::from_secs(120)))?;
        Ok(Self { stream, buffer: Vec::with_capacity(PIECE) })
    }

    /// Sends a request and reads the answer to its end.
    pub fn ask(&mut self, request: &[u8]) -> io::Result<Reply> {
        self.stream.write_all(request)?;
        self.buffer.clear();
        let Shape { status, head, body, end } = loop {
            let mut piece = [0_u8; PIECE];
            let count = self.stream.read(&mut piece)?;
            if count == 0 {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
            self.buffer.extend_from_slice(&piece[..count]);
            if let Some(shape) = shape(&self.buffer)? {
                break shape;
            }
        };
        let body = match body {
            Body::Whole => self.buffer[head..end].to_vec(),
            Body::Chunks => {
                let mut body = Vec::new();
                each_chunk(&self.buffer, head, |chunk| body.extend_from_slice(chunk))?;
                body
            }
        };
        let head = String::from_utf8_lossy(&self.buffer[..head]).to_ascii_lowercase();
        Ok(Reply { status, head, body })
    }
}

/// One kept connection among many of a thread.
struct Line {
    stream: tokio::net::TcpStream,
    buffer: Vec<u8>,
}

impl Line {
    async fn open(address: SocketAddr) -> io::Result<Self> {
        let stream = tokio::net::TcpStream::connect(address).await?;
        stream.set_nodelay(true)?;
        Ok(Self { stream, buffer: Vec::with_capacity(PIECE) })
    }

    /// Sends a request, reads the answer to its end, and says with which status.
    async fn ask(&mut self, request: &[u8]) -> io::Result<u16> {
        self.stream.write_all(request).await?;
        self.buffer.clear();
        loop {
            if self.stream.read_buf(&mut self.buffer).await? == 0 {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
            if let Some(shape) = shape(&self.buffer)? {
                return Ok(shape.status);
            }
        }
    }
}

/// A request as it goes over the line. `more` are further lines of its head.
pub fn request(method: &str, path: &str, token: &str, more: &[(&str, &str)], body: Option<&str>) -> Vec<u8> {
    let mut text = format!("{method} {path} HTTP/1.1\r\nhost: 127.0.0.1\r\n");
    if !token.is_empty() {
        text += &format!("authorization: Bearer {token}\r\n");
    }
    for (name, value) in more {
        text += &format!("{name}: {value}\r\n");
    }
    if let Some(body) = body {
        text += &format!("content-type: application/json\r\ncontent-length: {}\r\n\r\n{body}", body.len());
    } else {
        text += "\r\n";
    }
    text.into_bytes()
}

/// How much is asked at most.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// Connections at once.
    pub connections: usize,
    /// How long.
    pub time: Duration,
    /// Requests in all.
    pub requests: u64,
}

/// What a load came to.
#[derive(Clone, Debug, Default)]
pub struct Measured {
    /// Answers.
    pub answers: u64,
    /// Time from the first request to the last answer, s.
    pub seconds: f64,
    /// How long each answer took, µs, ascending.
    pub micros: Vec<u32>,
    /// Answers by status; 0 where a connection broke.
    pub statuses: BTreeMap<u16, u64>,
}

impl Measured {
    /// Answers a second.
    pub fn rate(&self) -> f64 {
        self.answers as f64 / self.seconds
    }

    /// A quantile of the times, µs.
    pub fn quantile(&self, part: f64) -> f64 {
        let last = self.micros.len().saturating_sub(1);
        self.micros.get((last as f64 * part).round() as usize).copied().map_or(f64::NAN, f64::from)
    }

    /// Counts an answer.
    fn take(&mut self, status: u16, time: Duration) {
        self.answers += 1;
        self.micros.push(time.as_micros().try_into().unwrap_or(u32::MAX));
        *self.statuses.entry(status).or_default() += 1;
    }

    fn and(mut self, other: Self) -> Self {
        self.answers += other.answers;
        self.micros.extend(other.micros);
        for (status, count) in other.statuses {
            *self.statuses.entry(status).or_default() += count;
        }
        self
    }

    /// Answers with another status than the one wanted.
    pub fn others_than(&self, wanted: u16) -> u64 {
        self.statuses.iter().filter(|(status, _)| **status != wanted).map(|(_, count)| count).sum()
    }
}

/// Sends what `next` gives (by the number of the request) over some connections at once.
pub fn drive(address: SocketAddr, bounds: Bounds, next: impl Fn(u64) -> Vec<u8> + Sync) -> Measured {
    let number = AtomicU64::new(0);
    let started = Instant::now();
    let turn = || {
        let turn = number.fetch_add(1, Ordering::Relaxed);
        (turn < bounds.requests && started.elapsed() < bounds.time).then(|| next(turn))
    };
    let threads = cores().min(bounds.connections);
    let mut all = std::thread::scope(|scope| {
        let shares = (0..threads)
            .map(|thread| bounds.connections / threads + usize::from(thread < bounds.connections % threads));
        let loads: Vec<_> =
            shares.map(|share| scope.spawn(move || drive_share(address, share, turn))).collect();
        loads.into_iter().map(|load| load.join().unwrap()).fold(Measured::default(), Measured::and)
    });
    all.seconds = started.elapsed().as_secs_f64();
    all.micros.sort_unstable();
    all
}

/// The connections of one thread, as long as there is another turn.
fn drive_share(address: SocketAddr, connections: usize, turn: impl Fn() -> Option<Vec<u8>>) -> Measured {
    let measured = RefCell::new(Measured::default());
    let ask_on = async || {
        let mut line = Line::open(address).await.ok();
        while let Some(wanted) = turn() {
            let asked = Instant::now();
            let status = match &mut line {
                Some(line) => line.ask(&wanted).await.unwrap_or(0),
                None => 0,
            };
            measured.borrow_mut().take(status, asked.elapsed());
            if status == 0 {
                line = Line::open(address).await.ok();
            }
        }
    };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_io().build().unwrap();
    runtime.block_on(join_all((0..connections).map(|_| ask_on())));
    measured.into_inner()
}

#[cfg(test)]
mod tests {
    use std::net::TcpListener;

    use super::*;

    #[test]
    fn lengths_and_chunks_are_read_to_their_end() {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let server = std::thread::spawn(move || {
            let (mut stream, _) = listener.accept().unwrap();
            for answer in [
                "HTTP/1.1 200 OK\r\nContent-Length: 5\r\n\r\nhello",
                "HTTP/1.1 201 Created\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\na\r\n0123456789\r\n0\r\n\r\n",
                "HTTP/1.1 304 Not Modified\r\nETag: x\r\n\r\n",
            ] {
                let mut asked = [0_u8; 4096];
                assert!(stream.read(&mut asked).unwrap() > 0);
                stream.write_all(answer.as_bytes()).unwrap();
            }
        });
        let mut connection = Connection::open(address).unwrap();
        let wanted = request("GET", "/", "", &[], None);
        let replies: Vec<Reply> = (0..3).map(|_| connection.ask(&wanted).unwrap()).collect();
        let said: Vec<(u16, &[u8])> = replies.iter().map(|reply| (reply.status, &*reply.body)).collect();
        assert_eq!(said, [(200, &b"hello"[..]), (201, b"abc0123456789"), (304, b"")]);
        server.join().unwrap();
    }

    #[test]
    fn quantiles_are_of_sorted_times() {
        let measured =
            Measured { micros: (1..=101).collect(), answers: 101, seconds: 2.0, ..Measured::default() };
        assert_eq!((measured.quantile(0.5), measured.quantile(0.99), measured.rate()), (51.0, 100.0, 50.5));
    }
}
