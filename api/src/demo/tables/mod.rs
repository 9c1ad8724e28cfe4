//! The tables of the demo club, compiled in. What they hold and mean stands in `README.md` beside them.

use crate::exchange::tables::{Club, Faults, Source, read_club};

macro_rules! compiled_in {
    ($($file:literal),+ $(,)?) => { &[$(($file, include_str!($file))),+] };
}

const TABLES: &[(&str, &str)] = compiled_in![
    "club.csv",
    "members.csv",
    "designs.csv",
    "positions.csv",
    "joints.csv",
    "stations.csv",
    "ballast_cells.csv",
    "parts.csv",
    "models.csv",
    "components.csv",
    "conditions.csv",
    "installations.csv",
    "removals.csv",
    "flights.csv",
    "riggings.csv",
    "inspections.csv",
    "measurements.csv",
    "weighings.csv",
    "defects.csv",
    "repairs.csv",
    "releases.csv",
    "campaigns.csv",
    "campaign_actions.csv",
    "loans.csv",
    "matched_sets.csv",
    "lots.csv",
    "slugs.csv",
    "contests.csv",
    "entries.csv",
    "pairings.csv",
];

/// The tables as text.
#[must_use]
pub fn sources() -> Vec<Source> {
    Source::compiled_in(TABLES)
}

/// The demo club.
///
/// # Errors
/// Names every wrong row of the compiled-in tables; a test keeps them right.
pub fn read() -> Result<Club, Faults> {
    read_club(&sources())
}
