//! The text of a table to its rows of cells: header, quotes and number of cells. No cell is understood here.

use super::{fault::Fault, fault::Faults, grammar::Table, layout, source::Source};

/// One row of a table, as text.
#[derive(Debug)]
pub struct Line {
    /// Line in the file, the header being line 1.
    pub number: u64,
    /// One text per column of the table.
    pub cells: Vec<String>,
}

/// A table and its rows.
#[derive(Debug)]
pub struct Lines {
    /// The table.
    pub table: &'static Table,
    /// Its rows that have the right number of cells.
    pub lines: Vec<Line>,
    /// Whether rows could not be read, so that they may be missed elsewhere.
    pub is_broken: bool,
}

/// Splits the texts of all tables.
pub fn split_all(sources: &[Source], faults: &mut Faults) -> Vec<Lines> {
    sources
        .iter()
        .filter_map(|source| {
            let table = layout::table(&source.file);
            if table.is_none() {
                faults.push(Fault::of_file(&source.file, "no such table"));
            }
            table.map(|table| split(table, &source.text, faults))
        })
        .collect()
}

fn split(table: &'static Table, text: &str, faults: &mut Faults) -> Lines {
    let mut read = Lines { table, lines: Vec::new(), is_broken: false };
    // A cell holds no line break, so a line is a row. Lines that cannot be one are emptied, which the reader skips.
    let mut sound = String::with_capacity(text.len());
    for (line, number) in text.lines().zip(1..) {
        match check_quotes(line) {
            Ok(()) => sound.push_str(line),
            Err(reason) => {
                read.is_broken = true;
                faults.push(Fault::of_row(table.file, number, reason));
            }
        }
        sound.push('\n');
    }
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(sound.as_bytes());
    let mut rows = reader.records().filter_map(Result::ok).map(|record| Line {
        number: record.position().map_or(0, csv::Position::line),
        cells: record.iter().map(str::to_owned).collect(),
    });
    let header = rows.next().filter(|row| row.number == 1);
    if let Err(reasons) = check_header(table, header.as_ref()) {
        for reason in reasons {
            faults.push(Fault::of_row(table.file, 1, reason));
        }
        read.is_broken = true;
        return read;
    }
    let expected = table.columns.len();
    for line in rows {
        if line.cells.len() == expected {
            read.lines.push(line);
        } else {
            read.is_broken = true;
            let reason = format!("has {} cells, the header has {expected}", line.cells.len());
            faults.push(Fault::of_row(table.file, line.number, reason));
        }
    }
    read
}

fn check_header(table: &Table, found: Option<&Line>) -> Result<(), Vec<String>> {
    let wanted: Vec<&str> = table.columns.iter().map(|column| column.name).collect();
    let Some(Line { cells: found, .. }) = found else {
        return Err(vec![format!("must be the header `{}`", wanted.join(","))]);
    };
    if found.iter().map(String::as_str).eq(wanted.iter().copied()) {
        return Ok(());
    }
    let mut reasons = Vec::new();
    for name in wanted.iter().filter(|name| !found.iter().any(|given| given == *name)) {
        reasons.push(format!("column `{name}` is missing"));
    }
    for name in found.iter().filter(|name| !wanted.contains(&name.as_str())) {
        reasons.push(format!("column `{name}` is unknown"));
    }
    if reasons.is_empty() {
        reasons.push(format!("the columns must stand once each, in this order: {}", wanted.join(",")));
    }
    Err(reasons)
}

/// A quoted cell begins and ends with a quotation mark and doubles those inside it.
fn check_quotes(line: &str) -> Result<(), &'static str> {
    if line.is_empty() {
        return Err("is empty");
    }
    let mut at_start = true;
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        if c == '"' && !at_start {
            return Err("has a quotation mark inside a cell that does not begin with one");
        }
        if c == '"' {
            loop {
                match chars.next() {
                    None => return Err("has a quotation mark that is never closed"),
                    Some('"') if chars.peek() == Some(&'"') => drop(chars.next()),
                    Some('"') => break,
                    Some(_) => {}
                }
            }
            if chars.peek().is_some_and(|next| *next != ',') {
                return Err("has something behind a closing quotation mark");
            }
        }
        at_start = c == ',';
    }
    Ok(())
}
