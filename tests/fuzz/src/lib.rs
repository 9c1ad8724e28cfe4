//! Takes bytes, makes of them a question that is almost a sensible one, asks it, and holds the answer to what every
//! bench calculator promises: it ends, it does not panic, it gives finite numbers only, and what it refuses it refuses
//! in words that name a field. So do [`facts`] (bodies of every noun), [`texts`] (moments, tags, words) and [`questions`]
//! (parameters); what needs the service or the command line is tried in `tests/doors`. The seeds, one folder a calculator, are sensible questions; `twist` makes them odd.

pub mod facts;
mod finite;
pub mod questions;
pub mod texts;
mod twist;

use arbitrary::Unstructured;
use preen_domain::answers::compute::{self, BadQuestion};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

pub use twist::twisted;

/// A calculator by its name in the path, its seeds, and how it is asked.
pub struct Calculator {
    /// Last segment of its path.
    pub name: &'static str,
    /// Sensible questions, as JSON.
    pub seeds: &'static [&'static str],
    ask: fn(Value) -> Asked,
}

/// What became of a question.
#[derive(Debug)]
pub enum Asked {
    /// Not of the shape of a question.
    Misshapen,
    /// Refused, with pointer and sentence.
    Refused(BadQuestion),
    /// Answered.
    Answered,
}

impl Calculator {
    /// Asks, and checks the answer.
    ///
    /// # Panics
    /// Where the calculator breaks a promise.
    pub fn ask(&self, question: Value) -> Asked {
        (self.ask)(question)
    }
}

fn ask<Q: DeserializeOwned + Serialize, A: Serialize>(
    json: Value,
    by: impl FnOnce(&Q) -> Result<A, BadQuestion>,
) -> Asked {
    let Ok(question) = serde_json::from_value::<Q>(json) else { return Asked::Misshapen };
    match compute::answer(&question, by) {
        Ok(answer) => {
            if let Some(place) = finite::first_odd_number(&answer) {
                let question = serde_json::to_string(&question).unwrap_or_default();
                panic!("{place} is not finite in the answer to {question}");
            }
            Asked::Answered
        }
        Err(bad) => {
            assert!(bad.pointer.is_empty() || bad.pointer.starts_with('/'), "{bad:?} points nowhere");
            assert!(bad.text.len() > 10, "{bad:?} says nothing");
            Asked::Refused(bad)
        }
    }
}

macro_rules! calculators {
    ($($name:literal $question:ident by $compute:ident from [$($seed:literal),+];)+) => {
        /// Every bench calculator.
        pub const CALCULATORS: &[Calculator] = &[$(Calculator {
            name: $name,
            seeds: &[$(include_str!(concat!("../seeds/", $name, "/", $seed, ".json"))),+],
            ask: |json| ask::<compute::$question, _>(json, compute::$compute),
        }),+];
    };
}

calculators! {
    "balance" BalanceQuestion by compute_balance from ["list", "swap"];
    "ballast" BallastQuestion by compute_ballast from ["tube", "wings"];
    "cover" CoverQuestion by compute_cover from ["swing", "swept"];
    "linkage" LinkageQuestion by compute_linkage from ["table", "sides", "sizes", "fit", "no_height"];
    "regression" RegressionQuestion by compute_regression from ["joiner", "polynomial", "through_origin"];
    "interval" IntervalQuestion by compute_interval from ["both"];
    "plan" PlanQuestion by compute_plan from ["contest", "people"];
    "planform" PlanformQuestion by compute_planform from ["model"];
    "spares" SparesQuestion by compute_spares from ["contest"];
    "survival" SurvivalQuestion by compute_survival from ["one_group", "two_groups", "repairs"];
    "weighing" WeighingQuestion by compute_weighing from ["three_supports", "against_a_list", "together"];
    "wire" WireQuestion by compute_wire from ["lead_and_choice", "supply_and_contacts"];
    "joiner" JoinerQuestion by compute_joiner from ["tip", "tube"];
    "pack" PackQuestion by compute_pack from ["three_cells", "single_cell"];
}

/// Asks one question made from these bytes.
///
/// # Panics
/// Where a calculator breaks a promise.
pub fn try_formulas(bytes: &[u8]) {
    let mut bytes = Unstructured::new(bytes);
    let Ok(calculator) = bytes.choose(CALCULATORS) else { return };
    let Ok(seed) = bytes.choose(calculator.seeds) else { return };
    let Ok(seed) = serde_json::from_str::<Value>(seed) else { return };
    calculator.ask(twisted(seed, &mut bytes));
}

/// Reads something made from these bytes, by one of the readers of the domain.
///
/// # Panics
/// Where a reader breaks a promise.
pub fn try_readers(bytes: &[u8]) {
    let mut bytes = Unstructured::new(bytes);
    match bytes.int_in_range(0..=3_u8).unwrap_or(0) {
        0 => facts::try_facts(&mut bytes),
        1 => questions::try_questions(&mut bytes),
        2 => texts::try_text(&texts::odd_text(&mut bytes)),
        _ => facts::try_json(bytes.take_rest()),
    }
}
