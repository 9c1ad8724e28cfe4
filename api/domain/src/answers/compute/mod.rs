//! Bench calculators: questions answered from their own numbers alone, without a fleet. The arithmetic is in
//! `formulas`; here are the shapes of question and answer, and which field is at fault when there is none.
//! Ask them through [`answer`], which keeps hostile numbers away.

mod balance;
mod ballast;
mod cover;
mod interval;
mod joiner;
mod linkage;
mod loading;
mod pack;
mod plan;
mod planform;
mod regression;
mod repairs;
mod sane;
mod spares;
mod survival;
mod weighing;
mod wire;

pub use balance::{
    BalanceAnswer, BalanceChange, BalanceItem, BalanceQuestion, CgRange, CgRangeStanding, InertiaAnswer,
    MacPlace, TrimAnswer, compute_balance,
};
pub use ballast::{BallastAnswer, BallastCell, BallastQuestion, BallastSlug, compute_ballast};
pub use cover::{CoverAnswer, CoverQuestion, SheetAnswer, compute_cover};
pub use interval::{
    CountAnswer, CountQuestion, CountedQuestion, DaysAnswer, DaysQuestion, ForecastAnswer, IntervalAnswer,
    IntervalQuestion, compute_interval,
};
pub use joiner::{
    AbrasiveQuestion, BendingAnswer, JoinerAnswer, JoinerQuestion, RockAnswer, RockQuestion, SandingAnswer,
    SandingQuestion, compute_joiner,
};
pub use linkage::{
    CoefficientSource, DeflectionRow, Differential, LinkageAnswer, LinkageQuestion, LoadAnswer, LoadQuestion,
    MeasuredQuestion, MeasuredThrow, OtherSideQuestion, SurfaceQuestion, WantedQuestion, compute_linkage,
};
pub use loading::{BallastLoading, FilledCell, SlugsOfKind};
pub use pack::{
    CapacityAnswer, CapacityQuestion, CarriageAnswer, CarriageQuestion, LaunchQuestion, LaunchesAnswer,
    PackAnswer, PackQuestion, ResistanceQuestion, RestQuestion, SagAnswer, SagQuestion, compute_pack,
};
pub use plan::{
    ChainLink, HelpKind, PlanAnswer, PlanHelp, PlanHold, PlanHours, PlanPerson, PlanPurchase, PlanQuestion,
    PlanStretch, PlanTask, PlanTool, PlannedTask, Weekday, compute_plan,
};
pub use planform::{
    AreaAnswer, PlanformAnswer, PlanformQuestion, StabilityAnswer, TailQuestion, compute_planform,
};
pub use regression::{
    Coefficient, Curve, FittedPlace, RegressionAnswer, RegressionPoint, RegressionQuestion,
    compute_regression,
};
pub use repairs::{RepairTrend, RepairsAnswer, SystemAnswer, WatchedSystem};
pub use sane::{LARGEST, MOST_ENTRIES, SMALLEST, answer};
pub use spares::{SparesAdvice, SparesAnswer, SparesKind, SparesQuestion, compute_spares};
pub(crate) use spares::{advise as advise_spares, told as told_spares};
pub use survival::{SurvivalAnswer, SurvivalLife, SurvivalQuestion, compute_survival};
pub use weighing::{
    BudgetAxis, BudgetLine, BudgetPart, MassAnswer, RepeatedWeighing, TogetherAnswer, WeighedSupport,
    WeighingAnswer, WeighingQuestion, WeighingTrim, compute_weighing,
};
pub use wire::{
    ChooseQuestion, ContactsQuestion, CrimpAnswer, CrimpQuestion, DutySource, LeadAnswer, LeadQuestion,
    SlackAnswer, SlackQuestion, SupplyAnswer, SupplyQuestion, WireAnswer, WireQuestion, compute_wire,
};

use crate::formulas::class::ClassLimits;
use crate::formulas::range::OutOfRange;

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

    /// Points at the field that a formula names first in its error.
    fn at_input(block: &str, why: &OutOfRange) -> Self {
        let field = why.input.split(' ').next().unwrap_or_default();
        Self::at(format!("{block}/{field}"), why)
    }

    /// Points into a list at the first value outside the range that a formula names.
    fn at_value(block: &str, why: &OutOfRange, values: &[f64]) -> Self {
        let bad = Self::at_input(block, why);
        let is_of_list = !why.input.contains(' ');
        let outside = |value: &f64| !(*value >= why.least && *value <= why.most);
        match values.iter().position(outside).filter(|_| is_of_list) {
            Some(index) => Self { pointer: format!("{}/{index}", bad.pointer), ..bad },
            None => bad,
        }
    }

    /// Points at a row that the formulas count from 1.
    fn at_row(list: &str, row: usize, why: &(impl ToString + ?Sized)) -> Self {
        Self::at(format!("{list}/{}", row.saturating_sub(1)), why)
    }
}

impl ClassLimits {
    /// Refuses limits of an asker's own that do not stand in their order.
    fn check(&self, pointer: &str, is_rising: bool) -> Result<(), BadQuestion> {
        if self.is_in_order(is_rising) {
            return Ok(());
        }
        let order = if is_rising { "watch ≤ restrict ≤ ground" } else { "watch ≥ restrict ≥ ground" };
        Err(BadQuestion::at(pointer, &format!("limits stand in the order {order}")))
    }
}
