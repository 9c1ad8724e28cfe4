//! Aligned columns for people.

/// Rows of cells under a header, as lines with aligned columns; the last column is not padded.
#[must_use]
pub fn lines(header: &[&str], rows: &[Vec<String>]) -> Vec<String> {
    let head: Vec<String> = header.iter().map(|name| (*name).to_owned()).collect();
    let all: Vec<&Vec<String>> = std::iter::once(&head).chain(rows).collect();
    let width = |column: usize| {
        all.iter().filter_map(|row| row.get(column)).map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..header.len()).map(width).collect();
    let line = |row: &&Vec<String>| {
        let cells = row.iter().zip(&widths).map(|(cell, width)| format!("{cell:width$}", width = *width));
        cells.collect::<Vec<_>>().join("  ").trim_end().to_owned()
    };
    all.iter().map(line).collect()
}

/// A text cut to a number of characters, with a mark where something is missing.
#[must_use]
pub fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_as_wide_as_their_widest_cell() {
        let rows = vec![vec!["SG-01".to_owned(), "fit".to_owned()], vec!["x".to_owned(), String::new()]];
        assert_eq!(lines(&["model", "state"], &rows), ["model  state", "SG-01  fit", "x"]);
    }

    #[test]
    fn a_cut_text_shows_that_it_was_cut() {
        assert_eq!(cut("clear", 5), "clear");
        assert_eq!(cut("a long reason", 7), "a long…");
    }
}
