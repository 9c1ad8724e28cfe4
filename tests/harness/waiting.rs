//! How tests wait: for something that is to come, or for time to pass. Nothing is ever sent to those who only let time pass.

use std::sync::mpsc::channel;
use std::time::{Duration, Instant};

/// Waits until something holds, for half a minute at most.
#[track_caller]
pub fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !holds() {
        assert!(begun.elapsed() < Duration::from_secs(30), "never: {what}");
        rest(Duration::from_millis(20));
    }
}

/// Lets time pass.
pub fn rest(span: Duration) {
    let (_kept, never) = channel::<()>();
    let _passed = never.recv_timeout(span);
}
