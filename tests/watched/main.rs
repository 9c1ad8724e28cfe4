//! What the service tells of itself and how it keeps to its limits: numbers, memory, log, health, stop, settings.
//!
//! This program is its own service: called with one of its commands it is `preen-server`, else it starts such children
//! where a process of its own matters. One test after the other, so that memory and times can be measured. A word lets
//! only tests run whose names hold it.

mod health;
mod log;
mod memory;
mod numbers;
mod on_call;
mod process;
mod settings;
mod stop;

use std::process::ExitCode;

use preen_tests::Database;
use preen_tests::runner::{Test, run};

const COMMANDS: [&str; 8] =
    ["serve", "init", "backup", "restore", "import", "migrate", "verify", "backup-key"];

fn tests() -> Vec<Test<'static>> {
    let mut list: Vec<Test<'static>> = vec![
        ("numbers::cost".to_owned(), Box::new(numbers::cost)),
        ("numbers::backups".to_owned(), Box::new(numbers::backups)),
        ("numbers::busy".to_owned(), Box::new(numbers::busy)),
        ("memory::measured".to_owned(), Box::new(memory::measured)),
        ("memory::never_older".to_owned(), Box::new(memory::never_older)),
        ("health::silent".to_owned(), Box::new(health::silent)),
        ("health::stopping".to_owned(), Box::new(health::stopping)),
        ("health::disks".to_owned(), Box::new(health::disks)),
        ("on_call::page_is_so".to_owned(), Box::new(on_call::page_is_so)),
        ("stop::in_flight".to_owned(), Box::new(stop::in_flight)),
        ("settings::named".to_owned(), Box::new(settings::named)),
        ("settings::hush".to_owned(), Box::new(settings::hush)),
        ("settings::every_setting_has_its_row".to_owned(), Box::new(settings::every_setting_has_its_row)),
    ];
    type OnBoth = (&'static str, fn(Database) -> String);
    let on_both: [OnBoth; 8] = [
        ("numbers::moves", numbers::moves),
        ("numbers::bounded", numbers::bounded),
        ("numbers::readers", numbers::readers),
        ("memory::three_clubs", memory::three_clubs),
        ("log::discreet", log::discreet),
        ("health::starting", health::starting),
        ("health::tables", health::tables),
        ("stop::under_load", stop::under_load),
    ];
    for database in [Database::Sqlite, Database::Postgres] {
        for (name, test) in on_both {
            list.push((format!("{name}::{database:?}"), Box::new(move || test(database))));
        }
    }
    list
}

fn main() -> ExitCode {
    let first = std::env::args().nth(1).unwrap_or_default();
    if COMMANDS.contains(&first.as_str()) {
        return preen_api::commands::run();
    }
    run(&tests(), "")
}
