//! `POST /compute/spares`: how many spares of each kind are enough for a journey, by what is exposed and how often it
//! fails; what stands in stock against it; and what to pack. The chances are in `formulas::life::spares`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use crate::answers::lifetime::short;
use crate::formulas::life::Truncation;
use crate::formulas::life::mtbf::{Mtbf, mtbf};
use crate::formulas::life::spares::{Cover, SparesError, poisson_at_most, spares_needed};

/// The target where none is given.
pub(crate) const USUAL_TARGET: f64 = 0.95;
/// Confidence of each bound of a measured rate.
pub(crate) const SPARES_CONFIDENCE: f64 = 0.95;
/// Most spares that a table lists.
const MOST_LISTED: u32 = 50;

pub(crate) const SPARES_METHOD: &str = "failures expected are exposure over MTBF, summed over all parts of the kind; \
    the chance that so many spares are enough is that of a Poisson count";

/// What is carried where, and how often it fails.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SparesQuestion {
    /// Kind by kind.
    #[schema(min_items = 1, max_items = 100)]
    pub kinds: Vec<SparesKind>,
    /// The chance of being enough that is wanted, for each kind by itself; 0.95 if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(exclusive_minimum = 0.0, maximum = 0.999999)]
    pub target: Option<f64>,
}

/// One kind of spare: with exactly one of `mtbf`, `rate`, or `failures` with `observed`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SparesKind {
    /// What it is.
    #[schema(min_length = 1, max_length = 100)]
    pub kind: String,
    /// What all parts of the kind will go through together: 10 servos of 10 flights each are 100.
    #[schema(minimum = 0.0)]
    pub exposure: f64,
    /// Mean exposure between failures.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(exclusive_minimum = 0.0)]
    pub mtbf: Option<f64>,
    /// Failures for each unit of exposure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0.0)]
    pub rate: Option<f64>,
    /// Failures on record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1_000_000)]
    pub failures: Option<u32>,
    /// The exposure in which they were seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(exclusive_minimum = 0.0)]
    pub observed: Option<f64>,
    /// Spares at hand that may be used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1_000_000)]
    pub in_stock: Option<u32>,
    /// What a spare has to match, such as a batch that is allowed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub match_needed: Option<String>,
    /// A spare is of use only if it was fitted and measured at home, as a joiner in its sockets.
    #[serde(default)]
    pub is_fitted_before: bool,
}

/// What to take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SparesAnswer {
    /// The chance that was wanted for each kind.
    pub target: f64,
    /// Kind by kind, as asked.
    pub kinds: Vec<SparesAdvice>,
    /// The chance that what is taken is enough of every kind, were they to fail independently.
    pub enough_of_all: f64,
    /// What to pack, line by line.
    pub packing: Vec<String>,
    /// What it rests on, in words.
    pub assumptions: Vec<String>,
    /// How it was computed.
    pub method: String,
}

/// What to take of one kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SparesAdvice {
    /// What it is.
    pub kind: String,
    /// The exposure.
    pub exposure: f64,
    /// Failures to be expected.
    pub mean: f64,
    /// The same if parts fail as often as what is on record still allows; null for a rate that was given.
    pub mean_at_bound: Option<f64>,
    /// The MTBF of the record, with its bounds.
    pub measured: Option<Mtbf>,
    /// The chance that so many spares are enough, from none to one more than needed.
    pub cover: Vec<Cover>,
    /// The fewest that reach the target.
    pub needed: u32,
    /// The fewest that reach it at the bound of the rate.
    pub needed_at_bound: Option<u32>,
    /// How many to take: the need by the estimate, or by the bound where nothing ever failed.
    pub to_take: u32,
    /// Spares at hand.
    pub in_stock: Option<u32>,
    /// How many are missing.
    pub short: Option<u32>,
    /// The chance that what can be taken is enough.
    pub enough_with_stock: f64,
    /// What a spare has to match.
    pub match_needed: Option<String>,
    /// Whether a spare has to be fitted and measured at home.
    pub is_fitted_before: bool,
    /// The same in one sentence.
    pub says: String,
}

/// Answers a question about spares.
///
/// # Errors
/// No kinds; a kind without a rate or with several; numbers that cannot be. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{SparesQuestion, compute_spares};
/// let question: SparesQuestion = serde_json::from_value(serde_json::json!({
///     "kinds": [{"kind": "flap servo", "exposure": 100, "mtbf": 209.5, "in_stock": 1}]
/// }))?;
/// let answer = compute_spares(&question)?;
/// let servos = answer.kinds.first().ok_or("one kind")?;
/// assert_eq!((servos.needed, servos.short), (2, Some(1)));
/// assert_eq!(format!("{:.3}", servos.enough_with_stock), "0.917");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_spares(question: &SparesQuestion) -> Result<SparesAnswer, BadQuestion> {
    let target = question.target.unwrap_or(USUAL_TARGET);
    if !(1..=100).contains(&question.kinds.len()) {
        return Err(BadQuestion::at("/kinds", "give 1 to 100 kinds of spares"));
    }
    let kinds = question
        .kinds
        .iter()
        .enumerate()
        .map(|(index, kind)| advise(kind, target).map_err(|(field, why)| bad(index, field, &why)))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(told(kinds, target))
}

