//! Bare lines to a service: bytes as they are, and what comes back.

use std::io::{ErrorKind, Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::time::{Duration, Instant};

use serde_json::Value;

/// A line.
pub struct Wire(TcpStream);

/// What came back on a line.
#[derive(Debug)]
pub struct Heard {
    /// All of it.
    pub bytes: Vec<u8>,
    /// Whether the line was closed, and not only silent.
    pub is_closed: bool,
}

impl Wire {
    /// A new line.
    pub fn to(address: SocketAddr) -> Self {
        let stream = TcpStream::connect(address).unwrap();
        stream.set_write_timeout(Some(Duration::from_secs(5))).unwrap();
        Self(stream)
    }

    /// Sends; false if the other end takes no more.
    pub fn send(&mut self, bytes: &[u8]) -> bool {
        self.0.write_all(bytes).is_ok()
    }

    /// Says that nothing more comes.
    pub fn end(&self) {
        let _ = self.0.shutdown(std::net::Shutdown::Write);
    }

    /// Reads until the line is closed, or for so long.
    pub fn hear(&mut self, most: Duration) -> Heard {
        let socket = self.0.try_clone().unwrap();
        Heard::from(&socket, |piece| self.0.read(piece), most)
    }

    /// Whether it was closed, as far as can be told without waiting.
    pub fn is_closed(&mut self) -> bool {
        self.hear(Duration::from_millis(1)).is_closed
    }

    /// Sends all and hears one answer to its end.
    pub fn ask(address: SocketAddr, bytes: &[u8], most: Duration) -> Heard {
        let mut wire = Self::to(address);
        wire.send(bytes);
        wire.hear(most)
    }
}

impl Heard {
    /// Reads until the line is closed, or for so long; `read` reads from what this socket carries.
    pub fn from(
        socket: &TcpStream,
        mut read: impl FnMut(&mut [u8]) -> std::io::Result<usize>,
        most: Duration,
    ) -> Self {
        let began = Instant::now();
        let mut bytes = Vec::new();
        let mut piece = vec![0; 64 << 10];
        loop {
            let left = most.saturating_sub(began.elapsed());
            if left.is_zero() {
                return Self { bytes, is_closed: false };
            }
            socket.set_read_timeout(Some(left.max(Duration::from_millis(1)))).unwrap();
            match read(&mut piece) {
                Ok(0) => return Self { bytes, is_closed: true },
                Ok(length) => bytes.extend_from_slice(&piece[..length]),
                Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => {}
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(_) => return Self { bytes, is_closed: true },
            }
        }
    }

    /// As text.
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).into_owned()
    }

    /// The status of the first answer; nothing where none came.
    pub fn status(&self) -> Option<u16> {
        let text = self.text();
        let line = text.strip_prefix("HTTP/1.")?;
        line.split(' ').nth(1)?.parse().ok()
    }

    /// How many answers came.
    pub fn answers(&self) -> usize {
        self.text().matches("HTTP/1.1 ").count()
    }

    /// The code of the problem that its body is, if it is one of the interface.
    pub fn code(&self) -> Option<String> {
        let text = self.text();
        let (head, body) = text.split_once("\r\n\r\n")?;
        if !head.to_lowercase().contains("content-type: application/problem+json") {
            return None;
        }
        let from = body.find('{')?;
        let until = body.rfind('}')?;
        let body: Value = serde_json::from_str(&body[from..=until]).ok()?;
        body["code"].as_str().map(ToOwned::to_owned)
    }
}
