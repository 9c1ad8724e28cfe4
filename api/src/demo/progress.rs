//! A progress bar on stderr, on a terminal only.

use std::io::{IsTerminal, Write, stderr};

/// Cells of the bar.
const WIDTH: usize = 30;

/// How far something has come.
#[derive(Debug)]
pub struct Progress {
    label: String,
    done: usize,
    all: usize,
    is_shown: bool,
}

impl Progress {
    /// Nothing done yet.
    #[must_use]
    pub fn new(label: &str, all: usize) -> Self {
        Self { label: label.to_owned(), done: 0, all, is_shown: stderr().is_terminal() }
    }

    /// One more is done.
    pub fn step(&mut self) {
        self.done += 1;
        if self.is_shown && (self.done.is_multiple_of(50) || self.done == self.all) {
            self.draw();
        }
    }

    fn draw(&self) {
        let filled = (WIDTH * self.done).checked_div(self.all).unwrap_or(WIDTH).min(WIDTH);
        let bar = format!("{}{}", "#".repeat(filled), ".".repeat(WIDTH - filled));
        let end = if self.done == self.all { "\n" } else { "" };
        let mut out = stderr().lock();
        // A terminal that has gone away is no reason to stop.
        drop(write!(out, "\r{} [{bar}] {} of {}{end}", self.label, self.done, self.all));
        drop(out.flush());
    }
}
