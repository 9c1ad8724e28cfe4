//! `POST /compute/survival`: what lives tell that were typed in or read from a file, group by group and group against
//! group, and what repairs of systems tell. The club's own parts are asked about elsewhere, from the record.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use super::repairs::{RepairsAnswer, WatchedSystem, judge_repairs};
use crate::answers::lifetime::{
    AgeStretch, GroupComparison, GroupLife, LIFE_METHOD, LifeTerms, compare_groups, judge_group, pairs,
};
use crate::formulas::life::kaplan_meier::BoundScale;
use crate::formulas::life::{Life, LifeEnd, LifeError, check_share};

/// At most so many different groups.
const MOST_GROUPS: usize = 50;

/// Lives, and what to make of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SurvivalQuestion {
    /// The lives; none where only `systems` are asked about.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lives: Vec<SurvivalLife>,
    /// Systems that are repaired and go on: asks for the trend of their failures.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub systems: Vec<WatchedSystem>,
    /// What the ages count, for the sentences: `flights` if not given.
    #[serde(default = "flights")]
    pub unit: String,
    /// Two-sided confidence of all bounds; 0.9 if not given, which leaves 5 % beyond each.
    #[serde(default = "nine_tenths")]
    pub confidence: f64,
    /// How bounds of survival are laid; `log_log` if not given.
    #[serde(default)]
    pub bounds: BoundScale,
    /// Ages at which the share still good is asked for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ages: Vec<f64>,
    /// Stretches over which survival is asked for, given that the first age was reached.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stretches: Vec<AgeStretch>,
}

/// One life: exactly one of `failed_at`, `running_at`, or `good_at` with `found_at`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SurvivalLife {
    /// The group it belongs to, such as a batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group: Option<String>,
    /// Age at which it came under watch; 0 for new.
    #[serde(default)]
    pub entered: f64,
    /// Age at which it failed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub failed_at: Option<f64>,
    /// Age at which it was still good, or was taken off for another reason.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running_at: Option<f64>,
    /// Age at which it was last found good, where it was later found failed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub good_at: Option<f64>,
    /// Age at which it was found failed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found_at: Option<f64>,
}

/// What the lives tell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SurvivalAnswer {
    /// Unit of all ages and exposures.
    pub unit: String,
    /// Two-sided confidence of all bounds.
    pub confidence: f64,
    /// Group by group, in the order in which they first appear.
    pub groups: Vec<GroupLife>,
    /// Group against group, each pair once; none for more than six groups.
    pub comparisons: Vec<GroupComparison>,
    /// What the systems tell; absent without any.
    pub repairs: Option<RepairsAnswer>,
    /// How it was computed.
    pub method: String,
}

fn flights() -> String {
    "flights".to_owned()
}

const fn nine_tenths() -> f64 {
    0.9
}

