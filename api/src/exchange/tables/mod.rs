//! A club as a folder of CSV tables: one table per noun, one row per fact, names and units in the header.
//!
//! The grammar is strict and every wrong row is named, all of them in one go:
//!
//! * [`grammar`]: what a column and a table are. [`layout`]: the tables there are.
//! * [`source`]: where the text comes from. [`lines`]: text to cells. [`cells`]: a cell to its value.
//! * [`link`]: rows to facts, with ids made from what the row says. [`order`]: an order for recording them.
//! * [`fault`]: a wrong row. [`units`]: one unit per quantity.
//!
//! What a fact may say beside the others (two parts in one place, …) is not judged here but where it is recorded.

pub mod cells;
pub mod fault;
pub mod grammar;
pub mod layout;
mod lines;
mod link;
mod order;
pub mod source;
mod units;

pub use fault::{Fault, Faults};
pub use link::{ClubRow, Row};
pub use order::{is_keeper, waves};
pub use source::Source;

use super::programme;

/// A club read from its tables: what it is called and its facts, in an order in which they can be recorded.
#[derive(Debug, Clone)]
pub struct Club {
    /// Name, title and time zone.
    pub club: ClubRow,
    /// Its facts. None points at a later one; what changes places and states stands in order of time.
    pub rows: Vec<Row>,
}

/// Reads a whole club. Tables that are absent are empty, except `club.csv` and `members.csv`;
/// a club without programme tables gets the default programme.
///
/// # Errors
/// Every wrong row, by file, line, column and reason.
pub fn read_club(sources: &[Source]) -> Result<Club, Faults> {
    let mut sources = sources.to_vec();
    let mut faults = Faults::default();
    if !sources.iter().any(|source| source.file == "programmes.csv") {
        sources.extend(Source::compiled_in(&programme::TABLES));
    }
    for file in ["club.csv", "members.csv"] {
        if !sources.iter().any(|source| source.file == file) {
            faults.push(Fault::of_file(file, "the file is missing"));
        }
    }
    let read = link::link(lines::split_all(&sources, &mut faults), &mut faults);
    if faults.is_empty() && !read.rows.iter().any(|row| is_keeper(&row.fact)) {
        faults.push(Fault::of_file("members.csv", "nobody is keeper: one member must have that role"));
    }
    if let (Some(club), true) = (read.club, faults.is_empty()) {
        return Ok(Club { club, rows: order::in_order(read.rows) });
    }
    if faults.is_empty() {
        faults.push(Fault::of_file("club.csv", "must have one row"));
    }
    Err(faults.sorted())
}

/// Reads the facts of tables that need not make up a whole club.
///
/// # Errors
/// Every wrong row, by file, line, column and reason.
pub fn read_facts(sources: &[Source]) -> Result<Vec<Row>, Faults> {
    let mut faults = Faults::default();
    let read = link::link(lines::split_all(sources, &mut faults), &mut faults);
    if faults.is_empty() { Ok(order::in_order(read.rows)) } else { Err(faults.sorted()) }
}
