//! Rows of a text file: UTF-8, cells parted by comma, semicolon or tab, quoted as in RFC 4180.

use std::cell::Cell;
use std::fs::File;
use std::io::{self, BufRead as _, BufReader, Read};
use std::path::{Path, PathBuf};
use std::rc::Rc;

use super::{Row, unreadable};
use crate::failure::Failure;

/// Letters of one row at most: a quote that is never closed would otherwise swallow the file.
const LETTERS: usize = 1 << 20;
/// Letters that are read ahead.
const BUFFER: usize = 1 << 16;
/// The mark that some programs put before UTF-8 text.
const MARK: &[u8] = &[0xEF, 0xBB, 0xBF];

/// What is read until the next row has ended, and no more: else a row would stand in memory before its length is known.
struct Bounded<R> {
    from: R,
    left: Rc<Cell<usize>>,
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let left = self.left.get();
        if left == 0 {
            return Err(io::Error::other("the row is too long"));
        }
        let most = into.len().min(left);
        let read = self.from.read(into.get_mut(..most).unwrap_or_default())?;
        self.left.set(left - read);
        Ok(read)
    }
}

/// Opens it. What parts the cells is what stands most often in the first line.
pub fn open(path: &Path) -> Result<impl Iterator<Item = Result<Row, Failure>> + use<>, Failure> {
    let file = File::open(path).map_err(|error| unreadable(path, &error))?;
    let mut input = BufReader::with_capacity(1 << 16, file);
    let start = input.fill_buf().map_err(|error| unreadable(path, &error))?;
    let marked = if start.starts_with(MARK) { MARK.len() } else { 0 };
    let first = start.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let count = |sign: u8| first.iter().filter(|byte| **byte == sign).count();
    let sign =
        [b',', b';', b'\t'].into_iter().max_by_key(|sign| (count(*sign), *sign == b',')).unwrap_or(b',');
    // Of the usual end, CR LF, the reader would count the second letter to the next row, whose number then is one too
    // small; CR is trimmed off with the blanks round the last cell.
    let end = if start.contains(&b'\n') { csv::Terminator::Any(b'\n') } else { csv::Terminator::CRLF };
    input.consume(marked);
    let left = Rc::new(Cell::new(LETTERS + BUFFER));
    let reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(sign)
        .terminator(end)
        .buffer_capacity(BUFFER)
        .from_reader(Bounded { from: input, left: Rc::clone(&left) });
    let path: PathBuf = path.to_owned();
    let mut next = 1;
    Ok(reader.into_byte_records().map(move |record| {
        let is_spent = left.replace(LETTERS + BUFFER) == 0;
        let too_long = |number: u64| {
            Failure::bad_input(format!(
                "Row {number} of {} is longer than {LETTERS} letters: a quote is probably not closed.",
                path.display()
            ))
        };
        let record = match record {
            Err(_broken_off) if is_spent => return Err(too_long(next)),
            record => record.map_err(|error| unreadable(&path, &error))?,
        };
        let number = record.position().map_or(0, csv::Position::line);
        next = number + 1;
        if record.as_slice().len() > LETTERS {
            return Err(too_long(number));
        }
        let cell = |bytes: &[u8]| {
            std::str::from_utf8(bytes)
                .map(|text| text.trim().to_owned())
                .map_err(|_other_letters| "it is not UTF-8: save the file as CSV UTF-8".to_owned())
        };
        Ok(Row { number, cells: record.iter().map(cell).collect() })
    }))
}
