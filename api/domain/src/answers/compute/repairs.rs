//! Repairs of systems over their age, as part of `POST /compute/survival`: of each the power law and the three tests of a
//! trend, of all together the mean cumulative function. Lives that end with one failure are in `survival`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::BadQuestion;
use crate::formulas::life::mean_cumulative::{MeanCumulative, RepairedSystem, mean_cumulative};
use crate::formulas::life::power_law::{CurrentMtbf, PowerLaw, PowerLawError, fit_power_law};
use crate::formulas::life::repair_trend::{
    HandbookTest, LaplaceTest, ReverseArrangement, handbook_test, laplace_test, reverse_arrangement,
};
use crate::formulas::life::{LifeError, Truncation};

/// At most so many systems.
const MOST_SYSTEMS: usize = 200;
/// A trend counts as shown by a test below this chance on its side.
const SHOWN_BELOW: f64 = 0.05;
/// Fewer failures than this show no trend, whatever the tests say: as for lines of wear. Common practice, no source.
const FEWEST_FAILURES: usize = 4;

const METHOD: &str = "power law by maximum likelihood, its exponent without bias (MIL-HDBK-189); Laplace's, the \
                      handbook's and the reverse-arrangement test, each on one side at 5 %; mean cumulative function \
                      with the variance between systems (Nelson; Lawless & Nadeau)";

/// One system that is repaired and goes on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WatchedSystem {
    /// Its name, such as a model's tag.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub system: Option<String>,
    /// Ages at its failures, each repaired, in order.
    pub repaired_at: Vec<f64>,
    /// Age until which it was watched, from 0.
    pub watched_until: f64,
    /// How its watch ended: at a `time` (now, say), or at the last `failure`, which then counts less.
    #[serde(default = "at_a_time")]
    pub ended: Truncation,
}

const fn at_a_time() -> Truncation {
    Truncation::Time
}

/// What the repairs tell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RepairsAnswer {
    /// System by system, in the order of the question.
    pub systems: Vec<SystemAnswer>,
    /// Repairs per system by age, over all of them.
    pub mean: Vec<MeanCumulative>,
    /// How it was computed.
    pub method: String,
}

/// Which way the failures of a system go.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RepairTrend {
    /// They come farther apart.
    Improving,
    /// They come closer together.
    Worsening,
    /// Neither is shown.
    NotShown,
}

/// One system.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SystemAnswer {
    /// Its name, or its number from 1.
    pub system: String,
    /// Failures.
    pub failures: usize,
    /// Age until which it was watched.
    pub watched_until: f64,
    /// Which way it goes, by the handbook's test, which is the strongest against a power law.
    pub trend: RepairTrend,
    /// How many of the three tests show that trend; 0 where none is shown.
    pub tests_for_it: usize,
    /// Laplace's test.
    pub laplace: Option<LaplaceTest>,
    /// The handbook's test.
    pub handbook: Option<HandbookTest>,
    /// The reverse-arrangement test.
    pub arrangement: Option<ReverseArrangement>,
    /// The law.
    pub law: Option<PowerLaw>,
    /// MTBF at the end of the watch by it.
    pub now: Option<CurrentMtbf>,
    /// The same in a sentence, without its full stop.
    pub says: String,
}

/// What repairs of systems tell.
///
/// # Errors
/// No systems or too many; a system whose ages are not in order or lie beyond its watch. Each names the field.
pub(super) fn judge_repairs(
    systems: &[WatchedSystem],
    confidence: f64,
    unit: &str,
) -> Result<RepairsAnswer, BadQuestion> {
    if systems.len() > MOST_SYSTEMS {
        let text = format!("there are more than {MOST_SYSTEMS} systems; ask about fewer at once");
        return Err(BadQuestion::at("/systems", &text));
    }
    let judged = systems
        .iter()
        .enumerate()
        .map(|(index, system)| judge(index, system, confidence, unit))
        .collect::<Result<_, _>>()?;
    let repaired: Vec<RepairedSystem> = systems
        .iter()
        .map(|system| RepairedSystem {
            repaired_at: system.repaired_at.clone(),
            watched_until: system.watched_until,
        })
        .collect();
    let mean = mean_cumulative(&repaired, confidence).map_err(|why| match why {
        LifeError::BadAge { life }
        | LifeError::EndNotAfterEntry { life }
        | LifeError::NotAnInterval { life } => BadQuestion::at_row("/systems", life, &why),
        LifeError::BadShare => BadQuestion::at("/confidence", &why),
        LifeError::Empty | LifeError::TooMany => BadQuestion::at("/systems", &why),
    })?;
    Ok(RepairsAnswer { systems: judged, mean, method: METHOD.to_owned() })
}

