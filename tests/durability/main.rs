//! The service is killed again and again while it takes in facts, at moments nobody chose, and started anew on
//! what it left. Every acknowledged fact must be there, no exchange of parts half, and trail and Fleet hold.
//!
//! This program is its own service: called with one of its commands it is `preen-server`, else it kills such children.
//! Then it runs out of room under load, again and again, and must go on by itself when there is room again. Two of it
//! on one PostgreSQL database know the same of who may come in, and three of it answer the same while they write. A word lets only tests run whose names hold it.
//! `PREEN_KILLS` sets the kills for each database (8 if unset); `PREEN_SEED` repeats a run.

mod clubs;
mod driver;
mod full;
mod keeping;
mod load;
mod outbox;
mod processes;
mod record;
mod replica;
mod server;

use std::path::PathBuf;
use std::process::{Command, ExitCode};

use preen_tests::Database;
use preen_tests::command_line::be_preen;
use preen_tests::process::Process;
use preen_tests::runner::{Test, run};

/// Kills for each database, if nothing is said.
const KILLS: u32 = 8;

fn main() -> ExitCode {
    let first = std::env::args().nth(1).unwrap_or_default();
    let commands = ["serve", "backup", "restore", "import", "migrate", "verify"];
    if commands.contains(&first.as_str()) {
        return preen_api::commands::run();
    }
    if first == outbox::WORD {
        return be_preen();
    }
    let setting =
        |name: &str| std::env::var_os(name).map(|value| value.to_str().unwrap().parse::<u64>().unwrap());
    let kills = setting("PREEN_KILLS").map_or(KILLS, |kills| u32::try_from(kills).unwrap());
    let seed = setting("PREEN_SEED").unwrap_or_else(|| u64::from(std::process::id()));
    let tests =
        tests().into_iter().map(|(name, test)| -> Test<'_> { (name, Box::new(move || test(kills, seed))) });
    run(&tests.collect::<Vec<_>>(), &format!(" (seed {seed})"))
}

/// Something that must hold, told in a few words: with so many kills, and chance from a seed.
type Chanced = Box<dyn Fn(u32, u64) -> String>;

/// All of them, by name.
fn tests() -> Vec<(String, Chanced)> {
    let mut list: Vec<(String, Chanced)> = vec![
        (
            "processes::know_the_same".to_owned(),
            Box::new(|_, _| {
                processes::know_the_same();
                "two processes".to_owned()
            }),
        ),
        ("clubs::never_wait_for_each_other".to_owned(), Box::new(|_, _| clubs::never_wait_for_each_other())),
        ("replica::lag".to_owned(), Box::new(|_, _| replica::tells_its_lag())),
        ("replica::takes_over".to_owned(), Box::new(|_, _| replica::takes_over())),
        ("replica::lacked_commits".to_owned(), Box::new(|_, _| replica::lacked_commits())),
        ("keeping::kills".to_owned(), Box::new(|_, seed| keeping::kills(seed))),
        ("outbox::kills".to_owned(), Box::new(|_, seed| outbox::kills(seed))),
        ("keeping::disks".to_owned(), Box::new(|_, seed| keeping::disks(seed))),
        ("keeping::power_cut".to_owned(), Box::new(|_, seed| keeping::power_cut(seed))),
        ("server::breaks_down".to_owned(), Box::new(|_, _| server::break_down_and_look())),
    ];
    // One process on a file, three on a server.
    for (database, processes) in [(Database::Sqlite, 1), (Database::Postgres, 3)] {
        list.push((
            format!("driver::{database:?}"),
            Box::new(move |kills, seed| driver::drive(database, processes, 3 * kills, seed)),
        ));
    }
    for database in [Database::Sqlite, Database::Postgres] {
        list.push((
            format!("kills::{database:?}"),
            Box::new(move |kills, seed| kill_and_look(database, kills, seed)),
        ));
    }
    for database in [Database::Sqlite, Database::Postgres] {
        for shortage in [full::Shortage::FileSize, full::Shortage::Disk] {
            let name = format!("full::{database:?}::{shortage:?}");
            list.push((name, Box::new(move |_, _| full::fill_and_look(database, shortage))));
        }
    }
    list
}

/// Where pictures are kept is to be said where the records are on a server.
fn photos_of(database: &str) -> Option<(&'static str, PathBuf)> {
    let folder = std::env::temp_dir().join(format!("preen-durability-{}", std::process::id()));
    database.contains("://").then_some(("PREEN_PHOTOS", folder))
}

/// The log stays out of what tests print, unless somebody wants it.
fn quiet() -> Option<(&'static str, &'static str)> {
    let is_wanted = std::env::vars_os().any(|(name, _)| name == "PREEN_LOG");
    (!is_wanted).then_some(("PREEN_LOG", "off"))
}

/// Starts a service of its own on a database; its client shows this token.
fn start(database: &str, token: &str) -> Process {
    start_with(database, token, &[])
}

/// The same with more settings.
fn start_with(database: &str, token: &str, settings: &[(&str, &str)]) -> Process {
    // A file that grows beyond a limit must be an error of writing, not the end of the service.
    let mut command = Command::new("sh");
    command
        .args(["-c", "trap '' XFSZ; exec \"$0\" \"$@\""])
        .arg(std::env::current_exe().unwrap())
        .args(["serve", "--listen", "127.0.0.1:0", "--database", database])
        .envs(photos_of(database))
        .envs(quiet())
        .envs(settings.iter().copied());
    Process::start(command, token)
}

fn kill_and_look(database: Database, kills: u32, seed: u64) -> String {
    let (place, token) = record::begin(database);
    let mut chance = load::Chance::new(seed);
    let mut acknowledged = load::Acknowledged::default();
    for _ in 0..kills {
        let mut service = start(&place, &token);
        load::until_killed(&mut service, &mut chance, &mut acknowledged);
        record::look(&start(&place, &token), &place, &acknowledged);
    }
    if let (Database::Sqlite, Some(folder)) = (database, std::path::Path::new(&place).parent()) {
        std::fs::remove_dir_all(folder).unwrap();
    }
    format!(
        "{kills} kills, {} facts and {} exchanges acknowledged",
        acknowledged.facts.len(),
        acknowledged.swaps.len()
    )
}
