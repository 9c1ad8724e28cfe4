//! Lines: the connections to the service, each with a clock of its own.
//!
//! Whoever opens many and says nothing, or asks and never takes the answer, keeps nobody else waiting: a line on which
//! nothing goes on is cut after a stated time, and where there are too many, the one that did nothing for longest makes
//! room for the next. The head of the first request on a line has a shorter time of its own in the server below.

use std::any::Any;
use std::collections::BTreeMap;
use std::net::{IpAddr, Shutdown, TcpStream};
use std::os::fd::AsFd;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use actix_tls::accept::rustls_0_23::TlsStream;
use actix_web::dev::Extensions;
use actix_web::rt::net::TcpStream as Plain;

/// Descriptors that are kept for the record, pictures and everything else.
const KEPT_BACK: usize = 256;
/// Descriptors of a line: its own, and the one by which it is cut.
const OF_A_LINE: usize = 2;

/// How long is waited for others, and how many of them there may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// For the head of the first request on a line.
    pub head: Duration,
    /// For the next request on a line, from its first byte to the end of its head.
    pub idle: Duration,
    /// For the next piece of an answer (32 KiB or more) to be taken.
    pub stalled: Duration,
    /// For a body, before it has to keep its pace.
    pub body: Duration,
    /// Bytes a second that a body has to bring after that.
    pub pace: u64,
    /// Lines at once.
    pub most: usize,
    /// Lines at once from one address, if it is not a proxy's.
    pub most_of_one: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            head: Duration::from_secs(10),
            idle: Duration::from_secs(75),
            stalled: Duration::from_secs(60),
            body: Duration::from_secs(30),
            pace: 4 << 10,
            most: 4096.min(descriptors().saturating_sub(KEPT_BACK) / OF_A_LINE),
            most_of_one: 512,
        }
    }
}

/// How many files and lines the system lets this process have.
fn descriptors() -> usize {
    let told = std::fs::read_to_string("/proc/self/limits").unwrap_or_default();
    let line = told.lines().find_map(|line| line.strip_prefix("Max open files"));
    line.and_then(|line| line.split_whitespace().next()).and_then(|soft| soft.parse().ok()).unwrap_or(1024)
}

/// What goes on on a line.
#[derive(Debug, Default)]
pub struct Marks {
    /// Requests that are not answered to the end.
    asked: AtomicU32,
    /// Answers that are being sent.
    sending: AtomicU32,
    /// When something last happened, in milliseconds since the service began.
    last_ms: AtomicU64,
}

struct Line {
    socket: TcpStream,
    address: IpAddr,
    marks: Arc<Marks>,
}

impl Line {
    fn cut(&self) {
        // Gone already is as good as cut.
        let _ = self.socket.shutdown(Shutdown::Both);
    }

    fn is_silent(&self) -> bool {
        self.marks.asked.load(Ordering::Relaxed) == 0
    }

    fn last_ms(&self) -> u64 {
        self.marks.last_ms.load(Ordering::Relaxed)
    }
}

/// All lines of a service.
pub struct Lines {
    /// What they are held to.
    pub limits: Limits,
    began: Instant,
    is_behind_proxy: bool,
    open: Mutex<(u64, BTreeMap<u64, Line>)>,
}

/// A line's place among the others, for as long as it is open.
pub struct Seat {
    lines: Arc<Lines>,
    number: u64,
    marks: Arc<Marks>,
}

impl Drop for Seat {
    fn drop(&mut self) {
        self.lines.all().1.remove(&self.number);
    }
}

impl Lines {
    /// No lines yet.
    #[must_use]
    pub fn new(limits: Limits, is_behind_proxy: bool) -> Arc<Self> {
        Arc::new(Self { limits, began: Instant::now(), is_behind_proxy, open: Mutex::default() })
    }

    /// How many are open.
    #[must_use]
    pub fn count(&self) -> usize {
        self.all().1.len()
    }

