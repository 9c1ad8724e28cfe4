//! The database runs out of room in the midst of its commits, and later there is room again.
//!
//! Everybody may set a limit on the size of files for processes of their own (writing beyond it fails), the server of
//! a database among them; a disk of its own that is really full needs the right to mount one, which root has on most
//! machines. Of PostgreSQL the tables alone run short: where its write-ahead log cannot be written it stops by itself.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use preen_tests::Database;
use preen_tests::cluster::{self, Narrow};
use preen_tests::http::Caller;
use preen_tests::world::scratch;

use crate::load::{Acknowledged, Answer, Said, WRITERS, heavy, write_one};
use crate::{Process, record};

/// How often it fills up.
const ROUNDS: u32 = 3;
/// Bytes that are left when it begins to run short.
const LEFT: u64 = 150_000;
/// Bytes of the disk.
const DISK: u64 = 128 << 20;
/// Writers of large things, beside the others: what the embedded database does not keep in memory until COMMIT.
const HEAVY: usize = 2;

/// What runs short.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shortage {
    /// The size that a file may have.
    FileSize,
    /// The disk.
    Disk,
}

/// Room that can be taken and given back.
enum Room {
    /// By a limit on files of the process.
    Limit(PathBuf),
    /// By a limit on files of the database's server.
    Server(Narrow),
    /// By a file that fills the disk mounted at this folder.
    Disk(PathBuf),
}

impl Room {
    fn take(&self, service: &Process) {
        match self {
            Self::Limit(folder) => {
                let sizes =
                    std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().metadata().unwrap().len());
                limit(service, &format!("{}:", sizes.max().unwrap() + LEFT));
            }
            Self::Server(server) => server.limit(Some(server.largest() + LEFT)),
            Self::Disk(folder) => fill(folder),
        }
    }

    fn give(&self, service: &Process) {
        match self {
            Self::Limit(_) => limit(service, "unlimited:"),
            Self::Server(server) => server.limit(None),
            Self::Disk(folder) => std::fs::remove_file(folder.join("filler")).unwrap(),
        }
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        let folder = match &*self {
            Self::Server(_) => return,
            Self::Limit(folder) => folder,
            Self::Disk(folder) => {
                let _ = Command::new("umount").arg("--lazy").arg(folder).status();
                folder
            }
        };
        let _ = std::fs::remove_dir_all(folder);
    }
}

fn limit(service: &Process, bytes: &str) {
    let done = Command::new("prlimit")
        .args(["--pid", &service.pid().to_string(), &format!("--fsize={bytes}")])
        .status()
        .unwrap();
    assert!(done.success());
}

/// Writes into a file until the disk is full, and takes some of it back.
fn fill(folder: &Path) {
    use std::io::Write as _;
    let mut filler = std::fs::File::create(folder.join("filler")).unwrap();
    let block = [0_u8; 4096];
    let mut length = 0_u64;
    while length < DISK && filler.write_all(&block).is_ok() {
        length += 4096;
    }
    filler.set_len(length.saturating_sub(LEFT)).unwrap();
}

fn mount(folder: &Path) -> bool {
    let done = Command::new("mount")
        .args(["-t", "tmpfs", "-o", &format!("size={DISK}"), "preen-full"])
        .arg(folder)
        .stderr(Stdio::null())
        .status();
    done.is_ok_and(|status| status.success())
}

/// How often a writer got through, and how often there was no room for it.
#[derive(Default)]
struct Count {
    recorded: AtomicU64,
    no_room: AtomicU64,
}

/// What all writers look at.
#[derive(Default)]
struct Signs {
    said: Said,
    is_over: AtomicBool,
    /// Large things are sent while room is short; else only one a round, so that the disk is not full of them.
    is_short: AtomicBool,
    round: AtomicU64,
}

