//! Readings.

use super::Verdict;
use crate::{
    facts::Measurement,
    fleet::Fleet,
    quantities::quantity as known_quantity,
    text::{Tag, Text},
};

pub(super) fn check(fleet: &Fleet, measurement: &Measurement, verdict: &mut Verdict) {
    verdict.subject(fleet, "/subject", measurement.subject);
    if measurement.values.is_empty() {
        verdict.value("no_value", "/values", "give the reading, one value per cell or contact");
    }
    for (index, value) in measurement.values.iter().enumerate() {
        verdict.range(&format!("/values/{index}"), *value, -1e6, 1e6, measurement.unit.as_str());
    }
    if let Some(temperature_c) = measurement.temperature_c {
        verdict.range("/temperature_c", temperature_c, -40.0, 120.0, "°C");
    }
    judged_in(fleet, "/unit", &measurement.quantity, &measurement.unit, verdict);
}

/// Where the programmes judge a quantity, a number is given in a unit of theirs.
pub(super) fn judged_in(fleet: &Fleet, pointer: &str, quantity: &Tag, unit: &Text, verdict: &mut Verdict) {
    let limits = fleet
        .programmes()
        .flat_map(|(_, programme)| programme.fact.items.iter())
        .flat_map(|item| item.limits.iter());
    let mut units: Vec<&str> =
        limits.filter(|limit| limit.quantity == *quantity).map(|limit| limit.unit.as_str()).collect();
    units.sort_unstable();
    units.dedup();
    units.extend(known_quantity(quantity.as_str()).filter(|_| units.is_empty()).map(|known| known.unit));
    if !units.is_empty() && !units.contains(&unit.as_str()) {
        verdict.value(
            "wrong_unit",
            pointer,
            format!("`{quantity}` is read in {}: convert the reading from {unit}", units.join(" or ")),
        );
    }
}