    fn all(&self) -> MutexGuard<'_, (u64, BTreeMap<u64, Line>)> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn now_ms(&self) -> u64 {
        u64::try_from(self.began.elapsed().as_millis()).unwrap_or(u64::MAX)
    }

    /// Takes note of a new line.
    pub fn opened(self: &Arc<Self>, socket: &dyn Any, known: &mut Extensions) {
        let socket = if let Some(plain) = socket.downcast_ref::<Plain>() {
            plain
        } else if let Some(shielded) = socket.downcast_ref::<TlsStream<Plain>>() {
            shielded.get_ref().0
        } else {
            return;
        };
        // The second descriptor is what can cut a line that somebody else reads and writes.
        let (Ok(peer), Ok(twin)) = (socket.peer_addr(), socket.as_fd().try_clone_to_owned()) else { return };
        let marks = Arc::new(Marks::default());
        marks.last_ms.store(self.now_ms(), Ordering::Relaxed);
        let line = Line { socket: twin.into(), address: peer.ip(), marks: Arc::clone(&marks) };
        let mut all = self.all();
        self.make_room(&all.1, line.address);
        all.0 += 1;
        let number = all.0;
        all.1.insert(number, line);
        drop(all);
        known.insert(Seat { lines: Arc::clone(self), number, marks });
    }

    /// Cuts the line that has done nothing for longest, where there is one too many.
    fn make_room(&self, open: &BTreeMap<u64, Line>, address: IpAddr) {
        let same = || open.values().filter(|line| line.address == address);
        let is_of_one = !self.is_behind_proxy && same().count() >= self.limits.most_of_one;
        let longest = |line: &&Line| (!line.is_silent(), line.last_ms());
        let cut = if is_of_one {
            same().min_by_key(longest)
        } else if open.len() >= self.limits.most {
            open.values().min_by_key(longest)
        } else {
            None
        };
        if let Some(line) = cut {
            line.cut();
        }
    }

    /// Cuts what has done nothing for too long.
    fn sweep(&self) {
        let now = self.now_ms();
        let is_over =
            |line: &Line, most: Duration| u128::from(now.saturating_sub(line.last_ms())) > most.as_millis();
        for line in self.all().1.values() {
            let is_sending = line.marks.sending.load(Ordering::Relaxed) > 0;
            let is_dead = line.is_silent() && is_over(line, self.limits.idle);
            if is_dead || (is_sending && is_over(line, self.limits.stalled)) {
                line.cut();
            }
        }
    }

    /// Looks at all lines from time to time, for as long as the service runs.
    pub async fn keep_sweeping(self: Arc<Self>) {
        let often = self.limits.idle.min(self.limits.stalled) / 8;
        let mut rounds = actix_web::rt::time::interval(often.max(Duration::from_millis(1)));
        loop {
            rounds.tick().await;
            self.sweep();
        }
    }
}

/// A request on a line, until its answer is out.
pub struct Asked {
    lines: Arc<Lines>,
    marks: Arc<Marks>,
    is_sending: bool,
}

impl Asked {
    /// One more on this line.
    #[must_use]
    pub fn on(seat: &Seat) -> Self {
        seat.marks.asked.fetch_add(1, Ordering::Relaxed);
        let asked =
            Self { lines: Arc::clone(&seat.lines), marks: Arc::clone(&seat.marks), is_sending: false };
        asked.mark();
        asked
    }

    /// What it is held to.
    #[must_use]
    pub fn limits(&self) -> Limits {
        self.lines.limits
    }

    /// Something went on.
    pub fn mark(&self) {
        self.marks.last_ms.store(self.lines.now_ms(), Ordering::Relaxed);
    }

    /// A piece of its answer goes out, or else is still being made.
    pub fn sends(&mut self, is_sending: bool) {
        match (self.is_sending, is_sending) {
            (false, true) => self.marks.sending.fetch_add(1, Ordering::Relaxed),
            (true, false) => self.marks.sending.fetch_sub(1, Ordering::Relaxed),
            _ => 0,
        };
        self.is_sending = is_sending;
        self.mark();
    }
}

impl Drop for Asked {
    fn drop(&mut self) {
        self.mark();
        if self.is_sending {
            self.marks.sending.fetch_sub(1, Ordering::Relaxed);
        }
        self.marks.asked.fetch_sub(1, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use std::net::TcpListener;

    use super::*;

    fn line(lines: &Lines, listener: &TcpListener, last_ms: u64) -> TcpStream {
        let far = TcpStream::connect(listener.local_addr().unwrap()).unwrap();
        let (socket, peer) = listener.accept().unwrap();
        let marks = Arc::new(Marks::default());
        marks.last_ms.store(last_ms, Ordering::Relaxed);
        let mut all = lines.all();
        lines.make_room(&all.1, peer.ip());
        all.0 += 1;
        let number = all.0;
        all.1.insert(number, Line { socket, address: peer.ip(), marks });
        far
    }

    fn is_cut(far: &TcpStream) -> bool {
        far.set_read_timeout(Some(Duration::from_millis(20))).unwrap();
        matches!(std::io::Read::read(&mut &*far, &mut [0]), Ok(0))
    }

    #[test]
    fn the_longest_silent_makes_room() {
        let lines = Lines::new(Limits { most_of_one: 3, ..Limits::default() }, false);
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let open: Vec<_> = [30, 10, 20].iter().map(|last| line(&lines, &listener, *last)).collect();
        lines.all().1.values().for_each(|line| assert!(line.is_silent()));
        let next = line(&lines, &listener, 40);
        assert_eq!(open.iter().map(is_cut).collect::<Vec<_>>(), [false, true, false]);
        assert!(!is_cut(&next));
    }

    #[test]
    fn who_is_being_answered_is_not_cut_for_who_is_silent() {
        let lines = Lines::new(Limits { most: 2, ..Limits::default() }, true);
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let (asks, silent) = (line(&lines, &listener, 1), line(&lines, &listener, 9));
        lines.all().1.values().next().unwrap().marks.asked.store(1, Ordering::Relaxed);
        let _next = line(&lines, &listener, 10);
        assert!(!is_cut(&asks) && is_cut(&silent));
    }
}
