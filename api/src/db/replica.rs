//! A read replica of the database server, asked where an answer may be a little behind and says so.
//!
//! How far behind is measured by this process's own monotonic clock, so that no two clocks are compared: every beat notes
//! how far the primary had written its log at a moment; once the replica has replayed up to there, it has everything
//! that was committed before that moment. An idle primary is therefore no lag, and a stream that was cut is.
//!
//! Deliberately not here: which reads may be behind (`door`, by what the request is: [`within`]).

use std::collections::{HashMap, VecDeque};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use diesel::r2d2::PooledConnection;

use super::conn::{Db, OpenError, Opener, Place, Pool, open, open_pool_later};
use super::fault::DoorError;

/// The header that says how far behind, in milliseconds, an answer may be.
pub const BEHIND_MS: &str = "preen-behind-ms";
/// How often both servers are asked how far they are.
const BEAT: Duration = Duration::from_millis(500);
/// A primary that has not answered for so long is away.
const SILENCE: Duration = Duration::from_secs(3);
/// Connections for reads.
const CONNECTIONS: u32 = 8;
/// How long a read waits for one of them before it goes to the primary.
const PATIENCE: Duration = Duration::from_millis(500);
/// Beats kept at most: what a replica that is further behind is measured by is the newest it had reached.
const BEATS: usize = 4_096;

/// A replica, and how far it may be behind.
#[derive(Clone, Debug)]
pub struct ReplicaPlace {
    /// Where it is.
    pub url: String,
    /// Beyond this, reads go to the primary as long as that can be reached.
    pub max_lag: Duration,
}

impl ReplicaPlace {
    /// A replica of `primary` by its URL.
    pub fn of(primary: &Place, url: &str, max_lag: Duration) -> Result<Self, OpenError> {
        let text = match (primary, Place::from_url(url)) {
            (Place::Server(_), Place::Server(_)) => return Ok(Self { url: url.to_owned(), max_lag }),
            (Place::File(_), _) => {
                "a read replica is one of a PostgreSQL server, and the records are in a file: leave \
                                    --replica out, or name a server with --database"
                    .to_owned()
            }
            (_, Place::File(_)) => {
                format!("`{url}` names no PostgreSQL server: --replica wants postgres://…")
            }
        };
        Err(OpenError::Other(text))
    }
}

tokio::task_local! {
    /// Set while something is answered that may be behind; how far it is, in ms, or -1 while only the primary was asked.
    static BEHIND: Arc<AtomicI64>;
}

/// Leave to answer from a replica.
#[derive(Clone)]
pub struct Leave(Arc<AtomicI64>);

impl Default for Leave {
    fn default() -> Self {
        Self(Arc::new(AtomicI64::new(-1)))
    }
}

impl Leave {
    /// The leave that this task has.
    pub fn of_this_task() -> Option<Self> {
        BEHIND.try_with(|behind| Self(Arc::clone(behind))).ok()
    }

    /// How far behind the primary an answer may be, in milliseconds; `None` where a replica was not asked.
    pub fn behind_ms(&self) -> Option<i64> {
        Some(self.0.load(Ordering::SeqCst)).filter(|behind| *behind >= 0)
    }

    /// Says that something was read that may be so far behind.
    pub fn note(&self, behind: Duration) {
        let ms = i64::try_from(behind.as_millis()).unwrap_or(i64::MAX);
        self.0.fetch_max(ms, Ordering::SeqCst);
    }
}

/// Runs what may answer from a replica.
pub async fn within<F: Future>(leave: Option<Leave>, work: F) -> F::Output {
    match leave {
        Some(leave) => BEHIND.scope(leave.0, work).await,
        None => work.await,
    }
}

/// What both beats know.
struct Standing {
    /// How far the primary had written, and when, oldest first.
    beats: VecDeque<(Instant, i64)>,
    /// Everything that was committed before this moment is on the replica.
    covered: Option<Instant>,
    /// When the primary answered last; `None` if it did not the last time it was asked.
    heard: Option<Instant>,
    /// What this process has shown or acknowledged of a club that the replica may not have yet.
    floors: HashMap<String, (i64, Instant)>,
}

