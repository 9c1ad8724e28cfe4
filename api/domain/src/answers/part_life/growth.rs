//! How fast a measured quantity grows towards its limit, part by part, batch by batch, and whether one batch wears
//! faster than another. Measured wear tells batches apart long before their failures do.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::exposure::Exposure;
use super::{Batch, PartLifeQuestion};
use crate::answers::lifetime::{SHOWN_BELOW, pairs};
use crate::facts::Measurement;
use crate::fleet::Fleet;
use crate::fleet::limits_of;
use crate::formulas::trend::rank::{RankTest, rank_test};
use crate::words::Direction;

const METHOD: &str = "growth per part: last reading less as new (or less the first reading since its last re-work), \
    over the use until that reading; parts that were used in other kinds of position before are left out; batches \
    compared by ranks, shown when two-sided p is below 0.05";

/// Growth of one quantity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WearGrowth {
    /// The quantity, such as `servo_free_play`.
    pub quantity: String,
    /// Unit of its readings.
    pub unit: String,
    /// Unit of the rates, such as `deg per 100 flights`.
    pub rate_unit: String,
    /// What a new part reads; null when none is known, and then only re-worked parts count.
    pub as_new: Option<f64>,
    /// Where that comes from.
    pub as_new_from: String,
    /// Batch by batch.
    pub groups: Vec<GroupGrowth>,
    /// Batch against batch, each pair once.
    pub comparisons: Vec<GrowthComparison>,
    /// How it was computed.
    pub method: String,
}

/// Growth in one batch. Rates are positive towards the limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GroupGrowth {
    /// Name of the batch.
    pub group: String,
    /// Mean of the parts' rates, in the rate unit.
    pub mean_rate: f64,
    /// Smallest rate.
    pub lowest_rate: f64,
    /// Largest rate.
    pub highest_rate: f64,
    /// Part by part.
    pub parts: Vec<PartGrowth>,
}

/// Growth on one part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PartGrowth {
    /// Tag of the part.
    pub component: String,
    /// Its last reading.
    pub reading: f64,
    /// Use until then, since new or since the re-work.
    pub exposure: f64,
    /// Growth per hundred of use, in the rate unit.
    pub rate: f64,
}

/// Two batches compared by their rates.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GrowthComparison {
    /// First batch.
    pub first: String,
    /// Second batch.
    pub second: String,
    /// Whether the rates show a difference.
    pub is_shown: bool,
    /// The batch with the larger mean rate.
    pub faster: String,
    /// Chance of ranks so uneven that way, were the batches alike (one-sided).
    pub p_one_sided: f64,
    /// The same either way.
    pub p_two_sided: f64,
    /// The result in one sentence.
    pub says: String,
    /// The rank test of the first batch against the second.
    pub rank_test: RankTest,
}

