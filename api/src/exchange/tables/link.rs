//! Rows to facts: cells are understood, tags become ids, parts go to the row they belong to.

use std::collections::{HashMap, HashSet};

use preen_domain::{
    facts::{Fact, Noun},
    text::Tag,
    time::Instant,
};
use serde_json::{Map, Value};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::{
    cells::{self, Cell},
    fault::{Fault, Faults},
    grammar::{Makes, Need, Table},
    layout::tables,
    lines::Lines,
    units,
};

/// A fact and where it was read.
#[derive(Debug, Clone)]
pub struct Row {
    /// The fact, with an id made from what the row says: the same tables give the same ids.
    pub fact: Fact,
    /// Ids of the facts it points at.
    pub points_at: Vec<Uuid>,
    /// File it was read from.
    pub file: &'static str,
    /// Line in that file.
    pub line: u64,
}

/// The club itself.
#[derive(Debug, Clone)]
pub struct ClubRow {
    /// Short name, as in addresses and tokens.
    pub short_name: Tag,
    /// Its full name.
    pub title: String,
    /// The time zone of its days.
    pub time_zone: chrono_tz::Tz,
}

/// A row whose cells were understood.
#[derive(Debug)]
pub struct Parsed {
    /// Its table.
    pub table: &'static Table,
    /// Its line.
    pub line: u64,
    cells: Vec<Cell>,
    is_sound: bool,
}

impl Parsed {
    /// The cell of a column.
    pub fn cell(&self, column: &str) -> &Cell {
        self.table.position(column).and_then(|place| self.cells.get(place)).unwrap_or(&Cell::Empty)
    }

    fn key(&self, columns: &[&str]) -> String {
        columns.iter().map(|column| self.cell(column).key()).collect::<Vec<_>>().join("|")
    }

    fn is_key_wrong(&self) -> bool {
        self.table.key.iter().any(|column| *self.cell(column) == Cell::Wrong)
    }

    fn fault(&self, reason: impl Into<String>) -> Fault {
        Fault::of_row(self.table.file, self.line, reason)
    }
}

/// What the tables hold.
#[derive(Debug, Default)]
pub struct Linked {
    /// The club.
    pub club: Option<ClubRow>,
    /// The facts, in the order of tables and lines.
    pub rows: Vec<Row>,
}

/// Makes facts of all tables.
pub fn link(read: Vec<Lines>, faults: &mut Faults) -> Linked {
    let broken: HashSet<&str> =
        read.iter().filter(|lines| lines.is_broken).map(|lines| lines.table.file).collect();
    let parsed: Vec<Parsed> = read.into_iter().flat_map(|lines| understand(lines, faults)).collect();
    units::check(&parsed, faults);
    let index = Index::of(&parsed, broken, faults);
    let mut linked = Linked::default();
    let mut parts: Parts = HashMap::new();
    // Parts stand behind what they belong to in the layout: from the back, they are ready when they are wanted.
    for table in tables().rev() {
        let has_parts = part_lists(table.file).next().is_some();
        let mut rows = Vec::new();
        for row in parsed.iter().filter(|row| row.table.file == table.file) {
            let (mut body, points_at) = index.body(row, faults);
            take_parts(row, &mut parts, &mut body);
            match table.makes {
                Makes::Part(list) | Makes::Group(list) => {
                    let parent = table.links.first().map_or("", |link| link.file);
                    let key = table.links.first().map_or_else(String::new, |link| row.key(link.columns));
                    parts
                        .entry((parent, key))
                        .or_default()
                        .entry(list)
                        .or_default()
                        .push(Value::Object(body));
                }
                Makes::Club => linked.club = club(&body),
                // A row whose parts may be wrong says nothing of itself while they are.
                Makes::Fact(noun) if row.is_sound && (faults.is_empty() || !has_parts) => {
                    body.insert("id".to_owned(), row_id(noun, row).to_string().into());
                    match Fact::from_json(noun, Value::Object(body)) {
                        Ok(fact) => rows.push(Row { fact, points_at, file: table.file, line: row.line }),
                        Err(error) => faults.push(row.fault(error.to_string())),
                    }
                }
                Makes::Fact(_) => {}
            }
        }
        rows.append(&mut linked.rows);
        linked.rows = rows;
    }
    linked
}