fn bad(index: usize, field: &str, why: &str) -> BadQuestion {
    if field == "target" {
        return BadQuestion::at("/target", why);
    }
    let pointer =
        if field.is_empty() { format!("/kinds/{index}") } else { format!("/kinds/{index}/{field}") };
    BadQuestion::at(pointer, why)
}

/// Puts the advice on all kinds together.
pub(crate) fn told(kinds: Vec<SparesAdvice>, target: f64) -> SparesAnswer {
    let mut assumptions = vec![
        format!(
            "The target of {:.4} % holds for each kind by itself; all kinds together are enough less often.",
            100.0 * target
        )
        .replace(".0000 %", " %"),
        "Failures come one by one, independently, at a constant rate: wear that grows with age, and a landing that \
         breaks several parts at once, are not in it."
            .to_owned(),
    ];
    if kinds.iter().any(|kind| kind.measured.is_some()) {
        assumptions.push(format!(
            "Measured rates carry their uncertainty: the bound is the highest rate that the record still allows \
             ({:.0} %, one-sided).",
            100.0 * SPARES_CONFIDENCE
        ));
    }
    if kinds.iter().any(|kind| kind.measured.as_ref().is_some_and(|measured| measured.mtbf.is_none())) {
        assumptions.push(
            "Where nothing ever failed the need is that of the bound: no failure in a short use proves little."
                .to_owned(),
        );
    }
    SparesAnswer {
        target,
        enough_of_all: kinds.iter().map(|kind| kind.enough_with_stock).product(),
        packing: kinds.iter().flat_map(packing).collect(),
        kinds,
        assumptions,
        method: SPARES_METHOD.to_owned(),
    }
}

/// What to take of one kind, or which field is at fault and why.
pub(crate) fn advise(kind: &SparesKind, target: f64) -> Result<SparesAdvice, (&'static str, String)> {
    if kind.kind.is_empty() {
        return Err(("kind", "say what it is".to_owned()));
    }
    if !(kind.exposure >= 0.0 && kind.exposure.is_finite()) {
        return Err(("exposure", "must be 0 or more: the use of all parts of the kind together".to_owned()));
    }
    let positive = |value: f64, field: &'static str| {
        if value > 0.0 && value.is_finite() { Ok(value) } else { Err((field, "must be above 0".to_owned())) }
    };
    let (mean, measured) = match (kind.mtbf, kind.rate, kind.failures, kind.observed) {
        (Some(mtbf), None, None, None) => (kind.exposure / positive(mtbf, "mtbf")?, None),
        (None, Some(rate), None, None) if rate >= 0.0 && rate.is_finite() => (kind.exposure * rate, None),
        (None, Some(_), None, None) => return Err(("rate", "must be 0 or more".to_owned())),
        (None, None, Some(failures), Some(observed)) => {
            let two_sided = 2.0 * SPARES_CONFIDENCE - 1.0;
            let measured = mtbf(positive(observed, "observed")?, failures, two_sided, Truncation::Time)
                .map_err(|why| ("observed", why.to_string()))?;
            (measured.mtbf.map_or(0.0, |mean| kind.exposure / mean), Some(measured))
        }
        (None, None, None, None) => {
            return Err(("", "give `mtbf`, `rate`, or `failures` with `observed`".to_owned()));
        }
        (None, None, _, _) => return Err(("observed", "`failures` and `observed` go together".to_owned())),
        _ => return Err(("", "give one of `mtbf`, `rate`, or `failures` with `observed`".to_owned())),
    };
    let refuse = |why: SparesError| {
        (if why == SparesError::BadTarget { "target" } else { "exposure" }, why.to_string())
    };
    let need = spares_needed(mean, target).map_err(refuse)?;
    let mean_at_bound = measured.map(|measured| kind.exposure / measured.low);
    let at_bound = mean_at_bound.map(|mean| spares_needed(mean, target)).transpose().map_err(refuse)?;
    let is_never_failed = measured.is_some_and(|measured| measured.mtbf.is_none());
    let counted = at_bound.as_ref().filter(|_| is_never_failed).unwrap_or(&need);
    let mut cover = counted.cover.clone();
    let from = cover.len().saturating_sub(usize::try_from(MOST_LISTED).unwrap_or_default());
    cover.drain(..from);
    let chance = |spares: u32| poisson_at_most(spares, counted.mean).map_err(refuse);
    let one_more = counted.needed.saturating_add(1);
    cover.push(Cover { spares: one_more, probability: chance(one_more)? });
    let to_take = counted.needed;
    let short = kind.in_stock.map(|stock| to_take.saturating_sub(stock));
    let taken = to_take - short.unwrap_or_default();
    let mut advice = SparesAdvice {
        kind: kind.kind.clone(),
        exposure: kind.exposure,
        mean: counted.mean,
        mean_at_bound,
        measured,
        cover,
        needed: need.needed,
        needed_at_bound: at_bound.as_ref().map(|need| need.needed),
        to_take,
        in_stock: kind.in_stock,
        short,
        enough_with_stock: chance(taken)?,
        match_needed: kind.match_needed.clone(),
        is_fitted_before: kind.is_fitted_before,
        says: String::new(),
    };
    advice.says = say(&advice);
    Ok(advice)
}

