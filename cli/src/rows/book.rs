//! Rows of a sheet of an XLSX or ODS workbook. The sheet stands in memory whole, so its size is bounded first.

use std::fs::File;
use std::io::{self, BufReader, Read as _};
use std::path::Path;

use calamine::{Data, Reader as _, Sheets, open_workbook_auto};

use super::area::Area;
use super::{Row, unreadable};
use crate::failure::Failure;

/// Bytes of a workbook at most.
const PACKED: u64 = 64 << 20;
/// Bytes of all its parts at most, once unpacked.
const UNPACKED: u64 = 512 << 20;
/// Parts at most.
const PARTS: usize = 10_000;
/// Cells that a sheet may span.
const CELLS: u64 = 10_000_000;

/// Reads the sheet.
pub fn open(
    path: &Path,
    sheet: Option<&str>,
) -> Result<impl Iterator<Item = Result<Row, Failure>> + use<>, Failure> {
    check_size(path)?;
    let mut book = open_workbook_auto(path).map_err(|error| unreadable(path, &error))?;
    let names = book.sheet_names();
    let name = match sheet {
        Some(name) if names.iter().any(|known| known == name) => name.to_owned(),
        Some(name) => {
            return Err(Failure::bad_input(format!("{} has no sheet `{name}`.", path.display()))
                .hint(format!("It has: {}.", names.join(", "))));
        }
        None => names
            .first()
            .cloned()
            .ok_or_else(|| Failure::bad_input(format!("{} has no sheet.", path.display())))?,
    };
    check_span(path, &mut book, &name)?;
    let range = book.worksheet_range(&name).map_err(|error| unreadable(path, &error))?;
    let first = range.start().map_or(0, |(row, _)| row);
    let rows: Vec<Row> = range
        .rows()
        .zip(1_u64..)
        .map(|(cells, number)| Row {
            number: u64::from(first) + number,
            cells: cells.iter().map(text_of).collect(),
        })
        .collect();
    Ok(rows.into_iter().map(Ok))
}

/// That a workbook goes beyond a bound.
fn too_large(path: &Path, what: &str) -> Failure {
    Failure::bad_input(format!("{} is too large: {what}.", path.display()))
        .hint("Save the sheet as CSV: that may have any length.")
}

/// A workbook is a ZIP: its parts are unpacked once and thrown away, since its directory may say less of their sizes than
/// is true.
fn check_size(path: &Path) -> Result<(), Failure> {
    let file = File::open(path).map_err(|error| unreadable(path, &error))?;
    let packed = file.metadata().map_err(|error| unreadable(path, &error))?.len();
    if packed > PACKED {
        return Err(too_large(path, &format!("{} MiB, at most {} MiB", packed >> 20, PACKED >> 20)));
    }
    let mut parts = zip::ZipArchive::new(BufReader::new(file)).map_err(|error| unreadable(path, &error))?;
    if parts.len() > PARTS {
        return Err(too_large(path, &format!("{} parts, at most {PARTS}", parts.len())));
    }
    let mut left = UNPACKED;
    for place in 0..parts.len() {
        let mut part = parts.by_index(place).map_err(|error| unreadable(path, &error))?;
        let is_open_sheet = part.name().is_ok_and(|name| name == "content.xml");
        let mut counted = (&mut part).take(left + 1);
        let long = if is_open_sheet {
            let mut area = Area::default();
            let long = io::copy(&mut counted, &mut area).map_err(|error| unreadable(path, &error))?;
            check_cells(path, area.cells())?;
            long
        } else {
            io::copy(&mut counted, &mut io::sink()).map_err(|error| unreadable(path, &error))?
        };
        left = left
            .checked_sub(long)
            .ok_or_else(|| too_large(path, &format!("more than {} MiB unpacked", UNPACKED >> 20)))?;
    }
    Ok(())
}

fn check_cells(path: &Path, cells: u64) -> Result<(), Failure> {
    if cells > CELLS {
        return Err(too_large(path, &format!("it spans {cells} cells, at most {CELLS} are read")));
    }
    Ok(())
}

/// How many cells the sheet spans, corner to corner: so many stand in memory, however few are filled.
fn check_span(path: &Path, book: &mut Sheets<BufReader<File>>, name: &str) -> Result<(), Failure> {
    let Sheets::Xlsx(book) = book else { return Ok(()) };
    let mut cells = book.worksheet_cells_reader(name).map_err(|error| unreadable(path, &error))?;
    let (mut rows, mut columns) = (0, 0);
    while let Some(cell) = cells.next_cell().map_err(|error| unreadable(path, &error))? {
        let (row, column) = cell.get_position();
        (rows, columns) = (rows.max(u64::from(row) + 1), columns.max(u64::from(column) + 1));
    }
    check_cells(path, rows * columns)
}

fn text_of(cell: &Data) -> Result<String, String> {
    match cell {
        Data::Empty => Ok(String::new()),
        Data::String(text) => Ok(text.trim().to_owned()),
        Data::Int(number) => Ok(number.to_string()),
        Data::Float(number) => Ok(number.to_string()),
        Data::Bool(is_so) => Ok(if *is_so { "yes" } else { "no" }.to_owned()),
        Data::DateTime(at) if at.is_duration() => Ok((at.as_f64() * 24.0 * 60.0).to_string()),
        Data::DateTime(at) => {
            let at = at.as_datetime().ok_or("it is no day that a calendar knows")?;
            let has_time = at.time() != chrono::NaiveTime::MIN;
            Ok(at.format(if has_time { "%Y-%m-%d %H:%M:%S" } else { "%Y-%m-%d" }).to_string())
        }
        Data::DateTimeIso(text) | Data::DurationIso(text) => Ok(text.clone()),
        Data::Error(error) => Err(format!("the spreadsheet shows an error there ({error})")),
    }
}
