//! A service that answers every request with the same few bytes.

use std::io::{Read, Write};
use std::net::TcpListener;
use std::thread::JoinHandle;

/// Answers one request on each connection until it is dropped.
pub struct Responder {
    address: std::net::SocketAddr,
    thread: Option<JoinHandle<Vec<String>>>,
}

impl Responder {
    /// Answers with these bytes.
    pub fn new(answer: &str) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let answer = answer.to_owned();
        let thread = std::thread::spawn(move || {
            let mut seen = Vec::new();
            loop {
                let (mut stream, _) = listener.accept().unwrap();
                let mut head = Vec::new();
                let mut byte = [0_u8];
                while !head.ends_with(b"\r\n\r\n") && stream.read(&mut byte).unwrap_or(0) == 1 {
                    head.push(byte[0]);
                }
                if head.is_empty() {
                    return seen;
                }
                seen.push(String::from_utf8(head).unwrap());
                // The client may have enough before all is written.
                let _ = stream.write_all(answer.as_bytes());
            }
        });
        Self { address, thread: Some(thread) }
    }

    /// Answers with a status, headers and a body.
    pub fn http(status: &str, headers: &str, body: &str) -> Self {
        let length = body.len();
        Self::new(&format!(
            "HTTP/1.1 {status}\r\nConnection: close\r\nContent-Length: {length}\r\n{headers}\r\n{body}"
        ))
    }

    /// Where it listens.
    pub fn url(&self) -> String {
        format!("http://{}", self.address)
    }

    /// The heads of all requests so far; it answers no more.
    pub fn heads(mut self) -> Vec<String> {
        self.end()
    }

    fn end(&mut self) -> Vec<String> {
        let Some(thread) = self.thread.take() else { return Vec::new() };
        // A connection without a request ends it.
        drop(std::net::TcpStream::connect(self.address));
        thread.join().unwrap()
    }
}

impl Drop for Responder {
    fn drop(&mut self) {
        self.end();
    }
}
