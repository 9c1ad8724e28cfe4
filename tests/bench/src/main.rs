//! Benchmarks. `marks [NAME…]` measures what DEVELOPERS.md promises of speed and memory and prints the table, `load` sends
//! one request again and again. Of the formulas, beside other programs: `inputs` prints the work as JSON, so that other programs can do the very same;
//! `measure [ROUND_MS]` does it and prints what each took and what came out, one JSON line a work; `plan` answers a
//! question about a plan; `readiness [TURNS]` prints what readiness of a contest costs beside the board of the same club.
//! Comparing is the business of `formulas.py` and `plans.py` beside this.

mod answers;
mod club;
mod fleet;
mod formulas;
mod load;
mod marks;
mod programs;
mod readiness;
mod service;
mod soak;
mod states;
mod swaps;
mod writing;

use std::hint::black_box;
use std::time::{Duration, Instant};

use club::Extent;
use formulas::{Work, works};
use marks::Mark;
use preen_domain::answers::compute::{PlanQuestion, compute_plan};
use programs::Programs;

/// As the service has it.
#[global_allocator]
static ALLOCATOR: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

/// Median time of one repetition over nine rounds, ns.
fn measure(work: &Work, round: Duration) -> f64 {
    // As many repetitions a round as fill it.
    let started = Instant::now();
    black_box((work.run)());
    let once = started.elapsed().max(Duration::from_nanos(50));
    let repetitions = (round.as_nanos() / once.as_nanos()).clamp(1, 1_000_000) as u32;
    let mut rounds: Vec<f64> = (0..9)
        .map(|_| {
            let started = Instant::now();
            for _ in 0..repetitions {
                black_box((work.run)());
            }
            started.elapsed().as_nanos() as f64 / f64::from(repetitions)
        })
        .collect();
    rounds.sort_by(f64::total_cmp);
    rounds[rounds.len() / 2]
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["inputs"] => println!("{}", formulas::inputs()),
        ["measure"] => measure_all(50),
        ["measure", round_ms] => measure_all(round_ms.parse().expect("milliseconds of a round")),
        ["plan"] => plan(),
        ["readiness"] => readiness(9),
        ["readiness", turns] => readiness(turns.parse().expect("a number of turns")),
        ["marks", names @ ..] => print_marks(names),
        ["hold"] => hold(),
        ["soak", seconds, pace] => soak_both(seconds, pace),
        ["load", url, connections, seconds] => load_url(url, connections, seconds, ""),
        ["load", url, connections, seconds, token] => load_url(url, connections, seconds, token),
        _ => {
            eprintln!(
                "preen-bench marks [NAME…] | hold | soak SECONDS PACE | load URL CONNECTIONS SECONDS [TOKEN] | inputs | measure [ROUND_MS] | plan < QUESTION \
                 | readiness [TURNS]"
            );
            std::process::exit(2);
        }
    }
}

/// What a mark of some name is measured by.
type Measure = fn() -> Vec<Mark>;

/// The marks, each with its name.
const MARKS: [(&str, Measure); 10] = [
    ("states", || states::measure(Extent::L, 9)),
    ("answers", || answers::measure(Extent::C, answers::Effort { time: Duration::from_secs(4), rounds: 5 })),
    ("history", || fleet::history(Extent::C, 9)),
    ("audit", || fleet::audit(Extent::C, 3)),
    ("starting", || programs::starting(&beside(), Extent::C, Extent::L, 3)),
    ("flights", || writing::one_by_one(Extent { usage: 100, ..Extent::C }, WRITING)),
    ("outbox", || writing::outbox(Extent { usage: 100, ..Extent::C }, WRITING)),
    ("swaps", || swaps::measure(Extent { usage: 100, ..Extent::L }, 5)),
    ("clubs", || writing::clubs(Extent { models: 30, usage: 100, checks: 2 }, WRITING)),
    ("offline", || programs::offline(&beside(), Extent::C, 7)),
];

/// How much is written for a mark.
const WRITING: writing::Effort =
    writing::Effort { time: Duration::from_secs(6), requests: 200_000, outbox: 10_000, rounds: 3 };

/// The programs beside this one.
fn beside() -> Programs {
    let own = std::env::current_exe().expect("a program has a path");
    Programs::in_folder(own.parent().expect("it lies in a folder"))
}

/// Measures marks, all if none is named, and prints their table.
fn print_marks(names: &[&str]) {
    for name in names {
        assert!(MARKS.iter().any(|(known, _)| known == name), "no mark is named {name}");
    }
    println!("{}", marks::HEAD);
    let wanted = |name: &str| names.is_empty() || names.contains(&name);
    for mark in MARKS.iter().filter(|(name, _)| wanted(name)).flat_map(|(_, measure)| measure()) {
        println!("{}", mark.row());
    }
}