/// Answers a question about lives.
///
/// # Errors
/// A life without an end, or with more than one; ages that cannot be; a confidence not between 0 and 1; too many
/// groups. Each names the field.
///
/// ```
/// use preen_domain::answers::compute::{SurvivalQuestion, compute_survival};
/// let question: SurvivalQuestion = serde_json::from_value(serde_json::json!({
///     "lives": [{"running_at": 110}, {"running_at": 104}], "unit": "flights"
/// }))?;
/// let answer = compute_survival(&question)?;
/// let all = answer.groups.first().ok_or("one group")?;
/// assert_eq!((all.mtbf.mtbf, all.mtbf.low.round()), (None, 71.0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compute_survival(question: &SurvivalQuestion) -> Result<SurvivalAnswer, BadQuestion> {
    check_share(question.confidence).map_err(|why| BadQuestion::at("/confidence", &why))?;
    if question.lives.is_empty() && question.systems.is_empty() {
        return Err(BadQuestion::at("/lives", &LifeError::Empty));
    }
    check_ages(question)?;
    // Each group keeps the places of its lives in the question, so that an error can point at them.
    let mut groups: Vec<(&str, Vec<Life>, Vec<usize>)> = Vec::new();
    for (index, row) in question.lives.iter().enumerate() {
        let name = row.group.as_deref().unwrap_or("all");
        let life = read(row).map_err(|text| BadQuestion::at(format!("/lives/{index}"), text))?;
        let is_full = groups.len() == MOST_GROUPS;
        match groups.iter_mut().find(|(group, ..)| *group == name) {
            Some((_, lives, places)) => {
                lives.push(life);
                places.push(index);
            }
            None if is_full => {
                let text = format!("there are more than {MOST_GROUPS} groups; ask about fewer at once");
                return Err(BadQuestion::at(format!("/lives/{index}/group"), &text));
            }
            None => groups.push((name, vec![life], vec![index])),
        }
    }
    let terms = LifeTerms {
        confidence: question.confidence,
        scale: question.bounds,
        ages: &question.ages,
        stretches: &question.stretches,
        unit: &question.unit,
    };
    let judged = groups
        .iter()
        .map(|(name, lives, places)| {
            let group = judge_group(name, lives, &terms).map_err(|why| bad_life(why, places))?;
            Ok((group, lives.as_slice()))
        })
        .collect::<Result<Vec<_>, BadQuestion>>()?;
    let comparisons = pairs(&judged).map(|(a, b)| compare_groups((&a.0, a.1), (&b.0, b.1))).collect();
    let repairs = match question.systems.as_slice() {
        [] => None,
        systems => Some(judge_repairs(systems, question.confidence, &question.unit)?),
    };
    Ok(SurvivalAnswer {
        repairs,
        unit: question.unit.clone(),
        confidence: question.confidence,
        groups: judged.into_iter().map(|(group, _)| group).collect(),
        comparisons,
        method: LIFE_METHOD.to_owned(),
    })
}

fn check_ages(question: &SurvivalQuestion) -> Result<(), BadQuestion> {
    if let Some(index) = question.ages.iter().position(|age| !(*age > 0.0 && age.is_finite())) {
        return Err(BadQuestion::at(format!("/ages/{index}"), "an age must be a number above 0"));
    }
    let wrong =
        |stretch: &AgeStretch| !(stretch.from >= 0.0 && stretch.to > stretch.from && stretch.to.is_finite());
    match question.stretches.iter().position(wrong) {
        Some(index) => {
            Err(BadQuestion::at(format!("/stretches/{index}"), "`from` must be 0 or more and `to` beyond it"))
        }
        None => Ok(()),
    }
}

fn read(row: &SurvivalLife) -> Result<Life, &'static str> {
    let end = match (row.failed_at, row.running_at, row.good_at, row.found_at) {
        (Some(at), None, None, None) => LifeEnd::Failed { at },
        (None, Some(at), None, None) => LifeEnd::Running { at },
        (None, None, good_at, Some(found_at)) => {
            LifeEnd::FailedBetween { good_at: good_at.unwrap_or(row.entered), found_at }
        }
        (None, None, Some(_), None) => {
            return Err("`good_at` needs `found_at`; a part that is good has `running_at`");
        }
        (None, None, None, None) => {
            return Err("give `failed_at`, `running_at`, or `found_at` with `good_at`");
        }
        _ => return Err("a life has one end: give `failed_at`, `running_at`, or `found_at` with `good_at`"),
    };
    Ok(Life { entered: row.entered, end })
}

