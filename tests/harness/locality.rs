//! Whether statements stay with one club: on tables in parts by club, the server itself tells the plan of each statement
//! that it ran (`auto_explain`), and this reads which parts were looked at. Statements that ask all clubs are named.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead as _, BufReader, Seek as _, SeekFrom};
use std::path::Path;
use std::process::Command;
use std::sync::Mutex;

/// What lets a server tell its plans.
pub const SETTINGS: &str = "-c shared_preload_libraries=auto_explain -c auto_explain.log_min_duration=0 \
                            -c auto_explain.log_nested_statements=on -c max_locks_per_transaction=1024";

/// What connections of the tests' own call themselves: what they ask is not what the service asks.
pub const BY_TESTS: &str = "tests";

/// Parts of each table.
pub const PARTS: u16 = 8;

/// Beginnings of statements that rightly ask all clubs, and when they do.
const OF_ALL: [(&str, &str); 5] = [
    (r#"SELECT "clubs"."id" FROM "clubs""#, "names of all clubs: sweeps, verify, readiness"),
    (r#"SELECT max("sessions"."seen_at")"#, "newest time on record, at the start"),
    (r#"SELECT max("sign_in_attempts"."last_at")"#, "the same"),
    ("SELECT max((SELECT recorded_at FROM trail", "the same"),
    (
        r#"DELETE FROM "sign_in_attempts" WHERE ("sign_in_attempts"."last_at" < "#,
        "attempts are forgotten after a day",
    ),
];

/// What a log has told so far.
#[derive(Default)]
struct Told {
    /// Read up to here.
    read: u64,
    /// Room in the file given back up to here.
    freed: u64,
    /// Plans told, by database.
    plans: BTreeMap<String, usize>,
    /// Statements that looked at more than one part, by database.
    beyond: BTreeMap<String, BTreeSet<String>>,
    entry: Option<Entry>,
}

/// The plan that is being read.
#[derive(Default)]
struct Entry {
    database: String,
    statement: String,
    parts: BTreeSet<String>,
}

static TOLD: Mutex<BTreeMap<String, Told>> = Mutex::new(BTreeMap::new());

/// How many statements a server told of in a database, and those of them that looked at parts of several clubs.
pub fn beyond_a_club(log: &Path, database: &str) -> (usize, Vec<String>) {
    let mut logs = TOLD.lock().unwrap();
    let told = logs.entry(log.display().to_string()).or_default();
    let mut file = BufReader::new(std::fs::File::open(log).unwrap());
    file.seek(SeekFrom::Start(told.read)).unwrap();
    let mut line = Vec::new();
    loop {
        line.clear();
        let count = file.read_until(b'\n', &mut line).unwrap();
        // A line that is still being written is read the next time.
        if count == 0 || line.last() != Some(&b'\n') {
            break;
        }
        told.read += u64::try_from(count).unwrap();
        told.take(String::from_utf8_lossy(&line).trim_end());
    }
    told.end_entry();
    if told.read - told.freed > 64 << 20 {
        // Room in memory that nobody reads any more.
        let length = told.read.to_string();
        let mut free = Command::new("fallocate");
        free.args(["--punch-hole", "--offset", "0", "--length", &length]).arg(log);
        assert!(free.status().unwrap().success());
        told.freed = told.read;
    }
    let beyond = told.beyond.get(database).map(|list| list.iter().cloned().collect()).unwrap_or_default();
    (told.plans.get(database).copied().unwrap_or_default(), beyond)
}

/// Begins anew with a database.
pub fn forget(log: &Path, database: &str) {
    beyond_a_club(log, database);
    if let Some(told) = TOLD.lock().unwrap().get_mut(&log.display().to_string()) {
        told.plans.remove(database);
        told.beyond.remove(database);
    }
}

impl Told {
    fn take(&mut self, line: &str) {
        if let Some(more) = line.strip_prefix('\t') {
            if let Some(entry) = &mut self.entry {
                entry.take(more);
            }
            return;
        }
        self.end_entry();
        if line.ends_with(" plan:") {
            // Day, time, zone, process, database and who asks.
            let from = line.split_whitespace().nth(4).and_then(|from| from.split_once('/'));
            let of_service = from.filter(|(_, who)| *who != BY_TESTS);
            self.entry =
                of_service.map(|(database, _)| Entry { database: database.to_owned(), ..Entry::default() });
        }
    }

    fn end_entry(&mut self) {
        let Some(entry) = self.entry.take() else { return };
        *self.plans.entry(entry.database.clone()).or_default() += 1;
        let is_of_all = OF_ALL.iter().any(|(beginning, _)| entry.statement.starts_with(beginning));
        if entry.parts.len() > 1 && !is_of_all {
            let text = format!("{:?}: {}", entry.parts, entry.statement);
            self.beyond.entry(entry.database).or_default().insert(text);
        }
    }
}

impl Entry {
    fn take(&mut self, line: &str) {
        if let Some(statement) = line.strip_prefix("Query Text: ") {
            self.statement = statement.chars().take(600).collect();
            return;
        }
        // All tables are in parts by the same hash: one club is the same part of each.
        let Some((node, rest)) = line.split_once(" on ").filter(|(node, _)| node.contains("Scan")) else {
            return;
        };
        if node.contains("Bitmap Index Scan") {
            return;
        }
        let table = rest.split_whitespace().next().unwrap_or_default();
        let part = table.rsplit_once("_p").map(|(_, part)| part);
        if let Some(part) = part.filter(|part| part.bytes().all(|byte| byte.is_ascii_digit())) {
            self.parts.insert(part.to_owned());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(lines: &str) -> Told {
        let mut told = Told::default();
        lines.lines().for_each(|line| told.take(line));
        told.end_entry();
        told
    }

    #[test]
    fn parts_are_counted_over_all_tables_of_a_statement() {
        let head = "2026-05-21 08:00:00.000 UTC [17] test_1/ LOG:  duration: 0.1 ms  plan:\n\tQuery Text: SELECT 1\n";
        let scan = |table: &str| {
            format!("\t  ->  Index Scan using a_key on {table} x  (cost=0.1..2 rows=1 width=3)\n")
        };
        let one = told(&format!("{head}{}{}", scan("trail_p3"), scan("clubs_p3")));
        assert_eq!((one.plans["test_1"], one.beyond.len()), (1, 0));
        let two = told(&format!("{head}{}{}", scan("trail_p3"), scan("clubs_p4")));
        assert_eq!(two.beyond["test_1"].len(), 1);
        let seq = told(&format!("{head}\tSeq Scan on trail_p1\n\tSeq Scan on trail_p2\n"));
        assert_eq!(seq.beyond["test_1"].len(), 1);
        let own = told(&format!("{head}{}{}", scan("a_p3"), scan("b_p4")).replace("test_1/", "test_1/tests"));
        assert!(own.plans.is_empty());
        let named = format!("{head}{}{}", scan("clubs_p3"), scan("clubs_p4"));
        let named = told(&named.replace("SELECT 1", OF_ALL[0].0));
        assert!(named.beyond.is_empty());
    }
}
