//! The queue before the writers: a lane for each club, served in turn, so that a club that writes much or whose
//! lock is held elsewhere keeps nobody else waiting.
//!
//! Here is only who is next. What is done at its turn, and in which transaction, is up to the writer.

use std::collections::{BTreeSet, HashMap, VecDeque};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::fault::DoorError;

/// Changes waiting in one lane at most; one more is turned away with "busy".
pub const LANE: usize = 512;
/// Changes waiting in all lanes at most.
pub const ALL: usize = 4096;
/// A change that could not begin for so long is given up with "busy".
pub const PATIENCE: Duration = Duration::from_secs(10);

/// Whose turn it is.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lane {
    /// Changes of one club's record, in order.
    Club(String),
    /// Writes beside the record; they have no order among them.
    Beside(u8),
}

impl Lane {
    /// The club whose record waits there; empty for writes beside the record.
    pub fn club(&self) -> &str {
        match self {
            Self::Club(club) => club,
            Self::Beside(_) => "",
        }
    }
}

/// Something that waits for its turn.
pub struct Waiting<J> {
    /// Where it waits.
    pub lane: Lane,
    /// How many changes it stands for.
    pub size: usize,
    since: Instant,
    /// What is to be done.
    pub job: J,
}

impl<J> Waiting<J> {
    /// Whether it has waited longer than anybody should.
    pub fn is_out_of_patience(&self) -> bool {
        self.since.elapsed() > PATIENCE
    }
}

/// What one turn takes.
#[derive(Clone, Copy, Debug)]
pub struct Reach {
    /// Changes at most; one larger job is taken alone.
    pub changes: usize,
    /// Whether one turn takes from many lanes. Otherwise it takes from one club, or one write beside the record.
    pub is_across: bool,
}

struct Queue<J> {
    waiting: VecDeque<Waiting<J>>,
    size: usize,
    is_at_work: bool,
    /// Changes that a writer has taken, and since when the oldest of them waited.
    taken: usize,
    taken_since: Option<Instant>,
}

struct Standing<J> {
    lanes: HashMap<Lane, Queue<J>>,
    /// Lanes with something waiting and nobody at work on them, in the order of their turns.
    ring: VecDeque<Lane>,
    size: usize,
    is_open: bool,
}

/// The lanes.
pub struct Lanes<J> {
    standing: Mutex<Standing<J>>,
    bell: Condvar,
}

impl<J> Default for Lanes<J> {
    fn default() -> Self {
        let standing = Standing { lanes: HashMap::new(), ring: VecDeque::new(), size: 0, is_open: true };
        Self { standing: Mutex::new(standing), bell: Condvar::new() }
    }
}

impl<J> Lanes<J> {
    fn lock(&self) -> MutexGuard<'_, Standing<J>> {
        self.standing.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Lets a job wait in its lane, or says at once that too many wait.
    pub fn submit(&self, lane: Lane, size: usize, job: J) -> Result<(), DoorError> {
        let mut standing = self.lock();
        let in_lane = standing.lanes.get(&lane).map_or(0, |queue| queue.size);
        if !standing.is_open {
            return Err(DoorError::Busy("the service is stopping".to_owned()));
        }
        if in_lane + size > LANE || standing.size + size > ALL {
            return Err(DoorError::Busy(format!("{in_lane} changes wait in the lane already")));
        }
        standing.size += size;
        let is_next = {
            let queue = standing.lanes.entry(lane.clone()).or_insert_with(|| Queue {
                waiting: VecDeque::new(),
                size: 0,
                is_at_work: false,
                taken: 0,
                taken_since: None,
            });
            queue.size += size;
            queue.waiting.push_back(Waiting { lane: lane.clone(), size, since: Instant::now(), job });
            !queue.is_at_work && queue.waiting.len() == 1
        };
        if is_next {
            standing.ring.push_back(lane);
            self.bell.notify_one();
        }
        Ok(())
    }

