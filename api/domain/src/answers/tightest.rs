//! Several restrictions put together: for each kind the tightest of all.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::may_fly::RestrictionSaid;
use crate::words::RestrictionKind;

/// The tightest restriction of a kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Tightest {
    /// What is restricted.
    pub kind: RestrictionKind,
    /// The smallest number of all: flights, launches, or m/s of wind. Null where the kind has none.
    pub value: Option<f64>,
    /// The earliest last day of all, where the kind is a day. Null elsewhere.
    pub until_on: Option<NaiveDate>,
    /// Tags of what it comes from; where numbers or days differ, only of the tightest.
    pub sources: Vec<String>,
}

/// Puts restrictions together: the smallest count, the earliest day, the lowest wind; what is forbidden by one is
/// forbidden. In the order of the kinds.
#[must_use]
pub fn tightest(restrictions: &[RestrictionSaid]) -> Vec<Tightest> {
    RestrictionKind::ALL.iter().filter_map(|kind| tightest_of(*kind, restrictions)).collect()
}

fn tightest_of(kind: RestrictionKind, restrictions: &[RestrictionSaid]) -> Option<Tightest> {
    let all = || restrictions.iter().filter(|one| one.kind == kind);
    let value = all().filter_map(|one| one.value).min_by(f64::total_cmp).filter(|_| is_number(kind));
    let until_on = all().filter_map(|one| one.until_on).min().filter(|_| kind == RestrictionKind::UntilDate);
    let mut sources: Vec<String> = all()
        .filter(|one| value.is_none() || one.value == value)
        .filter(|one| until_on.is_none() || one.until_on == until_on)
        .map(|one| one.source.clone())
        .collect();
    sources.sort();
    sources.dedup();
    (!sources.is_empty()).then_some(Tightest { kind, value, until_on, sources })
}

/// Whether a number goes with the kind.
const fn is_number(kind: RestrictionKind) -> bool {
    match kind {
        RestrictionKind::MaxFlights | RestrictionKind::MaxLaunchesPerCharge | RestrictionKind::MaxWind => {
            true
        }
        RestrictionKind::UntilDate
        | RestrictionKind::NoContest
        | RestrictionKind::NoLandingFlap
        | RestrictionKind::LightLaunchOnly
        | RestrictionKind::OwnerOnly => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(
        kind: RestrictionKind,
        value: Option<f64>,
        until_on: Option<&str>,
        source: &str,
    ) -> RestrictionSaid {
        let until_on = until_on.map(|day| day.parse().unwrap());
        RestrictionSaid { kind, value, until_on, source: source.to_owned() }
    }

    #[test]
    fn of_each_kind_the_tightest_counts() {
        use RestrictionKind::{MaxFlights, MaxWind, NoContest, UntilDate};
        let all = [
            said(MaxWind, Some(8.0), None, "DE-1"),
            said(MaxFlights, Some(6.0), Some("2026-05-30"), "DE-1"),
            said(MaxFlights, Some(4.0), None, "CA-1"),
            said(MaxFlights, Some(4.0), None, "DE-2"),
            said(NoContest, None, Some("2026-05-28"), "DE-3"),
            said(NoContest, None, Some("2026-05-29"), "DE-1"),
            said(UntilDate, None, Some("2026-06-02"), "DE-2"),
            said(UntilDate, None, Some("2026-06-01"), "DE-3"),
            said(MaxWind, Some(6.5), None, "DE-2"),
        ];
        let put_together = tightest(&all);
        let short: Vec<(&str, Option<f64>, Option<String>, String)> = put_together
            .iter()
            .map(|one| {
                (one.kind.as_str(), one.value, one.until_on.map(|day| day.to_string()), one.sources.join("+"))
            })
            .collect();
        assert_eq!(
            short,
            [
                ("max_flights", Some(4.0), None, "CA-1+DE-2".to_owned()),
                ("until_date", None, Some("2026-06-01".to_owned()), "DE-3".to_owned()),
                ("no_contest", None, None, "DE-1+DE-3".to_owned()),
                ("max_wind", Some(6.5), None, "DE-2".to_owned()),
            ]
        );
    }
}
