//! Packs: resistance and what it says, sag, capacity and launches, rest, and what carriers allow.
//!
//! * [`resistance`]: each cell at 25 °C, against new, the odd one out · [`sag`]: voltage under load
//! * [`capacity`]: per cent of rated, launches for each charge · [`rest`]: drop over 30 days
//! * [`carriage`]: watt-hours and dated limits of carriers

pub mod capacity;
pub mod carriage;
pub mod resistance;
pub mod rest;
pub mod sag;

/// Most cells of one pack taken.
pub const MOST_CELLS: usize = 24;

/// The middle one of some values, the lower of two middle ones: a pack of two cells must not hide the worse one in
/// its own mean.
pub(crate) fn lower_median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len().saturating_sub(1) / 2).copied()
}
