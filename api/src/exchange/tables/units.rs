//! One unit per quantity: a reading in another unit than its limit would be judged wrongly.

use std::collections::HashMap;

use super::{
    fault::{Fault, Faults},
    link::Parsed,
};

/// Quantities that are read but judged only after being worked out further (per rated capacity, as new, …).
const WITHOUT_LIMIT: [(&str, &str); 3] =
    [("cell_resistance", "mOhm"), ("capacity", "mAh"), ("storage_drop_30d", "mV")];

/// Finds rows whose unit is another than that of the quantity's limits or of its first row.
pub fn check(rows: &[Parsed], faults: &mut Faults) {
    let mut units: HashMap<String, (String, String)> = WITHOUT_LIMIT
        .iter()
        .map(|(quantity, unit)| ((*quantity).to_owned(), ((*unit).to_owned(), "its definition".to_owned())))
        .collect();
    for file in ["programme_limits.csv", "limits.csv", "campaign_actions.csv", "measurements.csv"] {
        for row in rows.iter().filter(|row| row.table.file == file) {
            let (quantity, unit) = (row.cell("quantity").key(), row.cell("unit").key());
            if quantity.is_empty() || unit.is_empty() {
                continue;
            }
            let here = format!("{file} line {}", row.line);
            let (known, origin) = units.entry(quantity.clone()).or_insert_with(|| (unit.clone(), here));
            if *known != unit {
                let reason = format!("`{quantity}` is in {known} ({origin}), not in {unit}");
                faults.push(Fault::of_cell(file, row.line, "unit", reason));
            }
        }
    }
}
