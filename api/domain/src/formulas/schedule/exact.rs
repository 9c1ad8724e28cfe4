//! The best plan by branch and bound: every order of the tasks and every team, as far as it can still beat the best.
//!
//! Only orders are followed in which the tasks end one before the other, going backwards: each plan whose tasks cannot
//! be moved later comes from its own such order.

use super::Quarter;
use super::board::{Board, Found, Spot};
use super::ground::Ground;

/// What a search found.
pub(super) struct Searched {
    /// A plan that begins later than the one known before.
    pub better: Option<Found>,
    /// Whether everything was looked at, so that the best known plan is the best there is.
    pub is_complete: bool,
}

struct Search<'a> {
    ground: &'a Ground,
    /// Where the best plan known begins, plus one: plans have to begin here or later to be better.
    beat_from: usize,
    best: Option<Found>,
    steps: u64,
}

/// Looks for plans that begin later than `known`, within so many looked-at quarters.
pub(super) fn search(ground: &Ground, known: Option<usize>, steps: u64) -> Searched {
    let mut search = Search { ground, beat_from: known.map_or(0, |begin| begin + 1), best: None, steps };
    let is_complete = search.go(&mut Board::new(ground), (ground.at.len(), usize::MAX), ground.tasks.len());
    Searched { better: search.best, is_complete }
}

impl Search<'_> {
    /// Follows one placed task by all that may come next; false when the steps ran out. `last` is the end of the last
    /// placed task, and which it was.
    fn go(&mut self, board: &mut Board<'_>, last: (usize, usize), open: usize) -> bool {
        if open == 0 {
            if let Some(found) = board.found().filter(|found| found.begin >= self.beat_from) {
                self.beat_from = found.begin + 1;
                self.best = Some(found);
            }
            return true;
        }
        if self.is_hopeless(board, last.0) {
            return true;
        }
        let mut choices: Vec<(usize, usize, Spot)> = Vec::new();
        for task in board.ready().collect::<Vec<_>>() {
            let before = board.ends_before(task);
            let Some(work) = self.ground.tasks.get(task) else { continue };
            for team in 0..work.teams.len() {
                if let Some(begin) = board.latest(task, team, before, self.beat_from) {
                    let end = begin + work.length;
                    // Ends fall; of equal ends the task that stands first in the list goes first.
                    if end < last.0 || (end == last.0 && (last.1 == usize::MAX || task > last.1)) {
                        choices.push((end, task, Spot { begin, team }));
                    }
                }
            }
        }
        choices.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.team.cmp(&b.2.team)));
        for (end, task, spot) in choices {
            if spot.begin < self.beat_from {
                continue;
            }
            if board.steps > self.steps {
                return false;
            }
            board.place(task, spot);
            let is_done = self.go(board, (end, task), open - 1);
            board.take_back(task);
            if !is_done {
                return false;
            }
        }
        true
    }

    /// Whether what is not placed yet cannot begin late enough: by the way through it, or for want of hands.
    fn is_hopeless(&self, board: &mut Board<'_>, last_end: usize) -> bool {
        let mut begins: Vec<usize> = vec![0; self.ground.tasks.len()];
        let mut work_left = 0;
        for task in self.ground.sorted.iter().rev() {
            let Some(work) = self.ground.tasks.get(*task) else { continue };
            let begin = match board.spot(*task) {
                Some(spot) => Some(spot.begin),
                None => {
                    let people: u32 =
                        work.teams.first().map_or(0, |team| team.of.iter().map(|(_, n)| n).sum());
                    work_left += u64::from(people) * u64::try_from(work.length).unwrap_or_default();
                    let mut by: Quarter = work.ends_by;
                    for (next, cure) in &work.next {
                        let begin = begins.get(*next).copied().unwrap_or_default();
                        by = by.min(self.ground.quarter(begin) - cure);
                    }
                    let before = self.ground.slots_before(by).min(last_end);
                    self.ground.alone(*task, before).filter(|begin| *begin >= self.beat_from)
                }
            };
            let Some(begin) = begin else { return true };
            if let Some(kept) = begins.get_mut(*task) {
                *kept = begin;
            }
        }
        board.steps += u64::try_from(last_end.saturating_sub(self.beat_from) / 16 + self.ground.tasks.len())
            .unwrap_or_default();
        board.people_left(&(self.beat_from.min(last_end)..last_end)) < work_left
    }
}
