//! Who gets through, operation by operation: each role on what is their own, another's and lent to them, as one
//! table over every operation that asks who it is, driven for real on both databases; and another club, which
//! finds nothing anywhere.
//!
//! A cell says `yes` if the request came past the question who may: it was carried out, or refused by a rule of
//! the record (409 `refused_by_rule`), which is asked after it. `no` is 403 `not_allowed`. `-` says that there
//! is nothing for the asker: 404 for what the path names, 422 `unknown_reference` for what the body names.
//! Any other answer is a fault of the request. Rows `any` are about nothing that could be somebody's; lists and
//! answers about the whole fleet are in them too, and hold what the asker may see.
//!
//! # A row for a new operation
//!
//! The test names every operation of the description that has no row; there are no exceptions.
//! 1. A new noun: an arm in `access_table/bodies.rs` with the body of its `POST`. Reading, correcting and listing
//!    follow from it. If it gets new versions (`PUT`), one line in `CHANGED` of `access_table/requests.rs`.
//! 2. A new question: nothing, or one line in `QUERIES` there if it needs a parameter. A new calculator: nothing.
//! 3. A new command: an arm in `request` there.
//! 4. Run the test. It leaves the table it found in the folder it names: read what is new as a reviewer would,
//!    then copy it over `access_table.txt`.

mod bodies;
mod club;
mod other_club;
mod requests;
mod visitor;

use preen_domain::words::Role;
use preen_tests::Database;
use preen_tests::description::description;
use serde_json::json;

pub use bodies::picture;
use club::Club;
use requests::{CASES, request};

/// Reviewed by hand.
const TABLE: &str = "api/access_table.txt";

/// Method and path (without its beginning) of everything that asks who it is.
fn operations() -> Vec<(&'static str, &'static str)> {
    let paths = description()["paths"].as_object().unwrap();
    let mut list = Vec::new();
    for (path, item) in paths {
        for (method, operation) in item.as_object().unwrap() {
            if operation["security"] != json!([{}]) {
                list.push((method.as_str(), path.strip_prefix("/api/v1/").unwrap()));
            }
        }
    }
    list
}

/// Nouns whose items are corrected.
fn correctable() -> Vec<&'static str> {
    operations().into_iter().filter_map(|(_, path)| path.strip_suffix("/{id}/correction")).collect()
}

/// The table as it is found, operations without a row, and answers that say neither yes nor no.
fn find_table(club: &Club) -> (String, Vec<String>, Vec<String>) {
    let mut table = format!("{:<35} {:<9}", "operation", "whose");
    for role in Role::ALL {
        table += &format!(" {role}");
    }
    table.push('\n');
    let (mut without_row, mut faults) = (Vec::new(), Vec::new());
    for (method, path) in operations() {
        let name = format!("{method} {path}");
        let mut rows = 0;
        for case in CASES {
            let mut row = format!("{name:<35} {case:<9}");
            let mut cells = 0;
            for role in Role::ALL {
                let Some(request) = request(club, method, path, *role, case) else { break };
                let reply = request.send(club.caller(*role));
                let cell = request.read(&reply).unwrap_or_else(|| {
                    faults.push(format!("{name}, {case}, by {role}: {} {}", reply.status, reply.text));
                    "?"
                });
                row += &format!(" {cell:<width$}", width = role.as_str().len());
                cells += 1;
            }
            if cells > 0 {
                table += row.trim_end();
                table.push('\n');
                rows += 1;
            }
        }
        if rows == 0 {
            without_row.push(name);
        }
    }
    (table, without_row, faults)
}

fn check_table(club: &Club) {
    let (table, without_row, faults) = find_table(club);
    let found = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("access_table.txt");
    std::fs::write(&found, &table).unwrap();
    assert_eq!(without_row, Vec::<String>::new(), "these operations have no row; see the head of this file");
    assert_eq!(faults, Vec::<String>::new(), "\n{table}");
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(TABLE);
    let reviewed = std::fs::read_to_string(path).unwrap();
    assert!(table == reviewed, "the table of access has changed; review it: {}\n{table}", found.display());
}

/// One club for both questions: the other club sends what the members of this one have sent.
fn check_access(database: Database) {
    let club = Club::begin(database, &correctable());
    other_club::check(&club);
    other_club::check_mixed(&club);
    visitor::check(&club);
    check_table(&club);
}

#[test]
fn the_table_says_who_gets_through_and_another_club_nowhere_on_sqlite() {
    check_access(Database::Sqlite);
}

#[test]
fn the_table_says_who_gets_through_and_another_club_nowhere_on_postgres() {
    check_access(Database::Postgres);
}