    /// How many changes wait or are being made, and how long ago the oldest of them came.
    pub fn standing(&self) -> (usize, Duration) {
        let standing = self.lock();
        let taken: usize = standing.lanes.values().map(|queue| queue.taken).sum();
        let fronts = standing.lanes.values().filter_map(|queue| queue.waiting.front());
        let waiting = fronts.map(|waiting| waiting.since);
        let oldest = standing.lanes.values().filter_map(|queue| queue.taken_since).chain(waiting).min();
        (standing.size + taken, oldest.map(|since| since.elapsed()).unwrap_or_default())
    }

    /// Takes what is next and keeps its lanes for the one who asked, until [`Lanes::give_back`]. Waits for
    /// something to do; `None` once nothing more will come.
    pub fn take(&self, reach: Reach) -> Option<Vec<Waiting<J>>> {
        let mut standing = self.lock();
        while standing.ring.is_empty() {
            if !standing.is_open {
                return None;
            }
            standing = self.bell.wait(standing).unwrap_or_else(PoisonError::into_inner);
        }
        Some(standing.take(reach))
    }

    /// Frees the lanes of what was taken. What could not be done comes first again at their next turn.
    pub fn give_back(&self, lanes: BTreeSet<Lane>, left: Vec<Waiting<J>>) {
        let mut standing = self.lock();
        for job in left.into_iter().rev() {
            standing.size += job.size;
            if let Some(queue) = standing.lanes.get_mut(&job.lane) {
                queue.size += job.size;
                queue.waiting.push_front(job);
            }
        }
        for lane in lanes {
            let Some(queue) = standing.lanes.get_mut(&lane) else { continue };
            queue.is_at_work = false;
            (queue.taken, queue.taken_since) = (0, None);
            if queue.waiting.is_empty() {
                standing.lanes.remove(&lane);
            } else {
                standing.ring.push_back(lane);
                self.bell.notify_one();
            }
        }
    }

    /// Takes no more; what waits is still served.
    pub fn close(&self) {
        self.lock().is_open = false;
        self.bell.notify_all();
    }
}

