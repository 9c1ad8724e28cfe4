//! The tables there are, parents before their parts. Columns carry the names of the facts' own fields.
//!
//! * [`things`]: the club, its members, designs, models, parts, components and programmes.
//! * [`shelf`]: matched sets, limits, lots and slugs. [`contests`]: classes, contests and entries. [`events`]: what happened to all of them.

mod contests;
mod events;
mod shelf;
mod things;

use std::str::FromStr;

use preen_domain::{facts::Noun, words::UnknownWord};

use super::grammar::{Column, Makes, Table};

/// All tables.
pub fn tables() -> impl DoubleEndedIterator<Item = &'static Table> {
    things::TABLES.iter().chain(shelf::TABLES).chain(contests::TABLES).chain(events::TABLES)
}

/// The table of a file name.
#[must_use]
pub fn table(file: &str) -> Option<&'static Table> {
    tables().find(|table| table.file == file)
}

const ONE_TAG: &[&str] = &["tag"];

/// A table whose rows become facts by themselves.
const fn facts(
    file: &'static str,
    noun: Noun,
    columns: &'static [Column],
    key: &'static [&'static str],
) -> Table {
    Table { file, makes: Makes::Fact(noun), columns, key, links: &[], needs: &[] }
}

fn word<W: FromStr<Err = UnknownWord>>(given: &str) -> Result<(), UnknownWord> {
    given.parse::<W>().map(drop)
}
