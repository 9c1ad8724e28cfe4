//! What a column and a table are. Which tables there are stands in [`super::layout`].

use preen_domain::{facts::Noun, words::UnknownWord};

/// What may stand in a cell. Lists are separated by `;`.
#[derive(Debug, Clone, Copy)]
pub enum Kind {
    /// A short code of letters, digits, `-`, `_` and `.`.
    Tag,
    /// Free text on one line.
    Text,
    /// Free texts.
    Texts,
    /// A word of a list.
    Word(fn(&str) -> Result<(), UnknownWord>),
    /// Words of a list.
    Words(fn(&str) -> Result<(), UnknownWord>),
    /// RFC 3339 with a zone.
    Instant,
    /// `2026-05-23`.
    Day,
    /// A decimal number.
    Number(Range),
    /// Decimal numbers.
    Numbers,
    /// A whole number, at least this.
    Count(u32),
    /// `yes` or `no`.
    YesNo,
    /// The tag of another item.
    Item(Noun),
    /// Tags of other items.
    Items(Noun),
    /// When the row's component was fitted: names the installation.
    FittedAt,
    /// A time zone of the IANA list.
    Zone,
    /// Names the row of another table that this one belongs to; no part of the fact.
    Link,
}

/// Which numbers are allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Range {
    /// Any.
    Any,
    /// Zero or more.
    NotNegative,
    /// More than zero.
    Positive,
}

/// A column of a table.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// Its name in the header: the fact's own field name, with its unit.
    pub name: &'static str,
    /// What may stand in it.
    pub kind: Kind,
    /// Whether an empty cell is wrong.
    pub is_required: bool,
    /// Path of the field where it lies deeper than its name says, such as `inside/model`.
    pub field: Option<&'static str>,
}

/// A column that must be filled.
pub const fn must(name: &'static str, kind: Kind) -> Column {
    Column { name, kind, is_required: true, field: None }
}

/// A column that may stay empty.
pub const fn may(name: &'static str, kind: Kind) -> Column {
    Column { name, kind, is_required: false, field: None }
}

impl Column {
    /// The same column for a field that lies deeper.
    #[must_use]
    pub const fn at(mut self, field: &'static str) -> Self {
        self.field = Some(field);
        self
    }
}

/// What becomes of a row.
#[derive(Debug, Clone, Copy)]
pub enum Makes {
    /// The club itself.
    Club,
    /// A fact.
    Fact(Noun),
    /// An element of this list of the row that the first link names.
    Part(&'static str),
    /// This group of fields of the row that the first link names.
    Group(&'static str),
}

/// Columns that name a row of another table.
#[derive(Debug, Clone, Copy)]
pub struct Link {
    /// File of the other table.
    pub file: &'static str,
    /// Columns here that make up the other row's key.
    pub columns: &'static [&'static str],
}

/// Columns that depend on each other.
#[derive(Debug, Clone, Copy)]
pub enum Need {
    /// One of them must be filled, and no other.
    ExactlyOne(&'static [&'static str]),
    /// One of them at least must be filled.
    AtLeastOne(&'static [&'static str]),
}

/// A table.
#[derive(Debug)]
pub struct Table {
    /// Its file name.
    pub file: &'static str,
    /// What becomes of its rows.
    pub makes: Makes,
    /// Its columns, in the order of the header.
    pub columns: &'static [Column],
    /// Columns that together stand in one row only.
    pub key: &'static [&'static str],
    /// Rows of other tables that it names; for a part, the first is what it belongs to.
    pub links: &'static [Link],
    /// What its columns need of each other.
    pub needs: &'static [Need],
}

impl std::fmt::Display for Kind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Tag | Self::Link => f.write_str("tag"),
            Self::Text => f.write_str("text"),
            Self::Texts => f.write_str("texts"),
            Self::Word(check) => {
                write!(f, "one of {}", check("").err().map_or_else(String::new, |unknown| unknown.allowed))
            }
            Self::Words(check) => {
                write!(f, "some of {}", check("").err().map_or_else(String::new, |unknown| unknown.allowed))
            }
            Self::Instant | Self::FittedAt => f.write_str("time"),
            Self::Day => f.write_str("day"),
            Self::Number(Range::Any) => f.write_str("number"),
            Self::Number(Range::NotNegative) => f.write_str("number, 0 or more"),
            Self::Number(Range::Positive) => f.write_str("number, more than 0"),
            Self::Numbers => f.write_str("numbers"),
            Self::Count(least) => write!(f, "whole number, {least} or more"),
            Self::YesNo => f.write_str("yes or no"),
            Self::Item(noun) => write!(f, "tag of one of the {noun}"),
            Self::Items(noun) => write!(f, "tags of some of the {noun}"),
            Self::Zone => f.write_str("time zone"),
        }
    }
}

impl std::fmt::Display for Column {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "`{}`{} {}", self.name, if self.is_required { "" } else { "?" }, self.kind)
    }
}

/// The file and its columns with what may stand in them; `?` marks those that may stay empty.
impl std::fmt::Display for Table {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "`{}`", self.file)?;
        for (number, column) in self.columns.iter().enumerate() {
            write!(f, "{}{column}", if number == 0 { ": " } else { "; " })?;
        }
        Ok(())
    }
}

impl Table {
    /// Place of a column in the header.
    #[must_use]
    pub fn position(&self, column: &str) -> Option<usize> {
        self.columns.iter().position(|candidate| candidate.name == column)
    }
}
