//! Benchmarks of the formulas. `inputs` prints the work as JSON, so that other programs can do the very same;
//! `measure [ROUND_MS]` does it and prints what each took and what came out, one JSON line a work; `plan` answers a
//! question about a plan; `readiness [TURNS]` prints what readiness of a contest costs beside the board of the same club.
//! Comparing is the business of `formulas.py` and `plans.py` beside this.

mod formulas;
mod readiness;

use std::hint::black_box;
use std::time::{Duration, Instant};

use formulas::{Work, works};
use preen_domain::answers::compute::{PlanQuestion, compute_plan};

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
        _ => {
            eprintln!("preen-bench inputs | measure [ROUND_MS] | plan < QUESTION | readiness [TURNS]");
            std::process::exit(2);
        }
    }
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