/// Writes until told to stop.
fn write(writer: usize, caller: &Caller, count: &Count, signs: &Signs) {
    while !signs.is_over.load(Ordering::Relaxed) {
        let is_heavy = writer >= WRITERS;
        let is_due = count.recorded.load(Ordering::Relaxed) < signs.round.load(Ordering::Relaxed);
        if is_heavy && !is_due && !signs.is_short.load(Ordering::Relaxed) {
            std::thread::yield_now();
            continue;
        }
        let said = &signs.said;
        let answer = if is_heavy { heavy(caller, said) } else { write_one(writer, caller, said) };
        match answer.expect("the service lives on") {
            Answer::Recorded(_) => count.recorded.fetch_add(1, Ordering::Relaxed),
            Answer::NoRoom => count.no_room.fetch_add(1, Ordering::Relaxed),
        };
    }
}

/// Lets the service run out of room under load some times, then looks at what it has kept.
pub fn fill_and_look(database: Database, shortage: Shortage) -> String {
    let folder = scratch("preen-full");
    let (room, place) = match (database, shortage) {
        (_, Shortage::Disk) if !mount(&folder) => {
            let _ = std::fs::remove_dir_all(folder);
            return "may not mount a disk here: held by the limit on files alone".to_owned();
        }
        (Database::Sqlite, Shortage::Disk) => {
            (Room::Disk(folder.clone()), folder.join("preen.db").display().to_string())
        }
        (Database::Postgres, Shortage::Disk) => {
            (Room::Disk(folder.clone()), cluster::new_database_in(&folder))
        }
        (Database::Sqlite, Shortage::FileSize) => {
            (Room::Limit(folder.clone()), folder.join("preen.db").display().to_string())
        }
        (Database::Postgres, Shortage::FileSize) => {
            let _ = std::fs::remove_dir_all(&folder);
            let server = cluster::new_narrow_database();
            let place = server.url.clone();
            (Room::Server(server), place)
        }
    };
    let (place, token) = record::begin_at(place);
    if let Room::Server(server) = &room {
        // Every change writes there.
        server.make_largest("trail_payloads", "'nobody', number, 0, repeat('0', 32), repeat('x', 600)");
    }
    let mut service = crate::start(&place, &token);
    let heavy = if database == Database::Sqlite { HEAVY } else { 0 };
    let counts: Vec<Count> = (0..WRITERS + heavy).map(|_| Count::default()).collect();
    let signs = Signs::default();
    std::thread::scope(|scope| {
        let writers: Vec<_> = counts
            .iter()
            .enumerate()
            .map(|(writer, count)| {
                let (caller, signs) = (service.caller.clone(), &signs);
                scope.spawn(move || write(writer, &caller, count, signs))
            })
            .collect();
        // Waits until each writer has got further; one that found something wrong has ended and tells of it.
        let until_all = |more: u64, counted: fn(&Count) -> &AtomicU64| {
            let goals: Vec<u64> =
                counts.iter().map(|count| counted(count).load(Ordering::Relaxed) + more).collect();
            let is_there = || {
                counts.iter().zip(&goals).all(|(count, goal)| counted(count).load(Ordering::Relaxed) >= *goal)
            };
            while !is_there() && !writers.iter().any(std::thread::ScopedJoinHandle::is_finished) {
                std::thread::yield_now();
            }
        };
        for _ in 0..ROUNDS {
            signs.round.fetch_add(1, Ordering::Relaxed);
            until_all(1, |count| &count.recorded);
            signs.is_short.store(true, Ordering::Relaxed);
            room.take(&service);
            until_all(5, |count| &count.no_room);
            // Who only asks is answered all the while.
            service.caller.get("/may-fly").expect(200);
            signs.is_short.store(false, Ordering::Relaxed);
            room.give(&service);
        }
        signs.round.fetch_add(100, Ordering::Relaxed);
        until_all(1, |count| &count.recorded);
        signs.is_over.store(true, Ordering::Relaxed);
    });
    let (facts, swaps) = signs.said.into_inner().unwrap();
    let acknowledged = Acknowledged { facts, swaps };
    record::look(&service, &place, &acknowledged);
    service.kill();
    let service = crate::start(&place, &token);
    record::look(&service, &place, &acknowledged);
    drop(service);
    if (database, shortage) == (Database::Postgres, Shortage::Disk) {
        cluster::drop_database_in_folder(&place);
    }
    let refused: u64 = counts.iter().map(|count| count.no_room.load(Ordering::Relaxed)).sum();
    format!("full {ROUNDS} times, {} facts acknowledged, {refused} changes refused", acknowledged.facts.len())
}
