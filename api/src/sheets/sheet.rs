//! A sheet as data: a title and blocks one under another. Which answers go into which blocks is for each sheet's file.

use preen_domain::finding::Finding;
use serde::Serialize;

/// Sizes of paper.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Paper {
    /// 210 mm by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8½ in by 11 in (ANSI/ASME Y14.1, size A).
    #[serde(rename = "us-letter")]
    Letter,
}

impl Paper {
    /// Reads the parameter.
    pub fn parse(word: &str) -> Option<Self> {
        match word {
            "a4" => Some(Self::A4),
            "letter" => Some(Self::Letter),
            _ => None,
        }
    }
}

/// One sheet, ready for the press.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sheet {
    /// Name of the club.
    pub club: String,
    /// What the sheet is.
    pub title: String,
    /// Of what, as of when.
    pub subtitle: Option<String>,
    /// Under each page: from which revision, as of when, and what the sheet is not.
    pub footer: String,
    /// The word before the number of the page.
    pub page_word: &'static str,
    /// On which paper.
    pub paper: Paper,
    /// Across instead of upright.
    pub is_wide: bool,
    /// A square code that leads to the subject, as SVG.
    pub code: Option<String>,
    /// What the code says, for those who cannot see it.
    pub code_says: Option<String>,
    /// What it says.
    pub blocks: Vec<Block>,
}

/// A piece of a sheet.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Block {
    /// A heading.
    Heading {
        /// Its words.
        text: String,
    },
    /// A paragraph.
    Text {
        /// Its words.
        text: String,
    },
    /// A caution at the place where it is needed.
    Caution {
        /// The word in front.
        word: &'static str,
        /// Its words.
        text: String,
    },
    /// Names and values, in one or more columns.
    Facts {
        /// Pairs side by side.
        columns: usize,
        /// Name and value.
        rows: Vec<(String, String)>,
    },
    /// A table; its head stands on every page.
    Table {
        /// Its columns.
        columns: Vec<Column>,
        /// Whether people write into it, so that rows are taller.
        has_lines_to_fill: bool,
        /// Its rows.
        rows: Vec<Vec<Cell>>,
    },
    /// Lines to write on.
    Lines {
        /// What each is for.
        names: Vec<String>,
    },
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Column {
    /// What stands above it.
    pub name: String,
    /// `left`, `right` or `centre`.
    pub align: &'static str,
    /// Share of the width that is left; null: as wide as what stands in it.
    pub weight: Option<f64>,
}

/// As wide as needed, to the left.
pub fn narrow(name: &str) -> Column {
    Column { name: name.to_owned(), align: "left", weight: None }
}

/// As wide as needed, to the right: numbers.
pub fn number(name: &str) -> Column {
    Column { name: name.to_owned(), align: "right", weight: None }
}

/// As wide as needed, in the middle: boxes to tick.
pub fn tick(name: &str) -> Column {
    Column { name: name.to_owned(), align: "centre", weight: None }
}

/// Takes a share of what is left.
pub fn wide(name: &str, weight: f64) -> Column {
    Column { name: name.to_owned(), align: "left", weight: Some(weight) }
}

/// What stands in a table.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Cell {
    /// Words.
    Plain(String),
    /// Something else.
    Special(Special),
}

/// A cell that is no plain text.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Special {
    /// A box to tick.
    Tick,
    /// Room to write.
    Room,
    /// Words that matter.
    Strong {
        /// The words.
        text: String,
    },
}

impl Cell {
    /// A box to tick.
    pub const TICK: Self = Self::Special(Special::Tick);
    /// Room to write.
    pub const ROOM: Self = Self::Special(Special::Room);

    /// Words that matter.
    pub fn strong(text: impl Into<String>) -> Self {
        Self::Special(Special::Strong { text: text.into() })
    }
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self::Plain(text.into())
    }
}

impl Sheet {
    /// A heading.
    pub fn heading(&mut self, text: impl Into<String>) {
        self.blocks.push(Block::Heading { text: text.into() });
    }

    /// A paragraph.
    pub fn text(&mut self, text: impl Into<String>) {
        self.blocks.push(Block::Text { text: text.into() });
    }

    /// A caution.
    pub fn caution(&mut self, text: impl Into<String>) {
        self.blocks.push(Block::Caution { word: "Caution", text: text.into() });
    }

    /// Names and values.
    pub fn facts<const N: usize>(&mut self, columns: usize, rows: [(&str, String); N]) {
        let rows = rows.into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
        self.blocks.push(Block::Facts { columns, rows });
    }

    /// A table to read. An empty one is replaced by a sentence.
    pub fn table(&mut self, columns: Vec<Column>, rows: Vec<Vec<Cell>>, if_empty: &str) {
        if rows.is_empty() {
            self.text(if_empty);
        } else {
            self.blocks.push(Block::Table { columns, has_lines_to_fill: false, rows });
        }
    }

    /// A table to write into.
    pub fn form(&mut self, columns: Vec<Column>, rows: Vec<Vec<Cell>>) {
        self.blocks.push(Block::Table { columns, has_lines_to_fill: true, rows });
    }

    /// Lines to write on.
    pub fn lines(&mut self, names: &[&str]) {
        self.blocks.push(Block::Lines { names: names.iter().map(|&name| name.to_owned()).collect() });
    }

    /// Findings, each with what clears it.
    pub fn findings(&mut self, findings: &[Finding], if_empty: &str) {
        let rows = findings
            .iter()
            .map(|one| {
                vec![
                    Cell::strong(one.severity.as_str()),
                    one.subject.as_str().into(),
                    one.text.as_str().into(),
                    one.clear_by.as_str().into(),
                ]
            })
            .collect();
        self.table(
            vec![narrow("how bad"), narrow("what"), wide("why", 3.0), wide("what clears it", 2.0)],
            rows,
            if_empty,
        );
    }
}