fn judge(
    index: usize,
    system: &WatchedSystem,
    confidence: f64,
    unit: &str,
) -> Result<SystemAnswer, BadQuestion> {
    let (ages, until, ended) = (system.repaired_at.as_slice(), system.watched_until, system.ended);
    if !(until > 0.0 && until.is_finite()) {
        let text = "the age until which it was watched must be above 0";
        return Err(BadQuestion::at(format!("/systems/{index}/watched_until"), text));
    }
    // Too few failures, or all at one age, leave a blank; all else is a fault of the question.
    let told = |why: PowerLawError| match why {
        PowerLawError::TooFew { .. } | PowerLawError::NoSpread => Ok(()),
        PowerLawError::BadAge { entry } => {
            Err(BadQuestion::at_row(&format!("/systems/{index}/repaired_at"), entry, &why))
        }
        _ => Err(BadQuestion::at(format!("/systems/{index}/repaired_at"), &why)),
    };
    fn kept<T>(
        result: Result<T, PowerLawError>,
        told: impl Fn(PowerLawError) -> Result<(), BadQuestion>,
    ) -> Result<Option<T>, BadQuestion> {
        match result {
            Ok(value) => Ok(Some(value)),
            Err(why) => told(why).map(|()| None),
        }
    }
    let laplace = kept(laplace_test(ages, until, ended), told)?;
    let handbook = kept(handbook_test(ages, until, ended), told)?;
    let arrangement = kept(reverse_arrangement(ages), told)?;
    let law = kept(fit_power_law(ages, until, ended), told)?;
    let now = match &law {
        Some(law) => kept(law.current_mtbf(confidence), told)?,
        None => None,
    };
    let chances = [
        laplace.map(|test| (test.p_improving, test.p_worsening)),
        handbook.map(|test| (test.p_improving, test.p_worsening)),
        arrangement.map(|test| (test.p_improving, test.p_worsening)),
    ];
    let trend = match handbook.filter(|_| ages.len() >= FEWEST_FAILURES) {
        Some(test) if test.p_improving < SHOWN_BELOW => RepairTrend::Improving,
        Some(test) if test.p_worsening < SHOWN_BELOW => RepairTrend::Worsening,
        _ => RepairTrend::NotShown,
    };
    let tests_for_it = chances
        .into_iter()
        .flatten()
        .filter(|(improving, worsening)| match trend {
            RepairTrend::Improving => *improving < SHOWN_BELOW,
            RepairTrend::Worsening => *worsening < SHOWN_BELOW,
            RepairTrend::NotShown => false,
        })
        .count();
    let name = system.system.clone().unwrap_or_else(|| (index + 1).to_string());
    let says = says(&name, ages.len(), trend, tests_for_it, now, unit);
    Ok(SystemAnswer {
        system: name,
        failures: ages.len(),
        watched_until: until,
        trend,
        tests_for_it,
        laplace,
        handbook,
        arrangement,
        law,
        now,
        says,
    })
}

fn says(
    name: &str,
    failures: usize,
    trend: RepairTrend,
    tests: usize,
    now: Option<CurrentMtbf>,
    unit: &str,
) -> String {
    if failures < FEWEST_FAILURES {
        return format!("{name}: {failures} failures show no trend; at least {FEWEST_FAILURES} are needed");
    }
    let way = match trend {
        RepairTrend::Improving => format!("its failures come farther apart ({tests} of 3 tests show it)"),
        RepairTrend::Worsening => format!("its failures come closer together ({tests} of 3 tests show it)"),
        RepairTrend::NotShown => {
            "no trend is shown: its failures may as well come at a constant rate".to_owned()
        }
    };
    let law = now.map_or_else(String::new, |now| {
        let high =
            now.high.map_or_else(|| "not bounded above".to_owned(), |high| format!("at most {high:.0}"));
        format!("; by the power law one in {:.0} {unit} now (at least {:.0}, {high})", now.mtbf, now.low)
    });
    format!("{name}: {way}{law}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn system(repaired_at: &[f64], watched_until: f64) -> WatchedSystem {
        WatchedSystem {
            system: None,
            repaired_at: repaired_at.to_vec(),
            watched_until,
            ended: Truncation::Time,
        }
    }

    #[test]
    fn a_system_that_wears_is_told_from_one_that_does_not() {
        let wears = system(&[400.0, 600.0, 700.0, 780.0, 840.0, 880.0, 920.0, 950.0, 970.0, 990.0], 1000.0);
        let grows = system(&[5.0, 12.0, 30.0, 60.0, 110.0, 190.0, 320.0, 540.0, 900.0], 1000.0);
        let even = system(&[100.0, 210.0, 290.0, 420.0, 480.0, 610.0, 720.0, 790.0, 905.0], 1000.0);
        let answer = judge_repairs(&[wears, grows, even], 0.9, "flights").expect("answered");
        let trends: Vec<_> = answer.systems.iter().map(|one| (one.trend, one.tests_for_it)).collect();
        assert_eq!(
            trends,
            [(RepairTrend::Worsening, 3), (RepairTrend::Improving, 3), (RepairTrend::NotShown, 0)]
        );
        assert!(answer.systems.iter().all(|one| one.now.is_some()));
        assert_eq!(answer.mean.last().map(|point| (point.at, point.at_risk)), Some((990.0, 3)));
    }

    #[test]
    fn few_failures_leave_blanks_and_show_nothing() {
        let answer = judge_repairs(&[system(&[], 50.0), system(&[9.0, 10.0, 11.0], 50.0)], 0.9, "h");
        let answer = answer.expect("answered");
        let [none, three] = answer.systems.as_slice() else { panic!("two systems") };
        assert_eq!((none.laplace, none.law, none.trend), (None, None, RepairTrend::NotShown));
        assert_eq!(three.trend, RepairTrend::NotShown);
        assert!(three.says.contains("at least 4 are needed"), "{}", three.says);
    }

    #[test]
    fn a_system_at_fault_names_its_field() {
        let check = |systems: &[WatchedSystem], pointer: &str| {
            let refused = judge_repairs(systems, 0.9, "h").map_err(|bad| bad.pointer);
            assert_eq!(refused.err().as_deref(), Some(pointer));
        };
        let good = system(&[5.0], 9.0);
        check(&[good.clone(), system(&[5.0, 4.0], 9.0)], "/systems/1/repaired_at/1");
        check(&[system(&[5.0, 10.0], 9.0)], "/systems/0/repaired_at/1");
        check(&[system(&[], 0.0)], "/systems/0/watched_until");
        let ended = WatchedSystem { ended: Truncation::Failure, ..system(&[5.0, 8.0], 9.0) };
        check(&[ended], "/systems/0/repaired_at/1");
        check(&vec![good; 201], "/systems");
    }
}
