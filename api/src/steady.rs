//! Time as the service counts it: the given clock, except that it never goes back.
//!
//! A clock is set back by hand, by the network, or by a board that forgets the time while it is off. If the
//! service followed, a session that had ended would be alive again, and a board asked "now" would not see the
//! defect of a minute ago. So where the clock goes back, time goes on from where it was, at half pace, until the
//! clock has caught up: waiting times still end, and the difference shrinks. What was recorded before a restart
//! counts as seen.

use std::sync::{Arc, Mutex, PoisonError};

use preen_domain::time::Instant;

use crate::state::Clock;

/// A clock that is further back than this is told of in the log, s.
const WORTH_TELLING_S: i64 = 2;

/// The service's own time. All copies share it.
#[derive(Clone, Debug)]
pub struct SteadyClock {
    clock: Clock,
    anchor: Arc<Mutex<Anchor>>,
}

/// The last time from which the clock went on by itself.
#[derive(Debug)]
struct Anchor {
    at: Instant,
    /// When that was, by a count that cannot be set.
    ticks_us: i64,
    is_told: bool,
}

impl SteadyClock {
    /// Follows `clock`, and never shows less than `newest`, the newest time on record.
    #[must_use]
    pub fn new(clock: Clock, newest: Option<Instant>) -> Self {
        let at = newest.map_or(clock.now(), |newest| newest.max(clock.now()));
        let anchor = Anchor { at, ticks_us: clock.ticks_us(), is_told: false };
        Self { clock, anchor: Arc::new(Mutex::new(anchor)) }
    }

    /// What time it is.
    #[must_use]
    pub fn now(&self) -> Instant {
        let mut anchor = self.anchor.lock().unwrap_or_else(PoisonError::into_inner);
        // Read under the lock, so that no older reading comes after a newer one.
        let (shown, ticks_us) = (self.clock.now(), self.clock.ticks_us());
        let passed_us = ticks_us.saturating_sub(anchor.ticks_us).max(0);
        let at_half_pace = Instant::from_micros(anchor.at.micros().saturating_add(passed_us / 2));
        if shown >= at_half_pace {
            *anchor = Anchor { at: shown, ticks_us, is_told: false };
            return shown;
        }
        if !anchor.is_told && at_half_pace.seconds_since(shown) > WORTH_TELLING_S {
            anchor.is_told = true;
            tracing::warn!(
                clock = %shown, service = %at_half_pace,
                "the clock is behind what it showed or what is on record; the service's time goes on at half \
                 pace until it has caught up. Set the clock if it is wrong"
            );
        }
        at_half_pace
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Instant {
        text.parse().unwrap()
    }

    #[test]
    fn it_follows_the_clock_forwards_and_never_back() {
        let clock = Clock::held_at(at("2026-05-21T08:00:00Z"));
        let steady = SteadyClock::new(clock.clone(), None);
        clock.set(at("2026-05-21T09:00:00Z"));
        assert_eq!(steady.now(), at("2026-05-21T09:00:00Z"));
        clock.set(at("1970-01-01T00:00:00Z"));
        assert_eq!(steady.clone().now(), at("2026-05-21T09:00:00Z"));
        clock.set(at("2026-05-21T09:00:01Z"));
        assert_eq!(steady.now(), at("2026-05-21T09:00:01Z"));
    }

    #[test]
    fn it_starts_no_earlier_than_what_is_on_record() {
        let newest = at("2026-05-21T08:00:00Z");
        let behind = SteadyClock::new(Clock::held_at(at("2026-05-20T08:00:00Z")), Some(newest));
        assert_eq!(behind.now(), newest);
        let ahead = SteadyClock::new(Clock::held_at(at("2026-05-22T08:00:00Z")), Some(newest));
        assert_eq!(ahead.now(), at("2026-05-22T08:00:00Z"));
    }

    #[test]
    fn it_goes_on_at_half_pace_while_the_clock_is_behind() {
        let newest = at("2026-05-21T08:00:00Z");
        let clock = Clock::starting_at(at("2026-05-21T07:59:00Z"));
        let steady = SteadyClock::new(clock.clone(), Some(newest));
        let (mut before, mut passed_us) = (newest, 0);
        let began_us = clock.ticks_us();
        while passed_us < 5_000 {
            let now = steady.now();
            passed_us = clock.ticks_us() - began_us;
            assert!(now >= before, "it went back");
            let gained_us = now.micros() - newest.micros();
            assert!(gained_us <= passed_us / 2 + 1, "{gained_us} us in {passed_us} us");
            before = now;
        }
        assert!(before > newest, "it stands still");
    }
}
