//! Runs the tests of a program that brings its own `main`: one after the other, each for itself, told in the words of the
//! usual runner.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;
use std::time::Instant;

/// A test: its name, and what does it and tells in a few words what was measured.
pub type Test<'a> = (String, Box<dyn Fn() -> String + 'a>);

/// Runs those whose names hold a word that was given, or all; `--list` only tells their names. `note` stands beside how
/// many there are.
pub fn run(tests: &[Test<'_>], note: &str) -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if arguments.iter().any(|one| one == "--list") {
        tests.iter().for_each(|(name, _)| println!("{name}: test"));
        return ExitCode::SUCCESS;
    }
    let words: Vec<&String> = arguments.iter().filter(|one| !one.starts_with('-')).collect();
    let is_wanted = |name: &str| words.is_empty() || words.iter().any(|word| name.contains(word.as_str()));
    let wanted: Vec<_> = tests.iter().filter(|(name, _)| is_wanted(name)).collect();
    println!("\nrunning {} tests{note}", wanted.len());
    let mut failed = 0;
    for (name, test) in &wanted {
        let began = Instant::now();
        let outcome = catch_unwind(AssertUnwindSafe(test));
        failed += usize::from(outcome.is_err());
        let word = if outcome.is_ok() { "ok" } else { "FAILED" };
        let told =
            outcome.ok().filter(|told| !told.is_empty()).map(|told| format!("{told}; ")).unwrap_or_default();
        println!("test {name} ... {word} ({told}{:.1} s)", began.elapsed().as_secs_f64());
    }
    let word = if failed == 0 { "ok" } else { "FAILED" };
    println!(
        "\ntest result: {word}. {} passed; {failed} failed; 0 ignored; 0 measured; {} filtered out",
        wanted.len() - failed,
        tests.len() - wanted.len()
    );
    if failed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
