//! Tables in which a club is handed over, and bodies of requests: every complaint says where.

use arbitrary::Unstructured;
use preen_api::exchange::tables::{Source, read_facts};
use preen_api::problem::Problem;
use preen_api::resources::body::parse_fact;
use preen_domain::facts::{Defect, Design, Flight, Inspection, Repair};
use preen_fuzz::facts::SEEDS;
use serde_json::Value;

use crate::scratched;

macro_rules! tables {
    ($($file:literal)+) => {
        const TABLES: &[(&str, &str)] =
            &[$(($file, include_str!(concat!("../../../api/src/demo/tables/", $file)))),+];
    };
}

tables! {
    "ballast_cells.csv" "campaign_actions.csv" "campaigns.csv" "components.csv" "conditions.csv" "contests.csv" "defects.csv"
    "designs.csv" "entries.csv" "flights.csv" "inspections.csv" "installations.csv" "joints.csv" "loans.csv" "lots.csv"
    "matched_sets.csv" "measurements.csv" "members.csv" "models.csv" "pairings.csv" "parts.csv" "positions.csv" "releases.csv"
    "removals.csv" "repairs.csv" "riggings.csv" "slugs.csv" "stations.csv" "weighings.csv"
}

/// Lines of a table that are read each time: all of the demo would be slow.
const LINES: usize = 12;

/// The first lines of every table, one of them made odd.
///
/// # Panics
/// Where a complaint does not say where.
pub fn try_tables(bytes: &mut Unstructured<'_>) {
    let chosen = bytes.int_in_range(0..=TABLES.len() - 1).unwrap_or(0);
    let mut sources = Vec::new();
    for (at, (file, text)) in TABLES.iter().enumerate() {
        let mut text = text.split_inclusive('\n').take(LINES).collect::<String>();
        if at == chosen {
            let mut odd = text.into_bytes();
            scratched(&mut odd, bytes);
            text = String::from_utf8_lossy(&odd).into_owned();
        }
        sources.push(Source { file: (*file).to_owned(), text });
    }
    if let Err(faults) = read_facts(&sources) {
        let said = faults.to_string();
        assert!(said.contains(".csv"), "no file is named: {said}");
    }
}

/// A body of a noun as the routes read it.
///
/// # Panics
/// Where a refusal points nowhere.
pub fn try_bodies(bytes: &mut Unstructured<'_>) {
    let Ok((noun, seed)) = bytes.choose(SEEDS) else { return };
    let mut text = seed.as_bytes().to_vec();
    scratched(&mut text, bytes);
    let Ok(body) = serde_json::from_slice::<Value>(&text) else { return };
    let refused = match *noun {
        "flights" => parse_fact::<Flight>("", body).err(),
        "designs" => parse_fact::<Design>("", body).err(),
        "defects" => parse_fact::<Defect>("", body).err(),
        "repairs" => parse_fact::<Repair>("", body).err(),
        _ => parse_fact::<Inspection>("/facts/0/fact", body).err(),
    };
    let Some(problem) = refused else { return };
    let Problem::InvalidFields(errors) = problem else { panic!("{problem:?}") };
    for error in errors {
        assert!(error.pointer.is_empty() || error.pointer.starts_with('/'), "{error:?}");
        assert!(error.text.len() > 5, "{error:?}");
    }
}