/// A replica of the database server.
pub struct Replica {
    pool: Pool,
    max_lag: Duration,
    standing: Arc<Mutex<Standing>>,
    // The beats end when this goes.
    _ends: [Sender<()>; 2],
}

fn lock(standing: &Mutex<Standing>) -> MutexGuard<'_, Standing> {
    standing.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Replica {
    /// Begins to listen to a replica of `primary`. It need not answer yet: until it does, the primary is asked.
    pub fn follow(primary: &Place, place: &ReplicaPlace) -> Result<Self, OpenError> {
        let at = Place::from_url(&place.url);
        let now = Instant::now();
        let standing =
            Standing { beats: VecDeque::new(), covered: None, heard: Some(now), floors: HashMap::new() };
        let standing = Arc::new(Mutex::new(standing));
        let ends = [
            beat("primary", primary.clone(), &standing, Standing::hear_primary)?,
            beat("replica", at.clone(), &standing, Standing::hear_replica)?,
        ];
        Ok(Self { pool: open_pool_later(&at, CONNECTIONS), max_lag: place.max_lag, standing, _ends: ends })
    }

    /// Whether the primary cannot be reached.
    pub fn is_alone(&self) -> bool {
        lock(&self.standing).heard.is_none_or(|heard| heard.elapsed() > SILENCE)
    }

    /// How far behind it may be, if that was ever known.
    pub fn behind(&self) -> Option<Duration> {
        Some(lock(&self.standing).covered?.elapsed())
    }

    /// A connection, and how far behind what it reads may be; `None` where the primary is to be asked.
    pub fn connection(&self) -> Option<(PooledConnection<Opener>, Duration)> {
        let behind = self.behind()?;
        if behind > self.max_lag && !self.is_alone() {
            return None;
        }
        Some((self.pool.get_timeout(PATIENCE).ok()?, behind))
    }

    /// Says what of a club was shown or acknowledged; nobody is to be shown less.
    pub fn raise(&self, club: &str, revision: i64) {
        let mut standing = lock(&self.standing);
        let floor = standing.floors.entry(club.to_owned()).or_insert((revision, Instant::now()));
        if floor.0 <= revision {
            *floor = (revision, Instant::now());
        }
    }

    /// The revision of a club that a read must have reached.
    pub fn floor(&self, club: &str) -> i64 {
        lock(&self.standing).floors.get(club).map_or(0, |(revision, _)| *revision)
    }
}

impl Standing {
    fn hear_primary(&mut self, asked: Instant, said: Option<i64>, is_new: bool) {
        let Some(written) = said else {
            self.heard = None;
            return;
        };
        self.heard = Some(asked);
        // Another server, whose log may count otherwise: what was noted of the one before says nothing of it.
        if is_new || self.beats.back().is_some_and(|(_, before)| *before > written) {
            self.beats.clear();
        }
        if self.beats.len() < BEATS {
            self.beats.push_back((asked, written));
        }
    }

    fn hear_replica(&mut self, _asked: Instant, said: Option<i64>, _is_new: bool) {
        let Some(replayed) = said else { return };
        while let Some((at, _)) = self.beats.front().filter(|(_, written)| *written <= replayed) {
            self.covered = Some(*at);
            self.beats.pop_front();
        }
        if let Some(covered) = self.covered {
            self.floors.retain(|_, (_, raised)| *raised > covered);
        }
    }
}

type Hear = fn(&mut Standing, Instant, Option<i64>, bool);

