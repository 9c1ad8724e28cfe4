//! How many cells a sheet of an ODS workbook spans, from its tags alone: a cell and a row may say to stand there a million
//! times, in a few letters.

use std::io;

/// Letters of one tag at most; of a longer one the rest says nothing here.
const TAG: usize = 4096;

/// Reads what is written to it, tag by tag.
#[derive(Debug, Default)]
pub struct Area {
    /// The tag that is being read, without its `<`; nothing between two tags.
    tag: Option<Vec<u8>>,
    row: Row,
    tables: Vec<Table>,
}

/// The row that is being read.
#[derive(Debug, Default)]
struct Row {
    times: u64,
    at: u64,
    filled: u64,
}

/// A table so far.
#[derive(Debug, Default)]
struct Table {
    rows: u64,
    filled: u64,
    columns: u64,
}

impl Area {
    /// Cells of the largest table, corner to corner.
    pub fn cells(&self) -> u64 {
        self.tables.iter().map(|table| table.filled.saturating_mul(table.columns)).max().unwrap_or(0)
    }

    fn read(&mut self, tag: &[u8]) {
        let tag = String::from_utf8_lossy(tag);
        let name = tag.split(|sign: char| sign.is_whitespace() || sign == '/').find(|part| !part.is_empty());
        let is_end = tag.starts_with('/');
        match (name.unwrap_or_default(), is_end) {
            ("table:table", false) => self.tables.push(Table::default()),
            ("table:table-row", false) => {
                self.row = Row { times: times(&tag, "table:number-rows-repeated"), at: 0, filled: 0 };
            }
            ("table:table-row", true) => self.end_row(),
            ("table:table-cell" | "table:covered-table-cell", false) => {
                self.row.at = self.row.at.saturating_add(times(&tag, "table:number-columns-repeated"));
                if !tag.ends_with('/') || tag.contains("office:") {
                    self.row.filled = self.row.at;
                }
            }
            _ => {}
        }
    }

    fn end_row(&mut self) {
        let Some(table) = self.tables.last_mut() else { return };
        table.rows = table.rows.saturating_add(self.row.times);
        if self.row.filled > 0 {
            table.filled = table.rows;
            table.columns = table.columns.max(self.row.filled);
        }
    }
}

/// How often something says to stand there.
fn times(tag: &str, attribute: &str) -> u64 {
    let said = tag.split_once(attribute).map(|(_, rest)| rest.trim_start_matches([' ', '=', '"', '\'']));
    let digits = |rest: &str| rest.chars().take_while(char::is_ascii_digit).collect::<String>();
    said.map_or(1, |rest| digits(rest).parse().unwrap_or(u64::MAX))
}

impl io::Write for Area {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        for byte in bytes {
            match (&mut self.tag, byte) {
                (_, b'<') => self.tag = Some(Vec::new()),
                (Some(_), b'>') => {
                    let tag = self.tag.take().unwrap_or_default();
                    self.read(&tag);
                }
                (Some(tag), _) if tag.len() < TAG => tag.push(*byte),
                _ => {}
            }
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::io::Write as _;

    use super::*;

    fn spans(rows: &str) -> u64 {
        let mut area = Area::default();
        write!(area, "<table:table table:name=\"S\">{rows}</table:table>").unwrap();
        area.cells()
    }

    #[test]
    fn what_is_empty_at_the_end_spans_nothing() {
        let row = |times: &str, cells: &str| format!("<table:table-row{times}>{cells}</table:table-row>");
        let filled = "<table:table-cell office:value-type=\"float\" office:value=\"1\"><text:p>1</text:p></table:table-cell>";
        let empty = "<table:table-cell table:number-columns-repeated=\"16000\"/>";
        let two = row("", &format!("{filled}{filled}{empty}"));
        assert_eq!(spans(&two), 2);
        let rest = row(" table:number-rows-repeated='1048000'", empty);
        assert_eq!(spans(&format!("{two}{rest}")), 2);
        assert_eq!(spans(&format!("{two}{rest}{}", row("", filled))), 2 * 1_048_002);
        let many = filled.replacen(' ', " table:number-columns-repeated=\"16000\" ", 1);
        assert_eq!(spans(&row(" table:number-rows-repeated=\"1000\"", &many)), 16_000_000);
    }
}
