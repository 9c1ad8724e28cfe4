//! Watt-hours of a pack against the limits of carriers. The limits are dated data with their sources, never
//! confirmed here: rules change yearly and carriers may be stricter. Confirm before travel.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::formulas::range::{OutOfRange, within};

/// Nominal voltage of a lithium polymer cell, V.
pub const NOMINAL_CELL_V: f64 = 3.7;

/// What a limit of carriage is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CarriageSubject {
    /// Energy of one cell, Wh.
    CellEnergy,
    /// Energy of a pack, Wh, in a passenger's cabin bag without the airline's approval.
    PackEnergy,
    /// State of charge of lithium ion packs sent alone by air (UN 3480), per cent.
    ChargeAlone,
}

/// A limit of carriers, as data.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CarriageRule {
    /// What it is about.
    pub subject: CarriageSubject,
    /// Largest value permitted.
    pub most: f64,
    /// Unit of that.
    pub unit: &'static str,
    /// Edition the value was read in.
    pub edition: &'static str,
    /// Where the value was read.
    pub source: &'static str,
}

/// The limits known here. Each was read in a secondary copy of the rules named.
pub const CARRIAGE_RULES: [CarriageRule; 3] = [
    CarriageRule {
        subject: CarriageSubject::CellEnergy,
        most: 20.0,
        unit: "Wh",
        edition: "2023",
        source: "carriage rules for lithium batteries by air, 2023 edition, p. 86, as given by a secondary copy",
    },
    CarriageRule {
        subject: CarriageSubject::PackEnergy,
        most: 100.0,
        unit: "Wh",
        edition: "2024",
        source: "carriage rules for lithium batteries by air, 2024 edition, p. 35, as given by a secondary copy",
    },
    CarriageRule {
        subject: CarriageSubject::ChargeAlone,
        most: 30.0,
        unit: "%",
        edition: "not stated",
        source: "IATA packing instruction 965 (UN 3480), as given by secondary copies",
    },
];

/// What to do before relying on any of them.
pub const CONFIRM: &str = "confirm before travel: rules change yearly, and the carrier's own may be stricter";

/// A value against a limit of carriers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CarriageJudged {
    /// What the limit is about.
    pub subject: CarriageSubject,
    /// The value of this pack; absent where it was not given.
    pub value: Option<f64>,
    /// Largest value permitted.
    pub most: f64,
    /// Unit of both.
    pub unit: String,
    /// Whether it is not above the limit; absent where no value was given.
    pub is_within: Option<bool>,
    /// Edition the limit was read in.
    pub edition: String,
    /// Where it was read.
    pub source: String,
    /// Always false here: a person confirms the current edition.
    pub is_confirmed: bool,
    /// What to do before relying on it.
    pub note: String,
}

/// Energy of a pack, Wh: nominal voltage × Ah.
///
/// # Errors
/// A voltage outside 0.1 to 1000 V, a capacity outside 1 to 1e6 mAh.
///
/// # Source
/// Definition.
///
/// ```
/// use preen_domain::formulas::pack::carriage::watt_hours;
/// assert_eq!(watt_hours(22.2, 5000.0), Ok(111.0));
/// ```
pub fn watt_hours(nominal_v: f64, rated_mah: f64) -> Result<f64, OutOfRange> {
    within("nominal_v", nominal_v, 0.1, 1000.0)?;
    within("rated_mah", rated_mah, 1.0, 1e6)?;
    Ok(nominal_v * rated_mah / 1000.0)
}

/// A pack of so many cells against every limit known: its cells' energy, its own, and its state of charge where that
/// is given.
///
/// # Errors
/// Cells outside 1 to 24, a voltage or capacity outside their ranges, a state of charge outside 0 to 100 %.
///
/// ```
/// use preen_domain::formulas::pack::carriage::judge_carriage;
/// let judged = judge_carriage(6, 22.2, 5000.0, None)?;
/// let within: Vec<Option<bool>> = judged.iter().map(|limit| limit.is_within).collect();
/// assert_eq!(within, [Some(true), Some(false), None]);
/// assert!(judged.iter().all(|limit| !limit.is_confirmed));
/// # Ok::<(), preen_domain::formulas::range::OutOfRange>(())
/// ```
pub fn judge_carriage(
    cells: u32,
    nominal_v: f64,
    rated_mah: f64,
    charge_pct: Option<f64>,
) -> Result<Vec<CarriageJudged>, OutOfRange> {
    within("cells", f64::from(cells), 1.0, 24.0)?;
    if let Some(charge) = charge_pct {
        within("charge_pct", charge, 0.0, 100.0)?;
    }
    let pack_wh = watt_hours(nominal_v, rated_mah)?;
    let value_of = |subject| match subject {
        CarriageSubject::CellEnergy => Some(pack_wh / f64::from(cells)),
        CarriageSubject::PackEnergy => Some(pack_wh),
        CarriageSubject::ChargeAlone => charge_pct,
    };
    Ok(CARRIAGE_RULES
        .iter()
        .map(|rule| {
            let value = value_of(rule.subject);
            CarriageJudged {
                subject: rule.subject,
                value,
                most: rule.most,
                unit: rule.unit.to_owned(),
                is_within: value.map(|value| value <= rule.most),
                edition: rule.edition.to_owned(),
                source: rule.source.to_owned(),
                is_confirmed: false,
                note: CONFIRM.to_owned(),
            }
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_says_where_and_when_it_was_read() {
        assert!(CARRIAGE_RULES.iter().all(|rule| !rule.edition.is_empty() && rule.source.len() > 20));
    }

    #[test]
    fn what_lies_outside_is_refused_by_name() {
        assert_eq!(watt_hours(f64::NAN, 900.0).map_err(|why| why.input), Err("nominal_v"));
        assert_eq!(judge_carriage(0, 11.1, 900.0, None).map_err(|why| why.input), Err("cells"));
        assert_eq!(judge_carriage(3, 11.1, 900.0, Some(101.0)).map_err(|why| why.input), Err("charge_pct"));
    }
}
