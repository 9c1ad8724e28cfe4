//! Load over HTTP on this machine: connections that are kept, one thread each, bounded in time and in requests. It reads
//! as little of an answer as shows where the next one begins, so that most of the machine is left to the service.

use std::collections::BTreeMap;
use std::io::{self, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// One kept connection.
pub struct Connection {
    stream: TcpStream,
    buffer: Vec<u8>,
}

/// What came back.
pub struct Reply {
    /// Its status.
    pub status: u16,
    /// Its headers as they came.
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
        Ok(Self { stream, buffer: Vec::with_capacity(16_384) })
    }

    fn fill(&mut self) -> io::Result<()> {
        let mut piece = [0_u8; 16_384];
        let count = self.stream.read(&mut piece)?;
        if count == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        self.buffer.extend_from_slice(&piece[..count]);
        Ok(())
    }

    /// Sends a request and reads the answer to its end.
    pub fn ask(&mut self, request: &[u8]) -> io::Result<Reply> {
        self.stream.write_all(request)?;
        self.buffer.clear();
        let end = loop {
            if let Some(at) = self.buffer.windows(4).position(|four| four == b"\r\n\r\n") {
                break at + 4;
            }
            self.fill()?;
        };
        let head = String::from_utf8_lossy(&self.buffer[..end]).to_ascii_lowercase();
        let status = head.get(9..12).and_then(|text| text.parse().ok()).ok_or(io::ErrorKind::InvalidData)?;
        let value = |name: &str| {
            head.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(':').map(str::trim))
        };
        let body = if let Some(length) = value("content-length") {
            let length: usize = length.parse().map_err(|_| io::ErrorKind::InvalidData)?;
            while self.buffer.len() < end + length {
                self.fill()?;
            }
            self.buffer[end..end + length].to_vec()
        } else if value("transfer-encoding").is_some() {
            self.read_chunks(end)?
        } else {
            Vec::new()
        };
        Ok(Reply { status, head, body })
    }

    fn read_chunks(&mut self, mut at: usize) -> io::Result<Vec<u8>> {
        let mut body = Vec::new();
        loop {
            let line = loop {
                if let Some(end) = self.buffer[at..].windows(2).position(|two| two == b"\r\n") {
                    break at + end;
                }
                self.fill()?;
            };
            let size = std::str::from_utf8(&self.buffer[at..line]).ok();
            let size = size.and_then(|text| usize::from_str_radix(text.trim(), 16).ok());
            let size = size.ok_or(io::ErrorKind::InvalidData)?;
            at = line + 2;
            while self.buffer.len() < at + size + 2 {
                self.fill()?;
            }
            body.extend_from_slice(&self.buffer[at..at + size]);
            at += size + 2;
            if size == 0 {
                return Ok(body);
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

    /// Answers with another status than the one wanted.
    pub fn others_than(&self, wanted: u16) -> u64 {
        self.statuses.iter().filter(|(status, _)| **status != wanted).map(|(_, count)| count).sum()
    }
}

/// Sends what `next` gives (by the number of the request) over some connections at once.
pub fn drive(address: SocketAddr, bounds: Bounds, next: impl Fn(u64) -> Vec<u8> + Sync) -> Measured {
    let (number, all) = (AtomicU64::new(0), Mutex::new(Measured::default()));
    let started = Instant::now();
    std::thread::scope(|scope| {
        for _ in 0..bounds.connections {
            scope.spawn(|| {
                let mut mine = Measured::default();
                let mut connection = Connection::open(address).ok();
                while started.elapsed() < bounds.time {
                    let turn = number.fetch_add(1, Ordering::Relaxed);
                    if turn >= bounds.requests {
                        break;
                    }
                    let wanted = next(turn);
                    let asked = Instant::now();
                    let status = connection
                        .as_mut()
                        .and_then(|one| one.ask(&wanted).ok())
                        .map_or(0, |reply| reply.status);
                    if status == 0 {
                        connection = Connection::open(address).ok();
                    }
                    mine.answers += 1;
                    mine.micros.push(asked.elapsed().as_micros().try_into().unwrap_or(u32::MAX));
                    *mine.statuses.entry(status).or_default() += 1;
                }
                let mut all = all.lock().unwrap();
                all.answers += mine.answers;
                all.micros.extend(mine.micros);
                for (status, count) in mine.statuses {
                    *all.statuses.entry(status).or_default() += count;
                }
            });
        }
    });
    let mut all = all.into_inner().unwrap();
    all.seconds = started.elapsed().as_secs_f64();
    all.micros.sort_unstable();
    all
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
