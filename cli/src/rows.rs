//! Rows of a spreadsheet as text, whatever the file: CSV a row at a time, XLSX and ODS sheet by sheet.
//!
//! Not here: what the columns mean.

mod area;
mod book;
mod plain;

use std::path::Path;

use crate::failure::Failure;

/// One row: its number in the file, beginning with 1, and its cells.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// Its number, as a spreadsheet shows it.
    pub number: u64,
    /// Its cells as text; a cell that cannot be used is an error.
    pub cells: Vec<Result<String, String>>,
}

impl Row {
    fn is_empty(&self) -> bool {
        self.cells.iter().all(|cell| cell.as_ref().is_ok_and(String::is_empty))
    }
}

/// Rows that come one after the other, without those that are empty.
pub type Rows = Box<dyn Iterator<Item = Result<Row, Failure>>>;

/// Opens a file of rows by the ending of its name; `sheet` names the sheet of a workbook, the first one if it is absent.
///
/// # Errors
/// It cannot be read, is too large for its kind, or has no such sheet.
pub fn open(path: &Path, sheet: Option<&str>) -> Result<Rows, Failure> {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default().to_lowercase();
    let rows: Rows = match ending.as_str() {
        "csv" | "tsv" | "txt" if sheet.is_some() => {
            return Err(Failure::bad_input("A text file has no sheets: leave --sheet out."));
        }
        "csv" | "tsv" | "txt" => Box::new(plain::open(path)?),
        "xlsx" | "xlsm" | "ods" => Box::new(book::open(path, sheet)?),
        _ => {
            return Err(Failure::bad_input(format!(
                "{} is no file of rows that is known here: .csv, .tsv, .xlsx or .ods.",
                path.display()
            )));
        }
    };
    Ok(Box::new(rows.filter(|row| row.as_ref().map_or(true, |row| !row.is_empty()))))
}

/// That a file cannot be read.
fn unreadable(path: &Path, why: &dyn std::fmt::Display) -> Failure {
    Failure::bad_input(format!("{} cannot be read: {why}.", path.display()))
}
