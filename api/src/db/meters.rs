//! What the door counts of itself while it works. Only counting: who may read it, and in which form, is said elsewhere.

use std::time::Duration;

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::{Registry, Unit};

use super::conn::Pool;
use super::fault::DoorError;
use super::fleet::Shelf;
use super::writer::Writers;

/// Upper ends of the buckets for the time of a COMMIT, s.
const COMMIT_S: [f64; 9] = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.5, 2.5];
/// Upper ends of the buckets for changes that share a COMMIT.
const GROUP: [f64; 8] = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0];

/// Why a change was turned away.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Why {
    reason: &'static str,
}

/// How things stand at the door just now.
#[derive(Clone, Copy, Debug)]
pub struct Standing {
    /// Changes that wait or are being made.
    pub waiting: u64,
    /// How long ago the oldest of them came.
    pub oldest: Duration,
    /// Clubs whose Fleet is in memory.
    pub fleets: u64,
    /// Bytes of these Fleets, by estimate.
    pub fleet_bytes: u64,
    /// Connections that read just now.
    pub connections_in_use: u64,
    /// Connections that may read at once.
    pub connections_at_most: u64,
}

impl Standing {
    pub(super) fn of(pool: &Pool, writers: &Writers, shelf: &Shelf) -> Self {
        let count = |number: usize| u64::try_from(number).unwrap_or(u64::MAX);
        let (waiting, oldest) = writers.standing();
        let (fleets, fleet_bytes) = shelf.standing();
        let open = pool.state();
        Self {
            waiting: count(waiting),
            oldest,
            fleets: count(fleets),
            fleet_bytes,
            connections_in_use: u64::from(open.connections.saturating_sub(open.idle_connections)),
            connections_at_most: u64::from(pool.max_size()),
        }
    }
}

/// Counters of the door; copies count together.
#[derive(Clone, Debug)]
pub struct DoorMeters {
    groups: Counter,
    sizes: Histogram,
    commits: Histogram,
    refused: Family<Why, Counter>,
    /// Fleets that were read from the first fact on, or came new.
    pub loads: Counter,
    /// Fleets let go to keep to the limit.
    pub evictions: Counter,
}

impl Default for DoorMeters {
    fn default() -> Self {
        let refused = Family::<Why, Counter>::default();
        // Both stand there from the start, so that the first refusal is a step and no new line.
        for reason in ["busy", "full"] {
            let _zero = refused.get_or_create_owned(&Why { reason });
        }
        Self {
            groups: Counter::default(),
            sizes: Histogram::new(GROUP),
            commits: Histogram::new(COMMIT_S),
            refused,
            loads: Counter::default(),
            evictions: Counter::default(),
        }
    }
}

impl DoorMeters {
    /// A group of changes was kept.
    pub fn committed(&self, changes: usize, took: Duration) {
        self.groups.inc();
        self.sizes.observe(u32::try_from(changes).map_or(f64::MAX, f64::from));
        self.commits.observe(took.as_secs_f64());
    }

    /// Changes were turned away, or not kept.
    pub fn refused(&self, changes: usize, error: &DoorError) {
        let reason = if matches!(error, DoorError::Full(_)) { "full" } else { "busy" };
        let changes = u64::try_from(changes).unwrap_or(u64::MAX);
        self.refused.get_or_create(&Why { reason }).inc_by(changes);
    }

    /// Puts all of it among the numbers that are shown.
    pub fn show(&self, numbers: &mut Registry) {
        numbers.register("groups_committed", "Groups of changes kept", self.groups.clone());
        numbers.register("group_changes", "Changes of a group that was kept", self.sizes.clone());
        numbers.register_with_unit("commit", "Time of a COMMIT", Unit::Seconds, self.commits.clone());
        numbers.register(
            "changes_refused",
            "Changes turned away or not kept, to be sent again",
            self.refused.clone(),
        );
        numbers.register(
            "fleet_loads",
            "Fleets that were not in memory when they were asked for, or came new",
            self.loads.clone(),
        );
        numbers.register("fleet_evictions", "Fleets let go to keep to the limit", self.evictions.clone());
    }
}
