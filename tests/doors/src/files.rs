//! Rows of spreadsheets and the archive of a club: read within bounds or refused in words.

use std::io::{Cursor, Read as _, Write as _};
use std::path::Path;

use arbitrary::Unstructured;
use preen_api::exchange::archive::limits::{BadArchive, Limits};
use preen_api::exchange::archive::read::Archive;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use crate::scratched;

/// A small club taken away.
const ARCHIVE: &[u8] = include_bytes!("../seeds/archive.zip");
const ROWS: [&str; 4] = [
    "model,pilot,occurred_at,airtime_min,landing\nSG-01,AV,2026-05-20T10:00:00Z,6.5,soft\nSG-02,\"A \"\"V\"\"\",,1,\n",
    "\u{feff}Date;Plane;Minutes\r\n20.05.2026;SG-01;6,5\r\n\"two\r\nlines\";;\r\n",
    "tag\tmass_g\tstate\nB011\t10.4\tserviceable\n",
    "",
];

fn file(ending: &str, bytes: &[u8]) -> tempfile::NamedTempFile {
    let mut file = tempfile::Builder::new().suffix(ending).tempfile().expect("a file");
    file.write_all(bytes).expect("room for a file");
    file
}

/// A table as text.
///
/// # Panics
/// Where rows come out of order.
pub fn try_rows(bytes: &mut Unstructured<'_>) {
    let Ok(seed) = bytes.choose(&ROWS) else { return };
    let mut text = seed.as_bytes().to_vec();
    scratched(&mut text, bytes);
    let ending = bytes.choose(&[".csv", ".tsv", ".txt", ".xlsx", ".ods"]).unwrap_or(&".csv");
    let file = file(ending, &text);
    let Ok(rows) = preen_cli::rows::open(file.path(), None) else { return };
    let mut last = 0;
    for row in rows.flatten() {
        assert!(row.number > last, "row {} comes after {last} in {text:?}", row.number);
        assert!(row.cells.len() <= text.len() + 1);
        last = row.number;
    }
}

/// The archive with some of its letters others, in a file of it or as it lies.
///
/// # Panics
/// Where it is read beyond its limits.
pub fn try_archive(bytes: &mut Unstructured<'_>) {
    let odd = if bytes.ratio(1, 3).unwrap_or(false) {
        let mut odd = ARCHIVE.to_vec();
        scratched(&mut odd, bytes);
        odd
    } else {
        repacked(bytes)
    };
    let file = file(".zip", &odd);
    let limits = Limits {
        entry_bytes: 4 << 20,
        all_bytes: 16 << 20,
        line_bytes: 1 << 20,
        step_lines: 500,
        ..Limits::default()
    };
    match read(file.path(), limits) {
        Ok(entries) => assert!(entries < 10_000),
        Err(bad) => assert!(bad.to_string().len() > 15, "{bad:?} says nothing"),
    }
}

fn read(path: &Path, limits: Limits) -> Result<usize, BadArchive> {
    let archive = Archive::open(path, limits)?;
    archive.each_step(|steps| {
        let mut entries = 0;
        for step in steps {
            entries += step?.entries.len();
        }
        Ok(entries)
    })?
}

fn repacked(bytes: &mut Unstructured<'_>) -> Vec<u8> {
    let mut from = ZipArchive::new(Cursor::new(ARCHIVE)).expect("the seed is an archive");
    let chosen = *bytes.choose(&["club.json", "facts.ndjson", "trail.ndjson"]).unwrap_or(&"club.json");
    let mut into = ZipWriter::new(Cursor::new(Vec::new()));
    for at in 0..from.len() {
        let mut part = from.by_index(at).expect("a part");
        let name = part.name().expect("a name").into_owned();
        let mut text = Vec::new();
        part.read_to_end(&mut text).expect("a part that can be read");
        if name == chosen {
            scratched(&mut text, bytes);
        }
        into.start_file(&name, SimpleFileOptions::default()).expect("a new part");
        into.write_all(&text).expect("room");
    }
    into.finish().expect("an archive").into_inner()
}