impl<J> Standing<J> {
    fn take(&mut self, reach: Reach) -> Vec<Waiting<J>> {
        let mut taken: Vec<Waiting<J>> = Vec::new();
        let mut room = reach.changes;
        let mut turns: VecDeque<Lane> = if reach.is_across {
            std::mem::take(&mut self.ring)
        } else {
            self.ring.pop_front().into_iter().collect()
        };
        // One from each lane in turn, so that a long lane does not fill the group alone.
        while let Some(lane) = turns.pop_front() {
            let is_alone = !reach.is_across && matches!(lane, Lane::Beside(_));
            let Some(queue) = self.lanes.get_mut(&lane) else { continue };
            let fits = queue.waiting.front().is_some_and(|next| taken.is_empty() || next.size <= room);
            let next = if fits { queue.waiting.pop_front() } else { None };
            let Some(next) = next else {
                // It has its turn in the next group, unless something of it is in this one.
                if !queue.is_at_work {
                    self.ring.push_back(lane);
                }
                continue;
            };
            room = room.saturating_sub(next.size);
            self.size = self.size.saturating_sub(next.size);
            queue.size = queue.size.saturating_sub(next.size);
            queue.is_at_work = true;
            queue.taken += next.size;
            queue.taken_since = Some(queue.taken_since.map_or(next.since, |since| since.min(next.since)));
            taken.push(next);
            if !queue.waiting.is_empty() && !is_alone {
                turns.push_back(lane);
            }
        }
        taken
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ACROSS: Reach = Reach { changes: 4, is_across: true };
    const ONE: Reach = Reach { changes: 4, is_across: false };

    fn club(name: &str) -> Lane {
        Lane::Club(name.to_owned())
    }

    fn lanes(jobs: &[(&str, u32)]) -> Lanes<u32> {
        let lanes = Lanes::default();
        for (name, job) in jobs {
            lanes.submit(club(name), 1, *job).unwrap();
        }
        lanes
    }

    fn take(lanes: &Lanes<u32>, reach: Reach) -> (Vec<u32>, BTreeSet<Lane>, Vec<Waiting<u32>>) {
        let taken = lanes.take(reach).unwrap();
        let of = taken.iter().map(|job| job.lane.clone()).collect();
        (taken.iter().map(|job| job.job).collect(), of, taken)
    }

    #[test]
    fn a_busy_club_leaves_room_for_another() {
        let lanes = lanes(&[("a", 1), ("a", 2), ("a", 3), ("a", 4), ("a", 5), ("b", 6)]);
        let (jobs, of, _) = take(&lanes, ACROSS);
        assert_eq!(jobs, [1, 6, 2, 3]);
        lanes.give_back(of, Vec::new());
        assert_eq!(take(&lanes, ACROSS).0, [4, 5]);
    }

    #[test]
    fn a_club_is_with_one_writer_at_a_time_and_in_order() {
        let lanes = lanes(&[("a", 1), ("a", 2), ("b", 3)]);
        let (jobs, of_a, left) = take(&lanes, ONE);
        assert_eq!(jobs, [1, 2]);
        lanes.submit(club("a"), 1, 4).unwrap();
        let (jobs, of_b, _) = take(&lanes, ONE);
        assert_eq!(jobs, [3], "the other writer takes the other club");
        lanes.give_back(of_b, Vec::new());
        lanes.give_back(of_a, left);
        assert_eq!(take(&lanes, ONE).0, [1, 2, 4], "what could not be done comes first again");
    }

    #[test]
    fn a_full_lane_turns_away_and_the_next_one_does_not() {
        let lanes = Lanes::default();
        lanes.submit(club("a"), LANE - 1, 1).unwrap();
        assert!(lanes.submit(club("a"), 2, 2).is_err());
        lanes.submit(club("a"), 1, 3).unwrap();
        lanes.submit(club("b"), 1, 4).unwrap();
        let (jobs, of, _) = take(&lanes, ONE);
        assert_eq!(jobs, [1], "one that is larger than a group is taken alone");
        lanes.submit(club("a"), LANE - 1, 5).unwrap();
        assert_eq!(take(&lanes, ONE).0, [4]);
        lanes.give_back(of, Vec::new());
        assert_eq!(take(&lanes, ONE).0, [3]);
    }

    #[test]
    fn writes_beside_the_record_are_taken_one_by_one_unless_one_writer_does_it_all() {
        let lanes = Lanes::default();
        for job in 1..=4 {
            lanes.submit(Lane::Beside(0), 1, job).unwrap();
        }
        let (jobs, of, _) = take(&lanes, ONE);
        assert_eq!(jobs, [1]);
        lanes.give_back(of, Vec::new());
        assert_eq!(take(&lanes, ACROSS).0, [2, 3, 4]);
    }

    #[test]
    fn what_a_writer_has_taken_still_waits_for_its_commit() {
        let lanes = lanes(&[("a", 1), ("a", 2), ("b", 3)]);
        assert_eq!(lanes.standing().0, 3);
        let (_, of, left) = take(&lanes, ONE);
        let (count, oldest) = lanes.standing();
        assert!(count == 3 && oldest > Duration::ZERO, "{count} {oldest:?}");
        lanes.give_back(of, left);
        assert_eq!(lanes.standing().0, 3);
        while lanes.standing().0 > 0 {
            let (_, of, _) = take(&lanes, ONE);
            lanes.give_back(of, Vec::new());
        }
        assert_eq!(lanes.standing(), (0, Duration::ZERO));
    }

    #[test]
    fn a_closed_queue_serves_what_waits_and_ends() {
        let lanes = lanes(&[("a", 1)]);
        lanes.close();
        assert!(lanes.submit(club("a"), 1, 2).is_err());
        let (jobs, of, _) = take(&lanes, ONE);
        assert_eq!(jobs, [1]);
        lanes.give_back(of, Vec::new());
        assert!(lanes.take(ONE).is_none());
    }
}
