//! The mass list of the worked example: 24 rows of an electric glider of 3.9 m.

use preen_domain::formulas::balance::PointItem;

/// The rows with their names.
pub fn named_rows() -> Vec<(String, PointItem)> {
    let text = include_str!("data/mass_list.csv");
    let rows: Vec<(String, PointItem)> = csv::Reader::from_reader(text.as_bytes())
        .deserialize::<(String, f64, f64, f64, f64, f64)>()
        .map(|row| row.expect("a row of the mass list"))
        .map(|(name, mass_g, x_mm, y_mm, z_mm, own_span_mm)| {
            (name, PointItem { mass_g, x_mm, y_mm, z_mm, own_span_mm, own_length_mm: 0.0 })
        })
        .collect();
    assert_eq!(rows.len(), 24);
    rows
}

/// The rows without their names.
pub fn rows() -> Vec<PointItem> {
    named_rows().into_iter().map(|(_, row)| row).collect()
}

/// The rows, with every row whose name contains `part` weighing `mass_g` instead.
pub fn rows_with(part: &str, mass_g: f64) -> Vec<PointItem> {
    assert!(named_rows().iter().any(|(name, _)| name.contains(part)), "no row {part}");
    named_rows()
        .into_iter()
        .map(|(name, row)| if name.contains(part) { PointItem { mass_g, ..row } } else { row })
        .collect()
}