/// Asks a server again and again how far it is, on a connection of its own, until the sender goes.
fn beat(
    name: &'static str,
    place: Place,
    standing: &Arc<Mutex<Standing>>,
    hear: Hear,
) -> Result<Sender<()>, OpenError> {
    let (end, ended): (Sender<()>, Receiver<()>) = channel();
    let standing = Arc::clone(standing);
    let mut conn: Option<Db> = None;
    let mut was_heard = true;
    let listen = move || {
        loop {
            let asked = Instant::now();
            let is_new = conn.is_none();
            let said = far(&mut conn, &place, name == "primary");
            if said.is_err() {
                conn = None;
            }
            if was_heard != said.is_ok() {
                match &said {
                    Ok(_) => tracing::warn!(server = name, "the server answers again"),
                    Err(error) => tracing::warn!(server = name, %error, "the server does not answer"),
                }
            }
            was_heard = said.is_ok();
            hear(&mut lock(&standing), asked, said.ok().flatten(), is_new);
            if !matches!(ended.recv_timeout(BEAT), Err(RecvTimeoutError::Timeout)) {
                return;
            }
        }
    };
    std::thread::Builder::new()
        .name(format!("beat-{name}"))
        .spawn(listen)
        .map_err(|error| OpenError::Other(error.to_string()))?;
    Ok(end)
}

/// How far a server is: what a primary has written of its log, what a replica has replayed (`None` once it is none).
fn far(conn: &mut Option<Db>, place: &Place, is_primary: bool) -> Result<Option<i64>, DoorError> {
    let conn = match conn {
        Some(conn) => conn,
        None => conn.insert(open(place)?),
    };
    Ok(if is_primary { Some(conn.written_up_to()?) } else { conn.replayed_up_to()? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_replica_is_one_of_a_server() {
        let (file, server) = (Place::from_url("preen.db"), Place::from_url("postgres:///preen"));
        let told = |place: &Place, url: &str| {
            ReplicaPlace::of(place, url, BEAT).map(|replica| replica.url).map_err(|error| error.to_string())
        };
        assert_eq!(told(&server, "postgres://db2/preen"), Ok("postgres://db2/preen".to_owned()));
        assert!(told(&file, "postgres://db2/preen").is_err_and(|text| text.contains("leave --replica out")));
        assert!(told(&server, "db2").is_err_and(|text| text.contains("wants postgres://")));
    }

    fn standing() -> Standing {
        Standing { beats: VecDeque::new(), covered: None, heard: None, floors: HashMap::new() }
    }

    #[test]
    fn what_was_replayed_covers_what_was_written_before_the_beat() {
        let start = Instant::now();
        let after = |s: u64| start + Duration::from_secs(s);
        let mut known = standing();
        for (at, written) in [(0, 10), (1, 20), (2, 20), (3, 35)] {
            known.hear_primary(after(at), Some(written), false);
        }
        known.hear_replica(after(3), Some(9), false);
        assert_eq!(known.covered, None);
        known.hear_replica(after(3), Some(34), false);
        assert_eq!(known.covered, Some(after(2)), "an idle primary is no lag");
        known.hear_replica(after(9), Some(34), false);
        assert_eq!(known.covered, Some(after(2)), "a cut stream is");
        known.hear_replica(after(9), None, false);
        assert_eq!(known.covered, Some(after(2)));
    }

    #[test]
    fn another_primary_is_not_measured_by_the_log_of_the_one_before() {
        let start = Instant::now();
        let mut known = standing();
        known.hear_primary(start, Some(50), false);
        known.hear_primary(start, None, false);
        assert!(known.heard.is_none());
        known.hear_primary(start, Some(40), true);
        known.hear_replica(start, Some(45), false);
        assert_eq!(known.covered, Some(start));
        assert!(known.beats.is_empty());
    }

    #[test]
    fn nobody_is_shown_less_until_the_replica_has_it() {
        let start = Instant::now();
        let mut known = standing();
        known.floors.insert("a".to_owned(), (7, start + Duration::from_secs(1)));
        known.hear_primary(start, Some(1), false);
        known.hear_replica(start, Some(1), false);
        assert_eq!(known.floors.len(), 1);
        known.hear_primary(start + Duration::from_secs(2), Some(2), false);
        known.hear_replica(start, Some(2), false);
        assert!(known.floors.is_empty());
    }
}