/// Growth of every quantity asked for.
pub(super) fn wear(
    fleet: &Fleet,
    question: &PartLifeQuestion,
    all: &[Exposure<'_>],
    batches: &[Batch<'_>],
    kind: &str,
    unit: &str,
) -> Vec<WearGrowth> {
    let parts = || batches.iter().flat_map(|batch| batch.parts.iter().map(|(exposure, _)| *exposure));
    let mut quantities: Vec<&str> = parts()
        .flat_map(|part| part.file.measurements.until(part.as_of))
        .map(|reading| reading.fact.quantity.as_str())
        .filter(|quantity| question.quantity.as_deref().is_none_or(|asked| asked == *quantity))
        .collect();
    quantities.sort_unstable();
    quantities.dedup();
    quantities
        .into_iter()
        .filter_map(|quantity| growth_of(fleet, question, all, batches, kind, quantity, unit))
        .collect()
}

fn growth_of(
    fleet: &Fleet,
    question: &PartLifeQuestion,
    all: &[Exposure<'_>],
    batches: &[Batch<'_>],
    kind: &str,
    quantity: &str,
    counted: &str,
) -> Option<WearGrowth> {
    let parts = || batches.iter().flat_map(|batch| batch.parts.iter().map(|(exposure, _)| *exposure));
    let newest = parts().find_map(|part| last_reading(part, kind, quantity))?;
    let unit = newest.unit.as_str();
    let limit = parts().find_map(|part| {
        let (model, seat) = part.seat_at(part.as_of).filter(|(_, seat)| *seat == kind)?;
        let programme = &fleet.programme_of(Some(model))?.fact;
        limits_of(fleet, programme, Some(seat), quantity, unit).first().copied()
    })?;
    let sign = match limit.direction {
        Direction::AtOrAbove | Direction::Above => 1.0,
        Direction::AtOrBelow | Direction::Below => -1.0,
    };
    let unused = best_unused(all, quantity, unit, sign);
    let (as_new, as_new_from) = match (question.as_new, &unused) {
        (Some(said), _) => (Some(said), "as asked".to_owned()),
        (None, Some((value, tag))) => (Some(*value), format!("best reading before its first use, on {tag}")),
        (None, None) => (None, "no part was read before its first use; say what a new one reads".to_owned()),
    };
    let groups: Vec<GroupGrowth> = batches
        .iter()
        .filter_map(|batch| {
            let grown = batch
                .parts
                .iter()
                .filter(|(_, end)| end.row.life == 1)
                .filter_map(|(part, _)| grown(part, kind, quantity, unit, as_new, sign));
            group(&batch.name, grown.collect())
        })
        .collect();
    if groups.is_empty() {
        return None;
    }
    let rate_unit = format!("{unit} per 100 {counted}");
    let comparisons = pairs(&groups).filter_map(|(a, b)| compare(a, b, &rate_unit)).collect();
    Some(WearGrowth {
        quantity: quantity.to_owned(),
        unit: unit.to_owned(),
        rate_unit,
        as_new,
        as_new_from,
        groups,
        comparisons,
        method: METHOD.to_owned(),
    })
}

/// Readings of a quantity in, or after, positions of a kind, oldest first.
fn readings<'a>(
    part: &'a Exposure<'_>,
    kind: &'a str,
    quantity: &'a str,
) -> impl Iterator<Item = &'a Measurement> {
    part.file.measurements.until(part.as_of).iter().map(|recorded| &recorded.fact).filter(move |reading| {
        reading.quantity.as_str() == quantity
            && part.seat_at(reading.occurred_at).is_some_and(|(_, seat)| seat == kind)
    })
}

fn last_reading<'a>(part: &'a Exposure<'_>, kind: &'a str, quantity: &'a str) -> Option<&'a Measurement> {
    readings(part, kind, quantity).last()
}

/// The value by which a reading is judged: the worst of several.
fn worst(reading: &Measurement, sign: f64) -> Option<f64> {
    reading.values.iter().copied().max_by(|a, b| (sign * a).total_cmp(&(sign * b)))
}

/// The best reading of a part of the type before its first use, with the part's tag.
fn best_unused(all: &[Exposure<'_>], quantity: &str, unit: &str, sign: f64) -> Option<(f64, String)> {
    let is_unused = |part: &Exposure<'_>| {
        part.data.opening.is_none() && part.file.spans.first().is_none_or(|span| !span.is_start_of_record)
    };
    all.iter()
        .filter(|part| is_unused(part))
        .flat_map(|part| {
            part.file
                .measurements
                .until(part.as_of)
                .iter()
                .map(|recorded| &recorded.fact)
                .filter(|reading| reading.quantity.as_str() == quantity && reading.unit.as_str() == unit)
                .filter(|reading| part.anywhere_before(reading.occurred_at) == 0.0)
                .filter_map(|reading| worst(reading, sign).map(|value| (value, part.data.tag.to_string())))
        })
        .min_by(|a, b| (sign * a.0).total_cmp(&(sign * b.0)).then_with(|| a.1.cmp(&b.1)))
}

fn grown(
    part: &Exposure<'_>,
    kind: &str,
    quantity: &str,
    unit: &str,
    as_new: Option<f64>,
    sign: f64,
) -> Option<PartGrowth> {
    let series: Vec<&Measurement> =
        readings(part, kind, quantity).filter(|reading| reading.unit.as_str() == unit).collect();
    let last = *series.last()?;
    if part.elsewhere_before(kind, last.occurred_at) > 0.0 {
        return None;
    }
    let reading = worst(last, sign)?;
    let used = part.before(kind, last.occurred_at);
    let rework = series.iter().rev().find(|reading| reading.is_series_start);
    let (from, exposure) = match rework {
        Some(first) => (worst(first, sign)?, used - part.before(kind, first.occurred_at)),
        None => (as_new?, part.opening(kind) + used),
    };
    let rate = 100.0 * sign * (reading - from) / exposure;
    (exposure > 0.0 && rate.is_finite()).then(|| PartGrowth {
        component: part.data.tag.to_string(),
        reading,
        exposure,
        rate,
    })
}

fn group(name: &str, parts: Vec<PartGrowth>) -> Option<GroupGrowth> {
    let rates = || parts.iter().map(|part| part.rate);
    let lowest_rate = rates().min_by(f64::total_cmp)?;
    let highest_rate = rates().max_by(f64::total_cmp)?;
    let number = f64::from(u32::try_from(parts.len()).ok()?);
    let mean_rate = rates().sum::<f64>() / number;
    let group = name.to_owned();
    mean_rate.is_finite().then_some(GroupGrowth { group, mean_rate, lowest_rate, highest_rate, parts })
}

fn compare(one: &GroupGrowth, two: &GroupGrowth, rate_unit: &str) -> Option<GrowthComparison> {
    let rates = |group: &GroupGrowth| group.parts.iter().map(|part| part.rate).collect::<Vec<f64>>();
    let test = rank_test(&rates(one), &rates(two)).ok()?;
    let (faster, slower, p_one_sided) =
        if one.mean_rate >= two.mean_rate { (one, two, test.p_larger) } else { (two, one, test.p_smaller) };
    let is_shown = test.p_two_sided < SHOWN_BELOW;
    let figures = format!("{:.3} against {:.3} {rate_unit}", faster.mean_rate, slower.mean_rate);
    let chances = format!("p {p_one_sided:.4} one-sided, {:.4} two-sided", test.p_two_sided);
    let says = if is_shown {
        format!("{} wears faster than {}: {figures} ({chances})", faster.group, slower.group)
    } else {
        format!("{} against {}: {figures}, no difference shown ({chances})", faster.group, slower.group)
    };
    Some(GrowthComparison {
        first: one.group.clone(),
        second: two.group.clone(),
        is_shown,
        faster: faster.group.clone(),
        p_one_sided,
        p_two_sided: test.p_two_sided,
        says,
        rank_test: test,
    })
}
