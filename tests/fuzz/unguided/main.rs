//! The same questions without guidance, a few thousand at each run, and that the seeds themselves are sensible.

use preen_domain::facts::Noun;
use preen_fuzz::{Asked, CALCULATORS, facts, try_formulas, try_readers};
use proptest::prelude::*;

#[test]
fn every_seed_is_answered() {
    for calculator in CALCULATORS {
        for seed in calculator.seeds {
            let question = serde_json::from_str(seed).expect("JSON");
            let asked = calculator.ask(question);
            assert!(matches!(asked, Asked::Answered), "{}: {asked:?} for {seed}", calculator.name);
        }
    }
}

/// A calculator that the service offers and nobody tries here would be left out of the search.
#[test]
fn every_calculator_of_the_service_is_tried() {
    let description = concat!(env!("CARGO_MANIFEST_DIR"), "/../../openapi/openapi.json");
    let text = std::fs::read_to_string(description).expect("the interface description");
    let description: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let offered: Vec<&str> = description["paths"]
        .as_object()
        .expect("paths")
        .keys()
        .filter_map(|path| path.strip_prefix("/api/v1/compute/"))
        .collect();
    assert!(!offered.is_empty());
    for name in offered {
        assert!(CALCULATORS.iter().any(|calculator| calculator.name == name), "no seeds for /compute/{name}");
    }
}

#[test]
fn every_noun_has_a_seed_that_is_read() {
    for noun in Noun::ALL {
        let seed = facts::SEEDS.iter().find(|(of, _)| *of == noun.as_str());
        let (_, seed) = seed.unwrap_or_else(|| panic!("no seed for {noun}"));
        let body: serde_json::Value = serde_json::from_str(seed).expect("JSON");
        if let Err(error) = preen_domain::facts::Fact::from_json(*noun, body.clone()) {
            panic!("{noun}: {error}");
        }
        facts::read(*noun, body);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn odd_questions_break_nothing(bytes in proptest::collection::vec(any::<u8>(), 8..120)) {
        try_formulas(&bytes);
    }

    #[test]
    fn odd_bodies_texts_and_parameters_break_nothing(bytes in proptest::collection::vec(any::<u8>(), 8..240)) {
        try_readers(&bytes);
    }
}
