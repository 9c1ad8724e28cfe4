//! A progress bar on stderr, on a terminal only.

use std::{
    cell::Cell,
    io::{IsTerminal, Write, stderr},
};

/// Cells of the bar.
const WIDTH: usize = 30;

/// How far something has come.
#[derive(Debug)]
pub struct Progress {
    label: String,
    done: Cell<usize>,
    all: usize,
    is_shown: bool,
}

impl Progress {
    /// Nothing done yet.
    #[must_use]
    pub fn new(label: &str, all: usize) -> Self {
        Self { label: label.to_owned(), done: Cell::new(0), all, is_shown: stderr().is_terminal() }
    }

    /// One more is done.
    pub fn step(&self) {
        let done = self.done.get() + 1;
        self.done.set(done);
        if self.is_shown && (done.is_multiple_of(50) || done == self.all) {
            self.draw(done);
        }
    }

    fn draw(&self, done: usize) {
        let filled = (WIDTH * done).checked_div(self.all).unwrap_or(WIDTH).min(WIDTH);
        let bar = format!("{}{}", "#".repeat(filled), ".".repeat(WIDTH - filled));
        let end = if done == self.all { "\n" } else { "" };
        let mut out = stderr().lock();
        // A terminal that has gone away is no reason to stop.
        drop(write!(out, "\r{} [{bar}] {done} of {}{end}", self.label, self.all));
        drop(out.flush());
    }
}
