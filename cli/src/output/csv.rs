//! Rows for a spreadsheet: comma, quotes where needed, one heading line (RFC 4180, with plain line ends).

use super::table::{Table, clean};

/// All rows with a heading line.
pub fn lines(table: &Table) -> String {
    let heading = table.columns.iter().map(|column| quoted(&column.name.replace(' ', "_"))).collect();
    let rows = table.rows.iter().map(|row| row.iter().map(|cell| quoted(&clean(&cell.text))).collect());
    std::iter::once::<Vec<String>>(heading)
        .chain(rows)
        .map(|cells| format!("{}\n", cells.join(",")))
        .collect()
}

fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::{Cell, left};

    #[test]
    fn commas_quotes_and_line_ends_are_quoted() {
        let mut table = Table::new([left("due on"), left("text")]);
        table.push([Cell::plain("a,b"), Cell::plain("say \"x\"\ny")]);
        assert_eq!(lines(&table), "due_on,text\n\"a,b\",\"say \"\"x\"\"\ny\"\n");
    }
}
