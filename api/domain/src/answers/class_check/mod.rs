//! Does a model keep the limits of a contest class: as it is fitted, in every permitted combination of interchangeable
//! parts, and with every step of ballast? The limits are data of the class; nothing is called inside before a person
//! has confirmed them.

mod combinations;
mod steps;
mod values;

pub use combinations::{ClassCombination, SeatFilled};
pub use steps::BallastStep;
pub use values::{ClassChecked, ClassRow, as_fitted};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    facts::ClassProfile,
    fleet::Fleet,
    formulas::{
        class_limits::{ClassResult, LimitVerdict, judge_limit, result_of},
        planform::AreaDefinition,
    },
    ids::ModelId,
    time::Instant,
    words::ClassQuantity,
};

/// A model against the limits of a class.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClassCheck {
    /// Tag of the model.
    pub model: String,
    /// Tag of the class.
    pub class: String,
    /// Its name.
    pub title: String,
    /// The edition its limits come from.
    pub edition: String,
    /// Where they were read.
    pub source: String,
    /// Whether a person has compared them with the edition in force.
    pub is_confirmed: bool,
    /// Tag of that person.
    pub confirmed_by: Option<String>,
    /// The day of that comparison.
    pub confirmed_on: Option<NaiveDate>,
    /// Which surfaces make up the area.
    pub area: AreaDefinition,
    /// Measuring tolerance that is allowed on each limit, %.
    pub measuring_tolerance_pct: f64,
    /// What it comes to, over everything that was tried.
    pub result: ClassResult,
    /// In one sentence.
    pub text: String,
    /// The model as it is fitted.
    pub as_fitted: ClassChecked,
    /// Every permitted combination of interchangeable parts, the one fitted first.
    pub combinations: Vec<ClassCombination>,
    /// Whether every combination was tried; else the lightest and heaviest of each seat were.
    pub is_every_combination_tried: bool,
    /// Every step of ballast on the model as it is fitted, lightest first; empty without slugs or cells.
    pub ballast: Vec<BallastStep>,
    /// Combinations with steps of ballast that were tried.
    pub tried: usize,
    /// Those of them that break a limit.
    pub outside: usize,
    /// What it rests on.
    pub assumptions: Vec<String>,
}

/// Tries a model against a class. `None` if the model or its design is not known.
#[must_use]
pub fn class_check(
    fleet: &Fleet,
    model: ModelId,
    class: &ClassProfile,
    as_of: Instant,
) -> Option<ClassCheck> {
    let design = fleet.design_of(model)?;
    let as_fitted = as_fitted(fleet, model, class, as_of);
    let tried = combinations::combinations(fleet, model, class, &as_fitted, as_of);
    let steps = steps::loads(fleet, design);
    let ballast: Vec<BallastStep> = match as_fitted.mass_g.zip(as_fitted.x_mm) {
        Some(base) => steps.iter().map(|load| steps::step(class, &as_fitted, base, load, design)).collect(),
        None => Vec::new(),
    };
    let mut combinations = tried.list;
    let (mut count, mut outside) = (0, 0);
    let mut verdicts: Vec<LimitVerdict> = as_fitted.rows.iter().map(|row| row.verdict).collect();
    for combination in &mut combinations {
        let base = (combination.mass_g, combination.x_mm);
        for load in &steps {
            let step = steps::step(class, &as_fitted, base, load, design);
            count += 1;
            verdicts.push(step.verdict);
            if step.verdict == LimitVerdict::Outside {
                outside += 1;
            } else if step.is_cg_inside {
                combination.heaviest_ballast_g = combination.heaviest_ballast_g.max(step.added_g);
            }
        }
        verdicts.push(combination.verdict);
        if steps.is_empty() {
            count += 1;
            outside += usize::from(combination.verdict == LimitVerdict::Outside);
        }
    }
    let result = result_of(verdicts, class.is_confirmed());
    Some(ClassCheck {
        model: fleet.model_tag(model),
        class: class.tag.to_string(),
        title: class.title.to_string(),
        edition: class.edition.to_string(),
        source: class.source.to_string(),
        is_confirmed: class.is_confirmed(),
        confirmed_by: class.confirmed_by.map(|by| fleet.member_tag(by)),
        confirmed_on: class.confirmed_on,
        area: class.area,
        measuring_tolerance_pct: class.measuring_tolerance_pct,
        result,
        text: said(class, result, &as_fitted, count, outside),
        as_fitted,
        combinations,
        is_every_combination_tried: tried.is_complete,
        ballast,
        tried: count,
        outside,
        assumptions: assumptions(class),
    })
}

/// Mass and loading against their limits.
fn judge_mass(
    class: &ClassProfile,
    area_dm2: Option<f64>,
    mass_g: f64,
) -> (Option<f64>, LimitVerdict, Vec<String>) {
    let loading = area_dm2.filter(|area| *area > 0.0).map(|area| mass_g / area);
    let mut worst = LimitVerdict::Inside;
    let mut broken = Vec::new();
    for (quantity, value) in [(ClassQuantity::Mass, Some(mass_g)), (ClassQuantity::Loading, loading)] {
        let (Some(limit), Some(value)) = (class.limit(quantity), value) else { continue };
        let verdict = judge_limit(value, limit.min, limit.max, class.measuring_tolerance_pct);
        worst = worst.max(verdict);
        if verdict == LimitVerdict::Outside {
            broken.push(values::sentence(quantity, value, limit, verdict));
        }
    }
    (loading, worst, broken)
}

fn said(
    class: &ClassProfile,
    result: ClassResult,
    fitted: &ClassChecked,
    count: usize,
    outside: usize,
) -> String {
    let loading =
        fitted.loading_g_dm2.map(|loading| format!("loading {loading:.2} g/dm²; ")).unwrap_or_default();
    let tried = format!("{loading}{count} combinations and ballast steps tried, {outside} outside");
    match result {
        ClassResult::Inside => format!("inside {}: {tried}", class.tag),
        ClassResult::NotKnown => format!("not all that {} limits is on record: {tried}", class.tag),
        ClassResult::Unconfirmed => format!(
            "nothing is outside {}, but nobody has compared its limits with the edition in force: {tried}",
            class.tag
        ),
        ClassResult::Outside => format!("outside {}: {tried}", class.tag),
    }
}

fn assumptions(class: &ClassProfile) -> Vec<String> {
    let tolerance = if class.measuring_tolerance_pct == 0.0 {
        "no measuring tolerance is used: values are checked against the bare limits".to_owned()
    } else {
        format!(
            "a measuring tolerance of {} % is allowed on each limit, by choice",
            class.measuring_tolerance_pct
        )
    };
    vec![
        tolerance,
        "span and area are those of the design; a reading under the name of a limit takes their place"
            .to_owned(),
        "masses of other combinations are the weighed one, less what comes off, plus what goes on".to_owned(),
        "a full lithium cell is taken as 4.2 V (common practice, no source)".to_owned(),
    ]
}