fn understand(read: Lines, faults: &mut Faults) -> Vec<Parsed> {
    let table = read.table;
    let mut rows = Vec::with_capacity(read.lines.len());
    for line in read.lines {
        let mut wrong = |column: &str, reason: String| {
            faults.push(Fault::of_cell(table.file, line.number, column, reason));
            Cell::Wrong
        };
        let cells = table.columns.iter().zip(&line.cells).map(|(column, text)| match text.as_str() {
            "" if column.is_required => wrong(column.name, "must not be empty".to_owned()),
            "" => Cell::Empty,
            text => cells::read(column.kind, text).unwrap_or_else(|reason| wrong(column.name, reason)),
        });
        let cells: Vec<Cell> = cells.collect();
        let is_sound = !cells.contains(&Cell::Wrong);
        let mut row = Parsed { table, line: line.number, cells, is_sound };
        for need in table.needs {
            if let Err(reason) = check_need(*need, &row) {
                faults.push(row.fault(reason));
                row.is_sound = false;
            }
        }
        rows.push(row);
    }
    rows
}

fn check_need(need: Need, row: &Parsed) -> Result<(), String> {
    let (Need::ExactlyOne(columns) | Need::AtLeastOne(columns)) = need;
    let filled = columns.iter().filter(|column| *row.cell(column) != Cell::Empty).count();
    match need {
        Need::ExactlyOne(_) if filled != 1 => {
            Err(format!("exactly one of {} must be filled", columns.join(", ")))
        }
        Need::AtLeastOne(_) if filled == 0 => Err(format!("one of {} must be filled", columns.join(", "))),
        Need::ExactlyOne(_) | Need::AtLeastOne(_) => Ok(()),
    }
}

/// Elements of lists, by the row they belong to and the list's name.
type Parts = HashMap<(&'static str, String), HashMap<&'static str, Vec<Value>>>;

fn take_parts(row: &Parsed, parts: &mut Parts, body: &mut Map<String, Value>) {
    let lists = parts.remove(&(row.table.file, row.key(row.table.key))).unwrap_or_default();
    for (list, mut elements) in lists {
        let value = if part_lists(row.table.file).any(|known| known == list) {
            Some(Value::Array(elements))
        } else {
            // A group stands once: its key is that of the row.
            elements.pop()
        };
        body.extend(value.map(|value| (list.to_owned(), value)));
    }
    for list in part_lists(row.table.file) {
        body.entry(list).or_insert_with(|| Value::Array(Vec::new()));
    }
}

/// The lists of a table's rows that other tables fill.
fn part_lists(file: &str) -> impl Iterator<Item = &'static str> {
    tables().filter_map(move |table| match (table.makes, table.links.first()) {
        (Makes::Part(list), Some(link)) if link.file == file => Some(list),
        _ => None,
    })
}

fn club(body: &Map<String, Value>) -> Option<ClubRow> {
    let text = |field: &str| body.get(field).and_then(Value::as_str);
    Some(ClubRow {
        short_name: text("short_name")?.parse().ok()?,
        title: text("title")?.to_owned(),
        time_zone: text("time_zone")?.parse().ok()?,
    })
}

