//! What every request can reach: the door, the clock, the limits. Built once at the start.

use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::{SystemTime, UNIX_EPOCH};

use preen_domain::time::Instant;

use crate::access::guards::Reach;
use crate::access::passwords::Hasher;
use crate::access::tokens::TokenMemory;
use crate::answers::kept::KeptAnswers;
use crate::db::door::Door;
use crate::photos::Photos;
use crate::watch::Watch;

/// Some moment of this process, from which ticks are counted.
static STARTED: OnceLock<std::time::Instant> = OnceLock::new();

/// The one clock of the service. It is handed in, so that a demonstration and the tests can have their own.
#[derive(Clone, Debug)]
pub enum Clock {
    /// The time of the system.
    System,
    /// Starts at a chosen instant and goes on at the pace of the system.
    Ticking {
        /// What it showed when it was made.
        start: Instant,
        /// When that was.
        since: std::time::Instant,
    },
    /// Shows what it is told to, until it is told otherwise.
    Held(Arc<AtomicI64>),
}

impl Clock {
    /// A clock that starts at `start` and ticks.
    #[must_use]
    pub fn starting_at(start: Instant) -> Self {
        Self::Ticking { start, since: std::time::Instant::now() }
    }

    /// A clock that stands at `at` until [`Clock::set`] moves it.
    #[must_use]
    pub fn held_at(at: Instant) -> Self {
        Self::Held(Arc::new(AtomicI64::new(at.micros())))
    }

    /// What time it is.
    #[must_use]
    pub fn now(&self) -> Instant {
        match self {
            Self::System => {
                let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
                Instant::from_micros(i64::try_from(since.as_micros()).unwrap_or(i64::MAX))
            }
            Self::Ticking { start, since } => {
                let passed = i64::try_from(since.elapsed().as_micros()).unwrap_or(i64::MAX);
                Instant::from_micros(start.micros().saturating_add(passed))
            }
            Self::Held(micros) => Instant::from_micros(micros.load(Ordering::SeqCst)),
        }
    }

    /// Microseconds counted by something that cannot be set back; only differences mean anything. A held clock
    /// stands still here too.
    #[must_use]
    pub fn ticks_us(&self) -> i64 {
        let micros =
            |since: &std::time::Instant| i64::try_from(since.elapsed().as_micros()).unwrap_or(i64::MAX);
        match self {
            Self::System => micros(STARTED.get_or_init(std::time::Instant::now)),
            Self::Ticking { since, .. } => micros(since),
            Self::Held(_) => 0,
        }
    }

    /// Moves a held clock; the others go their own way.
    pub fn set(&self, at: Instant) {
        if let Self::Held(micros) = self {
            micros.store(at.micros(), Ordering::SeqCst);
        }
    }
}

/// What every request can reach.
pub struct State {
    /// The way to the records.
    pub door: Arc<Door>,
    /// Tokens seen lately.
    pub tokens: TokenMemory,
    /// Computes the hashes of passwords.
    pub hasher: Hasher,
    /// Pictures of photos.
    pub photos: Photos,
    /// Answers as they were sent lately.
    pub kept: Arc<KeptAnswers>,
    /// How the service can be reached.
    pub reach: Reach,
    /// What is told to whoever keeps it running.
    pub watch: Watch,
}

impl State {
    /// What time it is. It never goes back.
    pub fn now(&self) -> Instant {
        self.door.clock().now()
    }
}

/// The state as handlers take it.
pub type Shared = actix_web::web::Data<State>;
