//! The outbox of the command line: programs that log and send are killed at moments nobody chose. What was kept is on
//! record once when all is sent, and no file of the outbox is ever half.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use preen_tests::Database;
use preen_tests::waiting::rest;
use preen_tests::world::scratch;
use serde_json::Value;

use crate::load::Chance;
use crate::record;

/// The word by which this program becomes the command line.
pub const WORD: &str = "preen";
/// Flights that are logged.
const FLIGHTS: u32 = 150;
/// Kills of each command.
const KILLS: u64 = 15;

/// A machine with a folder of its own.
struct Machine {
    home: PathBuf,
    url: String,
    token: String,
}

impl Machine {
    fn preen(&self, line: &str) -> Command {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command
            .arg(WORD)
            .args(line.split_whitespace())
            .env_clear()
            .env("HOME", &self.home)
            .env("PREEN_URL", &self.url)
            .env("PREEN_TOKEN", &self.token)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        command
    }

    #[track_caller]
    fn done(&self, line: &str) {
        let code = self.preen(line).status().unwrap().code();
        assert_eq!(code, Some(0), "{line}");
    }

    fn killed(&self, line: &str, wait: Duration) {
        let mut child = self.preen(line).spawn().unwrap();
        rest(wait);
        let _ = child.kill();
        child.wait().unwrap();
    }

    /// The ids of what waits; every file must be whole.
    fn waiting(&self) -> Vec<String> {
        let outbox = self.home.join(".local/state/preen/outbox");
        let folder = fs::read_dir(outbox).unwrap().next().unwrap().unwrap().path();
        let whole = |path: &Path| -> String {
            let text = fs::read_to_string(path).unwrap();
            let item: Value = serde_json::from_str(&text).unwrap_or_else(|error| panic!("{error}: {text}"));
            item["fact"]["id"].as_str().unwrap().to_owned()
        };
        let files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        files
            .filter(|path| path.extension().is_some_and(|ending| ending == "json"))
            .map(|path| whole(&path))
            .collect()
    }
}

fn log(number: u32) -> String {
    let (day, hour, minute) = (1 + number / 600, 6 + number % 600 / 60, number % 60);
    format!("log SG-00 0.5 normal --offline --at 2025-05-{day:02}T{hour:02}:{minute:02}:00Z")
}

/// Logging and sending are killed.
pub fn kills(seed: u64) -> String {
    let mut chance = Chance::new(seed);
    let (place, token) = record::begin(Database::Sqlite);
    let service = crate::start(&place, &token);
    let machine = Machine { home: scratch("outbox"), url: service.caller.base().to_owned(), token };
    machine.done("sync --list");
    let begun = Instant::now();
    machine.done(&log(0));
    let one = u64::try_from(begun.elapsed().as_micros()).unwrap().max(1);
    let mut kept = 0;
    for number in 1..FLIGHTS {
        if u64::from(number) <= KILLS {
            machine.killed(&log(number), Duration::from_micros(chance.below(one)));
        } else {
            machine.done(&log(number));
            kept += 1;
        }
    }
    let mut wanted = machine.waiting();
    assert!(wanted.len() > kept, "{} wait, {kept} were kept for certain", wanted.len());
    // Sending is killed again and again; what it left is sent by the next.
    for _ in 0..KILLS {
        machine.killed("sync", Duration::from_micros(chance.below(one * 4)));
        machine.waiting();
    }
    machine.done("sync");
    assert!(machine.waiting().is_empty());
    let feed = service.caller.get("/facts").expect(200).text;
    let mut flights: Vec<String> = feed
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap())
        .filter(|line| line["noun"] == "flights")
        .map(|line| line["fact"]["id"].as_str().unwrap().to_owned())
        .collect();
    flights.sort();
    wanted.sort();
    assert_eq!(flights, wanted, "each is on record once, and nothing else is");
    fs::remove_dir_all(&machine.home).unwrap();
    format!("{KILLS} kills of logging and of sending, {} flights on record once", flights.len())
}