/// An id of version 7 whose time is that of the event (the year 2000 for what has none) and whose
/// other bits are a hash of noun and key.
fn row_id(noun: Noun, row: &Parsed) -> Uuid {
    let at: Option<Instant> = row.cell("occurred_at").key().parse().ok();
    let millis = at.map_or(946_684_800_000, |at| at.micros() / 1000);
    let hash = Sha256::digest(format!("{noun}\u{0}{}", row.key(row.table.key)));
    let mut random = [0_u8; 10];
    for (to, from) in random.iter_mut().zip(hash) {
        *to = from;
    }
    uuid::Builder::from_unix_timestamp_millis(u64::try_from(millis).unwrap_or(0), &random).into_uuid()
}

/// What every key stands for.
struct Index {
    ids: HashMap<(Noun, String), Uuid>,
    keys: HashSet<(&'static str, String)>,
    broken: HashSet<&'static str>,
}

impl Index {
    fn of(rows: &[Parsed], broken: HashSet<&'static str>, faults: &mut Faults) -> Self {
        let mut index = Self { ids: HashMap::new(), keys: HashSet::new(), broken };
        let mut first: HashMap<(&str, String), u64> = HashMap::new();
        for row in rows.iter().filter(|row| !row.is_key_wrong()) {
            let key = row.key(row.table.key);
            if let Some(line) = first.insert((row.table.file, key.clone()), row.line) {
                let columns = row.table.key.join(", ");
                faults.push(row.fault(format!("line {line} has the same {columns} already: `{key}`")));
            }
            if let Makes::Fact(noun) = row.table.makes {
                index.ids.insert((noun, key.clone()), row_id(noun, row));
            }
            index.keys.insert((row.table.file, key));
        }
        index
    }

    /// The fields of a row, and the ids it points at.
    fn body(&self, row: &Parsed, faults: &mut Faults) -> (Map<String, Value>, Vec<Uuid>) {
        let mut body = Map::new();
        let mut points_at = Vec::new();
        for (column, cell) in row.table.columns.iter().zip(&row.cells) {
            let mut id_of = |noun: Noun, key: &str| {
                let found = self.ids.get(&(noun, key.to_owned())).copied();
                match found {
                    Some(id) => points_at.push(id),
                    None if self.is_broken(noun) => {}
                    None => {
                        let reason = format!("there is no `{key}` in {}", file_of(noun));
                        faults.push(Fault::of_cell(row.table.file, row.line, column.name, reason));
                    }
                }
                Value::from(found.unwrap_or_default().to_string())
            };
            let value = match cell {
                Cell::Empty | Cell::Wrong | Cell::Link(_) => continue,
                Cell::Value(value) => value.clone(),
                Cell::Item(noun, tag) => id_of(*noun, tag),
                Cell::Items(noun, tags) => tags.iter().map(|tag| id_of(*noun, tag)).collect(),
                Cell::FittedAt(at) => {
                    id_of(Noun::Installations, &format!("{}|{at}", row.cell("component").key()))
                }
            };
            insert(&mut body, column.field.unwrap_or(column.name), value);
        }
        for link in row.table.links {
            let key = row.key(link.columns);
            let is_wrong = link.columns.iter().any(|column| *row.cell(column) == Cell::Wrong);
            if !is_wrong && !self.broken.contains(link.file) && !self.keys.contains(&(link.file, key.clone()))
            {
                faults.push(row.fault(format!("there is no `{key}` in {}", link.file)));
            }
        }
        (body, points_at)
    }

    fn is_broken(&self, noun: Noun) -> bool {
        self.broken.contains(file_of(noun))
    }
}

fn file_of(noun: Noun) -> &'static str {
    let is_its = |table: &&Table| matches!(table.makes, Makes::Fact(made) if made == noun);
    tables().find(is_its).map_or("the tables", |table| table.file)
}

fn insert(body: &mut Map<String, Value>, field: &str, value: Value) {
    match field.split_once('/') {
        None => drop(body.insert(field.to_owned(), value)),
        Some((outer, inner)) => {
            let nested = body.entry(outer).or_insert_with(|| Value::Object(Map::new()));
            if let Value::Object(nested) = nested {
                insert(nested, inner, value);
            }
        }
    }
}
