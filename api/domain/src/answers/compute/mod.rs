//! Bench calculators: questions answered from their own numbers alone, without a fleet. The arithmetic is in
//! `formulas`; here are the shapes of question and answer, and which field is at fault when there is none.
//! Ask them through [`answer`], which keeps hostile numbers away.

mod balance;
mod sane;
mod survival;
mod weighing;

pub use balance::{
    BalanceAnswer, BalanceChange, BalanceItem, BalanceQuestion, CgRange, CgRangeStanding, InertiaAnswer,
    MacPlace, TrimAnswer, compute_balance,
};
pub use sane::{LARGEST, MOST_ENTRIES, SMALLEST, answer};
pub use survival::{SurvivalAnswer, SurvivalLife, SurvivalQuestion, compute_survival};
pub use weighing::{
    MassAnswer, WeighedSupport, WeighingAnswer, WeighingQuestion, WeighingTrim, compute_weighing,
};

/// A question without an answer: which field is at fault, as a JSON pointer, and how to mend it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{pointer}: {text}")]
pub struct BadQuestion {
    /// JSON pointer (RFC 6901) to the field, such as `/items/3`.
    pub pointer: String,
    /// One sentence that says what to mend.
    pub text: String,
}

impl BadQuestion {
    fn at(pointer: impl Into<String>, why: &(impl ToString + ?Sized)) -> Self {
        Self { pointer: pointer.into(), text: why.to_string() }
    }

    /// Points at a row that the formulas count from 1.
    fn at_row(list: &str, row: usize, why: &(impl ToString + ?Sized)) -> Self {
        Self::at(format!("{list}/{}", row.saturating_sub(1)), why)
    }
}
