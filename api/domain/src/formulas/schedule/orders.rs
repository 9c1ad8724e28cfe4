//! In how many orders the tasks can be done, and how many of them make as good a plan.

use std::collections::BTreeMap;

use super::board::Board;
use super::ground::Ground;

/// Sets of tasks that are looked at before the count is given up.
const MOST_SETS: usize = 50_000;
/// Orders that are tried one by one.
const MOST_TRIED: u64 = 2_000;

/// How many orders there are in which each task comes after all it waits for; `None`: more than could be counted.
///
/// Counted from the first task on: an order so far matters only by the set of tasks that it has done.
pub(super) fn count(ground: &Ground) -> Option<u64> {
    let tasks = ground.tasks.len();
    let mut ways: BTreeMap<u64, u64> = BTreeMap::from([(0, 1)]);
    let mut sets = 0;
    for _ in 0..tasks {
        let mut longer: BTreeMap<u64, u64> = BTreeMap::new();
        for (done, count) in &ways {
            for (task, work) in ground.tasks.iter().enumerate() {
                let own = bit(task)?;
                let is_ready = done & own == 0
                    && work
                        .previous
                        .iter()
                        .all(|before| bit(*before).is_some_and(|before| done & before != 0));
                if is_ready {
                    let sum = longer.entry(done | own).or_default();
                    *sum = sum.checked_add(*count)?;
                }
            }
        }
        sets += longer.len();
        if sets > MOST_SETS {
            return None;
        }
        ways = longer;
    }
    // Numbers beyond this are not kept exactly by readers of JSON.
    ways.into_values().next().filter(|count| *count < 1 << 53)
}

fn bit(task: usize) -> Option<u64> {
    u32::try_from(task).ok().and_then(|task| 1_u64.checked_shl(task))
}

/// How many orders, each task placed as late as it goes, begin no earlier than this; for few orders of people alike.
pub(super) fn as_good(ground: &Ground, begin: usize) -> Option<u64> {
    let is_alike = ground.tasks.iter().all(|work| work.teams.len() == 1);
    count(ground).filter(|orders| is_alike && *orders <= MOST_TRIED)?;
    let mut good = 0;
    try_all(&mut Board::new(ground), begin, &mut good);
    Some(good)
}

fn try_all(board: &mut Board<'_>, begin: usize, good: &mut u64) {
    let ready: Vec<usize> = board.ready().collect();
    if ready.is_empty() {
        *good += 1;
    }
    for task in ready {
        let before = board.ends_before(task);
        if let Some(at) = board.latest(task, 0, before, begin) {
            board.place(task, super::board::Spot { begin: at, team: 0 });
            try_all(board, begin, good);
            board.take_back(task);
        }
    }
}