/// Serves a club, says where, and holds it until the input ends.
fn hold() {
    let extent = Extent { usage: 300, ..Extent::C };
    let served = service::Served::start(extent, service::How { workers: None, changes_a_commit: None });
    let file = served.folder().join("preen.db");
    println!("{}", serde_json::json!({ "url": served.running.url(), "token": served.token(), "file": file }));
    let mut rest = String::new();
    std::io::Read::read_to_string(&mut std::io::stdin(), &mut rest).expect("an input that ends");
}

/// Soaks a service on each database, and fails where anything was answered as it should not be.
fn soak_both(seconds: &str, pace: &str) {
    let effort = soak::Effort {
        time: Duration::from_secs_f64(seconds.parse().expect("a number of seconds")),
        pace: pace.parse().expect("requests a second for each service"),
        connections: 8,
        look: Duration::from_secs(60),
    };
    let both = soak::both(&beside(), Extent { models: 300, usage: 300, checks: 4 }, effort);
    for (name, soaked) in &both {
        soak::print(name, soaked);
    }
    if !both.iter().all(|(_, soaked)| soak::is_clean(soaked)) {
        std::process::exit(1);
    }
}

/// Sends one request over some connections for some seconds, and prints the answers a second as JSON.
fn load_url(url: &str, connections: &str, seconds: &str, token: &str) {
    let rest = url.strip_prefix("http://").expect("an http:// address of this machine");
    let (host, path) = rest.split_once('/').unwrap_or((rest, ""));
    let address = host.parse().expect("an address with a port, such as 127.0.0.1:8026");
    let wanted = load::request("GET", &format!("/{path}"), token, &[], None);
    let bounds = load::Bounds {
        connections: connections.parse().expect("a number of connections"),
        time: Duration::from_secs_f64(seconds.parse().expect("a number of seconds")),
        requests: u64::MAX,
    };
    let measured = load::drive(address, bounds, |_| wanted.clone());
    println!(
        "{}",
        serde_json::json!({
            "rate": measured.rate(), "p50_us": measured.quantile(0.5), "p99_us": measured.quantile(0.99),
            "others_than_200": measured.others_than(200),
        })
    );
}

/// Answers one question about a plan, and says how long it took.
fn plan() {
    let question: PlanQuestion = serde_json::from_reader(std::io::stdin()).expect("a question");
    let started = Instant::now();
    let answer = compute_plan(&question).expect("a plan");
    let ms = started.elapsed().as_secs_f64() * 1e3;
    println!("{}", serde_json::json!({ "ms": ms, "answer": answer }));
}

/// Readiness of 60 entries in a club of 300 models with 100 flights each, beside the board of all 300.
fn readiness(turns: usize) {
    let measured = readiness::measure(&readiness::Size { groups: 75, flights: 100, entries: 60 }, turns);
    let (models, entries) = measured.counts;
    println!("| work | ms | ms for each model |\n|---|---|---|");
    for (what, ms, count) in [
        (
            format!("readiness of {entries} entries in a club of {models} models"),
            measured.readiness_ms,
            entries,
        ),
        (format!("may-fly board of all {models} models"), measured.board_ms, models),
    ] {
        println!("| {what} | {ms:.1} | {:.2} |", ms / count as f64);
    }
    let ratio = measured.readiness_ms / measured.board_ms;
    println!("\nreadiness takes {ratio:.1} times the board; it found {} things to clear", measured.findings);
}

fn measure_all(round_ms: u64) {
    for work in works() {
        let ns = measure(&work, Duration::from_millis(round_ms));
        println!("{}", serde_json::json!({ "work": work.name, "ns": ns, "result": (work.run)() }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_work_runs_once_and_gives_numbers() {
        for work in works() {
            assert!(measure(&work, Duration::ZERO) > 0.0);
            let result = (work.run)();
            assert!(!result.is_empty() && result.iter().all(|number| number.is_finite()), "{}", work.name);
        }
    }

    #[test]
    fn the_inputs_are_those_of_the_works() {
        let inputs: serde_json::Value = serde_json::from_str(&formulas::inputs()).unwrap();
        assert_eq!(inputs["parts"].as_array().unwrap().len(), 60);
        assert_eq!(inputs["lives"].as_array().unwrap().len(), 1_000);
        for work in works() {
            assert!(inputs["works"].as_array().unwrap().contains(&work.name.into()));
        }
    }
}
