//! The critical chain: from the task that begins first, each task and what keeps it from being done later.

use super::board::{Board, Found};
use super::ground::Ground;

/// What keeps a task from being done later.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hold {
    /// The next task waits for it, and for its cure if it has one.
    Order,
    /// The next task needs the same people.
    People,
    /// The next task needs the same tool.
    Tool,
    /// Its own hours, or when everything has to be over.
    Hours,
}

/// A task of the chain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Link {
    /// Its place in the project.
    pub task: usize,
    /// What keeps it from being done later.
    pub hold: Hold,
}

/// Follows the chain. Of several reasons the one that lies nearest counts.
pub(super) fn critical(ground: &Ground, found: &Found) -> Vec<Link> {
    let all = 0..ground.tasks.len();
    let Some(mut task) = all.clone().min_by_key(|task| (found.begin_of(*task), *task)) else {
        return Vec::new();
    };
    let mut board = Board::new(ground);
    for (task, spot) in found.spots.iter().enumerate() {
        board.place(task, *spot);
    }
    let mut chain = Vec::new();
    loop {
        let begin = found.begin_of(task);
        let next = all
            .clone()
            .filter(|other| *other != task && found.begin_of(*other) > begin)
            .filter_map(|other| {
                Some((found.begin_of(other), other, holds(ground, &mut board, found, task, other)?))
            })
            .min_by_key(|(begin, other, _)| (*begin, *other));
        match next {
            Some((_, other, hold)) => {
                chain.push(Link { task, hold });
                task = other;
            }
            None => {
                chain.push(Link { task, hold: Hold::Hours });
                return chain;
            }
        }
    }
}

/// Whether a task could be done later if another one were not there, and by what that one holds it.
fn holds(ground: &Ground, board: &mut Board<'_>, found: &Found, task: usize, other: usize) -> Option<Hold> {
    let (work, after) = (ground.tasks.get(task)?, ground.tasks.get(other)?);
    let (spot, other_spot) = (found.spots.get(task)?, found.spots.get(other)?);
    let team = work.teams.get(spot.team)?;
    let shares_people = after
        .teams
        .get(other_spot.team)
        .is_some_and(|others| others.of.iter().any(|(class, _)| team.of.iter().any(|(own, _)| own == class)));
    let shares_tool = work.tools.iter().any(|tool| after.tools.contains(tool));
    let is_next = work.next.iter().any(|(next, _)| *next == other);
    if !(shares_people || shares_tool || is_next) {
        return None;
    }
    board.take_back(task);
    board.take_back(other);
    let before = board.ends_before(task);
    let later = board.latest(task, spot.team, before, spot.begin + 1).is_some();
    board.place(other, *other_spot);
    board.place(task, *spot);
    later.then_some(if is_next {
        Hold::Order
    } else if shares_tool {
        Hold::Tool
    } else {
        Hold::People
    })
}