fn say(advice: &SparesAdvice) -> String {
    let is_never_failed = advice.measured.is_some_and(|measured| measured.mtbf.is_none());
    let why = if is_never_failed { ", by the bound: nothing has failed yet" } else { "" };
    let bound = match advice.needed_at_bound {
        Some(needed) if needed > advice.to_take => format!("; up to {needed} by the bound of the rate"),
        _ => String::new(),
    };
    let stock = match (advice.in_stock, advice.short) {
        (Some(stock), Some(0)) => format!("; {stock} at hand"),
        (Some(stock), Some(short)) => format!("; {stock} at hand, {short} short"),
        _ => String::new(),
    };
    format!(
        "{}: {} expected to fail{why}; take {} ({:.1} % sure of being enough with what there is){bound}{stock}",
        advice.kind,
        short(advice.mean),
        advice.to_take,
        100.0 * advice.enough_with_stock
    )
}

fn packing(advice: &SparesAdvice) -> Option<String> {
    if advice.to_take == 0 {
        return None;
    }
    let matched = advice.match_needed.as_ref().map(|what| format!(", {what}")).unwrap_or_default();
    let fitted =
        if advice.is_fitted_before { ", fitted and measured at home before the journey" } else { "" };
    let short = match advice.short {
        Some(short) if short > 0 => format!("; get {short} more"),
        _ => String::new(),
    };
    Some(format!("{} × {}{matched}{fitted}{short}", advice.to_take, advice.kind))
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(question: Value) -> Result<SparesAnswer, BadQuestion> {
        compute_spares(&serde_json::from_value(question).expect("the shape of a question"))
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |kind: Value, pointer: &str| {
            let refused = ask(json!({"kinds": [kind]})).expect_err("nothing to say");
            assert_eq!(refused.pointer, pointer, "{kind}: {refused}");
        };
        check(json!({"kind": "servo", "exposure": 5}), "/kinds/0");
        check(json!({"kind": "servo", "exposure": 5, "mtbf": 5, "rate": 0.2}), "/kinds/0");
        check(json!({"kind": "servo", "exposure": -5, "mtbf": 5}), "/kinds/0/exposure");
        check(json!({"kind": "servo", "exposure": 5, "mtbf": 0}), "/kinds/0/mtbf");
        check(json!({"kind": "servo", "exposure": 5, "rate": -1}), "/kinds/0/rate");
        check(json!({"kind": "servo", "exposure": 5, "failures": 1}), "/kinds/0/observed");
        check(json!({"kind": "servo", "exposure": 5, "failures": 1, "observed": 0}), "/kinds/0/observed");
        check(json!({"kind": "servo", "exposure": 1e9, "rate": 1}), "/kinds/0/exposure");
        check(json!({"kind": "", "exposure": 5, "mtbf": 5}), "/kinds/0/kind");
        assert_eq!(ask(json!({"kinds": []})).expect_err("none").pointer, "/kinds");
        let beyond = json!({"kinds": [{"kind": "servo", "exposure": 5, "mtbf": 5}], "target": 1});
        assert_eq!(ask(beyond).expect_err("never sure").pointer, "/target");
    }

    #[test]
    fn what_never_failed_is_taken_by_its_bound() {
        let answer =
            ask(json!({"kinds": [{"kind": "altimeter", "exposure": 60, "failures": 0, "observed": 214,
            "in_stock": 0}]}))
            .expect("answered");
        let [one] = answer.kinds.as_slice() else { panic!("one kind") };
        // 214 over ln 20 is 71.4: 60 of it make 0.84 failures.
        assert_eq!((one.needed, one.needed_at_bound, one.to_take, one.short), (0, Some(3), 3, Some(3)));
        assert_eq!(format!("{:.2}", one.mean), "0.84");
        assert!(one.says.contains("nothing has failed yet"), "{}", one.says);
        assert_eq!(answer.packing, ["3 × altimeter; get 3 more"]);
    }
}
