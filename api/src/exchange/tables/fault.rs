//! A wrong row of a table, in words that say where it is and what to mend.

use std::fmt;

/// One thing that is wrong in one place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// File name of the table.
    pub file: String,
    /// Line in the file, the header being line 1; absent where the file as a whole is wrong.
    pub line: Option<u64>,
    /// Column, where it is a single one.
    pub column: Option<String>,
    /// What is wrong.
    pub reason: String,
}

impl Fault {
    /// A fault of a file as a whole.
    pub fn of_file(file: &str, reason: impl Into<String>) -> Self {
        Self { file: file.to_owned(), line: None, column: None, reason: reason.into() }
    }

    /// A fault of a row.
    pub fn of_row(file: &str, line: u64, reason: impl Into<String>) -> Self {
        Self { line: Some(line), ..Self::of_file(file, reason) }
    }

    /// A fault of a cell.
    pub fn of_cell(file: &str, line: u64, column: &str, reason: impl Into<String>) -> Self {
        Self { column: Some(column.to_owned()), ..Self::of_row(file, line, reason) }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, " line {line}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column `{column}`")?;
        }
        write!(f, ": {}", self.reason)
    }
}

/// All that is wrong in a set of tables.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// A single fault of a file as a whole.
    #[must_use]
    pub fn of_file(file: &str, reason: &str) -> Self {
        Self(vec![Fault::of_file(file, reason)])
    }

    /// Adds one.
    pub fn push(&mut self, fault: Fault) {
        self.0.push(fault);
    }

    /// Whether nothing is wrong.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The faults.
    pub fn iter(&self) -> std::slice::Iter<'_, Fault> {
        self.0.iter()
    }

    /// By file and line.
    #[must_use]
    pub fn sorted(mut self) -> Self {
        self.0.sort();
        self.0.dedup();
        self
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (number, fault) in self.0.iter().enumerate() {
            write!(f, "{}{fault}", if number == 0 { "" } else { "\n" })?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}
