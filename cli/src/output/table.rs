//! Aligned tables for people.

use std::fmt::Display;

use unicode_width::UnicodeWidthStr;

use super::{Block, Style};

/// What a cell says about good and bad, in colour where there is colour; its text says it too.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tone {
    /// Nothing.
    #[default]
    Plain,
    /// Good.
    Good,
    /// Look at it.
    Caution,
    /// Stop.
    Bad,
}

/// One cell.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cell {
    /// Its text.
    pub text: String,
    /// Its tone.
    pub tone: Tone,
}

impl Cell {
    /// A text.
    pub fn plain(text: impl Into<String>) -> Self {
        Self { text: text.into(), tone: Tone::Plain }
    }

    /// A text with a tone.
    pub fn toned(text: impl Into<String>, tone: Tone) -> Self {
        Self { text: text.into(), tone }
    }

    /// A value.
    pub fn of<T: Display + Copy>(value: T) -> Self {
        Self::plain(format!("{value}"))
    }

    /// A value, or nothing.
    pub fn maybe(value: Option<impl ToString>) -> Self {
        Self::plain(value.map(|value| value.to_string()).unwrap_or_default())
    }

    /// A number with so many decimals.
    pub fn number(value: f64, decimals: usize) -> Self {
        Self::plain(format!("{value:.decimals$}"))
    }
}

/// A column.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Column {
    /// Its heading.
    pub name: String,
    /// Whether its cells stand at the right, as numbers do.
    pub is_right: bool,
}

/// A column of texts.
pub fn left(name: impl Into<String>) -> Column {
    Column { name: name.into(), is_right: false }
}

/// A column of numbers.
pub fn right(name: impl Into<String>) -> Column {
    Column { name: name.into(), is_right: true }
}

/// Rows in columns.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows, each with one cell a column.
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    /// An empty table.
    pub fn new(columns: impl IntoIterator<Item = Column>) -> Self {
        Self { columns: columns.into_iter().collect(), rows: Vec::new() }
    }

    /// Adds a row.
    pub fn push(&mut self, cells: impl IntoIterator<Item = Cell>) {
        self.rows.push(cells.into_iter().collect());
    }
}

/// A text without control characters, so that no data can steer the terminal.
pub fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() && c != '\n' { '\u{fffd}' } else { c }).collect()
}

/// Draws a block, with a line end.
pub fn draw(block: &Block, style: &Style) -> String {
    match block {
        Block::Line(text) => format!("{}\n", fold(&clean(text), style.width).join("\n")),
        Block::Verbatim(text) => text.clone(),
        Block::Table(table) => draw_table(table, style),
        Block::Fields(fields) => {
            let width = fields.iter().map(|(name, _)| name.width()).max().unwrap_or(0);
            let room = style.width.map(|all| all.saturating_sub(width + 2).max(20));
            fields
                .iter()
                .map(|(name, cell)| {
                    let lines = fold(&clean(&cell.text), room);
                    let indent = format!("\n{}", " ".repeat(width + 2));
                    let value = painted(&lines.join(&indent), cell.tone, style);
                    format!("{}\n", format!("{}  {value}", padded(name, width, false)).trim_end())
                })
                .collect()
        }
    }
}

fn draw_table(table: &Table, style: &Style) -> String {
    let shown = |cell: &Cell| clean(&cell.text).replace('\n', " ");
    let last = table.columns.len().saturating_sub(1);
    let widths: Vec<usize> = table
        .columns
        .iter()
        .enumerate()
        .map(|(index, column)| {
            let cells = table.rows.iter().filter_map(|row| row.get(index)).map(|cell| shown(cell).width());
            cells.chain([column.name.width()]).max().unwrap_or(0)
        })
        .collect();
    let before_last: usize = widths.iter().take(last).map(|width| width + 2).sum();
    let room = style.width.map(|all| all.saturating_sub(before_last).max(20));
    let heading = table.columns.iter().map(|column| Cell::plain(column.name.to_uppercase())).collect();
    std::iter::once(&heading)
        .chain(&table.rows)
        .map(|row: &Vec<Cell>| {
            let mut line = String::new();
            for (index, (cell, width)) in row.iter().zip(&widths).enumerate() {
                let is_right = table.columns.get(index).is_some_and(|column| column.is_right);
                let text = if index == last && !is_right {
                    fold(&shown(cell), room).join(&format!("\n{}", " ".repeat(before_last)))
                } else {
                    padded(&shown(cell), *width, is_right)
                };
                line.push_str(&painted(&text, cell.tone, style));
                if index != last {
                    line.push_str("  ");
                }
            }
            format!("{}\n", line.trim_end())
        })
        .collect()
}

fn padded(text: &str, width: usize, is_right: bool) -> String {
    let space = " ".repeat(width.saturating_sub(text.width()));
    if is_right { format!("{space}{text}") } else { format!("{text}{space}") }
}

fn painted(text: &str, tone: Tone, style: &Style) -> String {
    let code = match tone {
        Tone::Plain => return text.to_owned(),
        Tone::Good => 32,
        Tone::Caution => 33,
        Tone::Bad => 31,
    };
    if style.is_coloured && !text.trim().is_empty() {
        format!("\u{1b}[{code}m{text}\u{1b}[0m")
    } else {
        text.to_owned()
    }
}

/// Breaks a text at its spaces where it is wider than the room there is.
fn fold(text: &str, room: Option<usize>) -> Vec<String> {
    let Some(room) = room else { return text.lines().map(ToOwned::to_owned).collect() };
    let mut lines = Vec::new();
    for paragraph in text.lines() {
        let mut line = String::new();
        for word in paragraph.split(' ') {
            if !line.is_empty() && line.width() + 1 + word.width() > room {
                lines.push(std::mem::take(&mut line));
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::Format;

    fn style(is_coloured: bool, width: Option<usize>) -> Style {
        Style { format: Format::Table, is_coloured, width }
    }

    fn table() -> Table {
        let mut table = Table::new([left("model"), right("flights"), left("reason")]);
        table.push([Cell::plain("SG-01"), Cell::of(4), Cell::toned("campaign runs out soon", Tone::Caution)]);
        table.push([Cell::plain("Ä"), Cell::of(275), Cell::plain("")]);
        table
    }

    #[test]
    fn columns_are_aligned_and_lines_have_no_trailing_space() {
        assert_eq!(
            draw_table(&table(), &style(false, None)),
            "MODEL  FLIGHTS  REASON\nSG-01        4  campaign runs out soon\nÄ          275\n"
        );
    }

    #[test]
    fn the_last_column_folds_under_itself() {
        let drawn = draw_table(&table(), &style(false, Some(36)));
        assert!(drawn.contains("SG-01        4  campaign runs out\n                soon\n"), "{drawn}");
    }

    #[test]
    fn colour_leaves_the_words() {
        let drawn = draw_table(&table(), &style(true, None));
        assert!(drawn.contains("\u{1b}[33mcampaign runs out soon\u{1b}[0m"), "{drawn}");
    }

    #[test]
    fn data_cannot_steer_the_terminal() {
        let drawn = draw(&Block::Line("a\u{1b}[2Jb".to_owned()), &style(false, None));
        assert_eq!(drawn, "a\u{fffd}[2Jb\n");
    }
}
