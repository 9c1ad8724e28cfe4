//! Requests that no honest client sends: slow, endless, malformed, oversized, packed to burst. Against a real service in a
//! process of its own, over bare sockets where a library would not send such things.
//!
//! What holds for each: one clear answer in the interface's own shape, or a closed line where HTTP has no answer; never
//! a 5xx; the process keeps within its memory; the next honest request is answered at once; and the record still holds.
//! This program is its own service and its own `preen`. A word lets only tests run whose names hold it.

mod bodies;
mod books;
mod files;
mod heads;
mod pack;
mod questions;
mod slow;
mod target;
mod wire;

use std::process::ExitCode;

/// What is tried, and what it says of it.
type Test = fn() -> String;

fn main() -> ExitCode {
    let first = std::env::args().nth(1).unwrap_or_default();
    match first.as_str() {
        target::WORD => return target::be_service(),
        books::WORD => return books::be_preen(),
        "import" => return preen_api::commands::run(),
        _ => {}
    }
    let tests: [(&str, Test); 9] = [
        ("slow::heads", slow::heads),
        ("slow::bodies", slow::bodies),
        ("slow::readers", slow::readers),
        ("slow::crowd", slow::crowd),
        ("heads::odd", heads::odd),
        ("bodies::odd", bodies::odd),
        ("questions::odd", questions::odd),
        ("files::odd", files::odd),
        ("books::odd", books::odd),
    ];
    if std::env::args().any(|argument| argument == "--list") {
        tests.iter().for_each(|(name, _)| println!("{name}: test"));
        return ExitCode::SUCCESS;
    }
    let wanted: Vec<_> =
        tests.iter().filter(|(name, _)| first.starts_with('-') || name.contains(&first)).collect();
    println!("\nrunning {} tests", wanted.len());
    for (name, test) in &wanted {
        println!("test {name} ... ok ({})", test());
    }
    println!("\ntest result: ok. {} passed; 0 failed; 0 ignored; 0 measured; 0 filtered out", wanted.len());
    ExitCode::SUCCESS
}
