//! Rows as they lie in the tables, for those who doubt them: readable or not, one by one where a table cannot be
//! read as a whole. What is wrong with a row is for the trail to say.

use diesel::QueryResult;
use preen_domain::facts::{Fact, Noun};

use super::conn::Db;
use super::fault::DoorError;
use super::kinds::OddCell;

/// Which row of a noun's table.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct RowKey {
    /// The noun.
    pub noun: Noun,
    /// The fact.
    pub id: String,
    /// The revision at which the row was written.
    pub revision: i64,
}

/// A row as it lies in a noun's table.
#[derive(Clone, Debug)]
pub struct StoredRow {
    /// The noun.
    pub noun: Noun,
    /// The fact.
    pub id: String,
    /// The revision at which the row was written.
    pub revision: i64,
    /// When, in microseconds UTC.
    pub recorded_at: i64,
    /// By whom.
    pub recorded_by: String,
    /// The revision at which another row took its place.
    pub superseded: Option<i64>,
    /// Whether it shows a corrected content.
    pub is_correction: bool,
    /// What it says, or why that cannot be read.
    pub fact: Result<Fact, String>,
}

impl StoredRow {
    /// Its key.
    pub fn key(&self) -> RowKey {
        RowKey { noun: self.noun, id: self.id.clone(), revision: self.revision }
    }
}

/// The rows of a club.
#[derive(Debug, Default)]
pub struct Stored {
    /// Those the database hands out.
    pub rows: Vec<StoredRow>,
    /// Those it does not, and why.
    pub unread: Vec<(RowKey, String)>,
    /// Tables that cannot be read as a whole.
    pub torn: Vec<(Noun, String)>,
}

impl Stored {
    /// Takes in what was read of one noun, with the cells that hold another kind of value than their column.
    pub fn take(&mut self, noun: Noun, mut read: Read<RowKey, StoredRow>, odd: &[OddCell]) {
        for row in &mut read.rows {
            let is_here = |cell: &&OddCell| cell.first == row.id && cell.second == row.revision.to_string();
            if let Some(cell) = odd.iter().find(is_here) {
                row.fact = Err(format!("{noun} {}: {}", row.id, cell.told()));
            }
        }
        self.rows.extend(read.rows);
        self.unread.extend(read.unread);
        self.torn.extend(read.torn.map(|text| (noun, text)));
    }
}

/// What could be read of a table.
#[derive(Debug)]
pub struct Read<K, T> {
    /// The rows that could.
    pub rows: Vec<T>,
    /// The keys of those that could not, and why.
    pub unread: Vec<(K, String)>,
    /// Why the table cannot be read as a whole, where it cannot.
    pub torn: Option<String>,
}

/// Whether a row is looked for by the indexes of its table or past them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// By its key's index, which finds it whatever became of the others.
    ByIndex,
    /// In the table itself: an index may still hold a key that was changed in the row.
    PastIndexes,
}

/// The rows of one club as they lie in a table. In a file they are read past the indexes, as a row may have been changed
/// beneath them. A server keeps its indexes in step itself, and is not asked for the rows of other clubs, which may lie in
/// other parts.
macro_rules! of_club_as_they_lie {
    ($conn:expr, $table:expr, $club_id:expr, $club:expr) => {{
        let rows = $table.into_boxed();
        match $conn {
            $crate::db::conn::Db::Sqlite(_) => rows.filter($club_id.concat("").eq($club)),
            $crate::db::conn::Db::Postgres(_) => rows.filter($club_id.eq($club)),
        }
    }};
}
pub(crate) use of_club_as_they_lie;

/// Reads a table as a whole or, where the database fails at that, each row whose key is known.
pub fn scan_or_each<K, T>(
    conn: &mut Db,
    scan: impl FnOnce(&mut Db) -> QueryResult<Vec<T>>,
    keys: impl FnOnce(&mut Db) -> QueryResult<Vec<K>>,
    look: impl Fn(&mut Db, &K, Way) -> QueryResult<Option<T>>,
) -> Result<Read<K, T>, DoorError> {
    let torn = match conn.read_in_savepoint(scan).map_err(DoorError::from) {
        Ok(rows) => return Ok(Read { rows, unread: Vec::new(), torn: None }),
        Err(DoorError::Database(error)) => error.to_string(),
        Err(other) => return Err(other),
    };
    let mut read = Read { rows: Vec::new(), unread: Vec::new(), torn: Some(torn) };
    for key in conn.read_in_savepoint(keys)? {
        match conn.read_in_savepoint(|conn| look(conn, &key, Way::ByIndex)) {
            Ok(None) => {}
            Ok(Some(row)) => match conn.read_in_savepoint(|conn| look(conn, &key, Way::PastIndexes)) {
                Ok(past) => read.rows.extend(past),
                // The way through the table is blocked by another row.
                Err(_blocked) => read.rows.push(row),
            },
            Err(error) => read.unread.push((key, error.to_string())),
        }
    }
    Ok(read)
}
