//! The inspection programme that every new club gets: 15 groups, 130 items and their numeric limits.
//!
//! It is kept in tables beside this file. Its limits are common practice without a published source;
//! a club edits its own copy.

use preen_domain::facts::{Fact, Programme};

use super::tables::{Faults, Source, read_facts};

/// The tables of the programme, compiled in.
pub const TABLES: [(&str, &str); 4] = [
    ("programmes.csv", include_str!("programmes.csv")),
    ("programme_groups.csv", include_str!("programme_groups.csv")),
    ("programme_items.csv", include_str!("programme_items.csv")),
    ("programme_limits.csv", include_str!("programme_limits.csv")),
];

/// The programme. Its id is made from its tag and so the same in every club: a club that brings it with its own
/// tables has it once.
///
/// # Errors
/// Names every wrong row of the compiled-in tables; a test keeps them right.
pub fn default_programme() -> Result<Programme, Faults> {
    let rows = read_facts(&Source::compiled_in(&TABLES))?;
    rows.into_iter()
        .find_map(|row| match row.fact {
            Fact::Programme(programme) => Some(programme),
            _ => None,
        })
        .ok_or_else(|| Faults::of_file("programmes.csv", "holds no programme"))
}
