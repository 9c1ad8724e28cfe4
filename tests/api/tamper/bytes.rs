//! Single bytes of the file of an embedded database, changed where a row of each noun lies.
//!
//! The file's format is public: pages of a B-tree, whose leaves hold cells of a length, a row number and a record;
//! a record is a header that says the kind of each column, and the columns after it.

use std::fs::OpenOptions;
use std::os::unix::fs::FileExt as _;
use std::path::Path;

use diesel::connection::SimpleConnection as _;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Text};
use preen_api::audit::verify::verify;
use preen_api::db::conn::{Place, open};
use preen_api::resources::nouns;
use preen_domain::facts::Noun;
use preen_tests::world::{CLUB, scratch};
use preen_tests::{Database, World};

use super::columns::rows;
use super::fleet::{named, something_of_everything, table};

/// About so many bytes of each row are tried, spread over it, if `PREEN_BYTES` does not say otherwise; the header of a
/// record is tried byte by byte.
const TRIED: usize = 8;

#[derive(QueryableByName)]
struct Root {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = BigInt)]
    rootpage: i64,
}

/// A file of the embedded database.
struct Pages {
    bytes: Vec<u8>,
    size: usize,
}

impl Pages {
    fn number(&self, at: usize, length: usize) -> usize {
        self.bytes[at..at + length].iter().fold(0, |number, byte| number << 8 | usize::from(*byte))
    }

    /// A number of seven bits a byte, and where it ends.
    fn varint(&self, mut at: usize) -> (usize, usize) {
        let mut number = 0;
        loop {
            let byte = self.bytes[at];
            number = number << 7 | usize::from(byte & 0x7f);
            at += 1;
            if byte < 0x80 {
                return (number, at);
            }
        }
    }

    /// Where the records of a table lie, as far as they lie in its leaves.
    fn records(&self, page: usize) -> Vec<std::ops::Range<usize>> {
        let begin = (page - 1) * self.size;
        let header = begin + if page == 1 { 100 } else { 0 };
        let cells = self.number(header + 3, 2);
        let is_leaf = match self.bytes[header] {
            0x0d => true,
            0x05 => false,
            other => panic!("page {page} is of kind {other}"),
        };
        let pointers = header + if is_leaf { 8 } else { 12 };
        let cell = |index: usize| begin + self.number(pointers + 2 * index, 2);
        if is_leaf {
            return (0..cells)
                .map(|index| {
                    let (length, at) = self.varint(cell(index));
                    let (_, at) = self.varint(at);
                    // What does not fit goes on elsewhere.
                    let (most, least) = (self.size - 35, (self.size - 12) * 32 / 255 - 23);
                    let kept = least + (length.saturating_sub(least)) % (self.size - 4);
                    let here = match (length <= most, kept <= most) {
                        (true, _) => length,
                        (false, true) => kept,
                        (false, false) => least,
                    };
                    at..at + here
                })
                .collect();
        }
        let children =
            (0..cells).map(|index| self.number(cell(index), 4)).chain([self.number(header + 8, 4)]);
        children.flat_map(|child| self.records(child)).collect()
    }
}

/// What a damaged file is found to be.
fn look(path: &Path) -> Result<Option<super::fleet::Named>, String> {
    let mut conn = open(&Place::File(path.to_owned())).map_err(|error| error.to_string())?;
    let verdict = verify(&mut conn, nouns::TABLES, CLUB).map_err(|error| error.to_string())?;
    Ok(verdict.broken.as_ref().map(named))
}

/// The row of an id in its table, each cell as a statement would write it down: value and kind.
fn written(path: &Path, noun: Noun, id: &str) -> String {
    let mut conn = open(&Place::File(path.to_owned())).unwrap();
    let names =
        format!("SELECT name, CAST(0 AS BIGINT) AS rootpage FROM pragma_table_info('{}')", table(noun));
    let names: Vec<Root> = diesel::sql_query(names).load(&mut conn).unwrap();
    let cells: Vec<String> = names.iter().map(|column| format!("quote(\"{}\")", column.name)).collect();
    let row = format!(
        "SELECT {} AS name, CAST(0 AS BIGINT) AS rootpage FROM {} NOT INDEXED WHERE id || '' = '{id}'",
        cells.join(" || ',' || "),
        table(noun)
    );
    let rows: Vec<Root> = diesel::sql_query(row).load(&mut conn).unwrap();
    rows.into_iter().map(|row| row.name).collect::<Vec<_>>().join(";")
}

#[test]
fn a_changed_byte_of_any_row_is_found() {
    let world = World::begin(Database::Sqlite);
    something_of_everything(&world);
    let Place::File(from) = &world.place else { unreachable!() };
    let mut conn = world.conn();
    conn.batch_execute("PRAGMA wal_checkpoint(TRUNCATE)").unwrap();
    let folder = scratch("preen-bytes");
    let path = folder.join("preen.db");
    std::fs::copy(from, &path).unwrap();
    let roots: Vec<Root> = diesel::sql_query(
        "SELECT name, CAST(rootpage AS BIGINT) AS rootpage FROM sqlite_master WHERE type = 'table'",
    )
    .load(&mut conn)
    .unwrap();
    let bytes = std::fs::read(&path).unwrap();
    let mut pages = Pages { bytes, size: 0 };
    pages.size = pages.number(16, 2);
    let file = OpenOptions::new().write(true).open(&path).unwrap();
    let wanted_bytes =
        std::env::var_os("PREEN_BYTES").map_or(TRIED, |text| text.to_str().unwrap().parse().unwrap());
    let (mut tried, mut faults) = (0, Vec::new());
    for noun in Noun::ALL {
        let row = rows(&mut conn, *noun, false).remove(0);
        let root = roots.iter().find(|root| root.name == table(*noun)).unwrap();
        let key = format!("{CLUB}{}", row.id);
        let records = pages.records(usize::try_from(root.rootpage).unwrap());
        // The newest of an id is the last in the table.
        let holds = |record: &std::ops::Range<usize>| {
            pages.bytes[record.clone()].windows(key.len()).any(|window| window == key.as_bytes())
        };
        let record = records.into_iter().rev().find(holds).unwrap_or_else(|| panic!("no record of {noun}"));
        let (head, _) = pages.varint(record.start);
        let step = (record.len().saturating_sub(head) / wanted_bytes).max(1);
        let places =
            (record.start..record.start + head).chain((record.start + head..record.end).step_by(step));
        let as_written = written(&path, *noun, &row.id);
        assert!(as_written.contains(&row.id));
        let wanted = (noun.to_string(), row.id.clone(), row.revision);
        for place in places {
            let was = pages.bytes[place];
            let flipped = was ^ 1 << (place % 8);
            file.write_at(&[flipped], u64::try_from(place).unwrap()).unwrap();
            let found = look(&path);
            let is_same = found == Ok(None) && written(&path, *noun, &row.id) == as_written;
            file.write_at(&[was], u64::try_from(place).unwrap()).unwrap();
            tried += 1;
            // A record may say that a column is empty, or end before it: not every byte means something.
            if found != Ok(Some(wanted.clone())) && !is_same {
                let at = place - record.start;
                faults.push(format!(
                    "{noun}: byte {at} ({head} of the header) {was:02x} to {flipped:02x}: {found:?}"
                ));
            }
        }
    }
    assert_eq!(look(&path), Ok(None), "every byte was put back");
    assert!(tried > 31 * 15, "{tried}");
    assert!(faults.is_empty(), "{} of {tried}: {faults:#?}", faults.len());
    std::fs::remove_dir_all(folder).unwrap();
}