fn bad_life(why: LifeError, places: &[usize]) -> BadQuestion {
    let at = |life: usize| places.get(life.saturating_sub(1)).copied().unwrap_or_default();
    match why {
        LifeError::BadAge { life }
        | LifeError::EndNotAfterEntry { life }
        | LifeError::NotAnInterval { life } => {
            let text = match why {
                LifeError::EndNotAfterEntry { .. } => {
                    "ends at the age at which it came under watch, or before; leave it out or mend its ages"
                }
                LifeError::NotAnInterval { .. } => {
                    "must have been found good before it was found failed, and not before it came under watch"
                }
                _ => "holds an age that is negative or no number; check the unit",
            };
            BadQuestion::at(format!("/lives/{}", at(life)), text)
        }
        LifeError::Empty | LifeError::TooMany | LifeError::BadShare => BadQuestion::at("/lives", &why),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn ask(question: Value) -> Result<SurvivalAnswer, BadQuestion> {
        compute_survival(&serde_json::from_value(question).expect("the shape of a question"))
    }

    #[test]
    fn a_question_at_fault_names_its_field() {
        let check = |question: Value, pointer: &str| {
            assert_eq!(
                ask(question.clone()).map_err(|bad| bad.pointer),
                Err(pointer.to_owned()),
                "{question}"
            );
        };
        let good = json!({"failed_at": 5});
        check(json!({"lives": []}), "/lives");
        check(json!({"lives": [good, {}]}), "/lives/1");
        check(json!({"lives": [good, {"failed_at": 3, "running_at": 4}]}), "/lives/1");
        check(json!({"lives": [good, {"good_at": 3}]}), "/lives/1");
        check(json!({"lives": [{"failed_at": 5, "group": "B"}, good, {"failed_at": -3}]}), "/lives/2");
        check(json!({"lives": [good, {"running_at": 3, "entered": 3}]}), "/lives/1");
        check(json!({"lives": [good, {"good_at": 3, "found_at": 3}]}), "/lives/1");
        check(json!({"lives": [good], "confidence": 1}), "/confidence");
        check(json!({"lives": [good], "ages": [1, 0]}), "/ages/1");
        check(json!({"lives": [good], "stretches": [{"from": 5, "to": 5}]}), "/stretches/0");
        let many: Vec<Value> = (0..60).map(|n| json!({"failed_at": 5, "group": n.to_string()})).collect();
        check(json!({"lives": many}), "/lives/50/group");
    }

    #[test]
    fn groups_are_told_and_compared() {
        let lives: Vec<Value> = [(96, 1), (110, 1), (128, 0), (84, 1), (140, 1), (72, 0), (118, 1), (125, 1)]
            .map(|(age, failed)| {
                json!({"group": "B", if failed == 1 { "failed_at" } else { "running_at" }: age})
            })
            .into_iter()
            .chain([json!({"group": "A", "running_at": 900})])
            .collect();
        let asked = json!({"lives": lives, "ages": [100, 200], "stretches": [{"from": 100, "to": 120}]});
        let answer = ask(asked).expect("answered");
        let [b, a] = answer.groups.as_slice() else { panic!("two groups") };
        assert_eq!((b.group.as_str(), b.lives, b.failures, a.failures), ("B", 8, 6, 0));
        let law = b.weibull.as_ref().expect("a law");
        assert!(law.caution.as_deref().is_some_and(|text| text.contains("6 failures")));
        assert_eq!(law.stretches.len(), 1);
        let [at_100, at_200] = b.at_ages.as_slice() else { panic!("two ages") };
        assert!(at_100.survival.is_some_and(|share| (0.6..0.8).contains(&share)) && at_100.weibull.is_some());
        // All have failed by 140, or were not watched beyond: the curve has come down to 0.
        assert_eq!(at_200.survival, Some(0.0));
        let [only] = answer.comparisons.as_slice() else { panic!("one pair") };
        assert!(only.is_shown && only.says.contains("B fails more often"), "{}", only.says);
    }

    #[test]
    fn an_interval_shows_both_ends() {
        let answer =
            ask(json!({"lives": [{"good_at": 40, "found_at": 80}, {"running_at": 90}]})).expect("answered");
        let [all] = answer.groups.as_slice() else { panic!("one group") };
        let first = |curve: &crate::formulas::life::kaplan_meier::SurvivalCurve| {
            curve.steps.first().map(|step| step.at)
        };
        assert_eq!(first(&all.survival), Some(80.0));
        assert_eq!(all.survival_from_last_good.as_ref().and_then(first), Some(40.0));
    }
}
