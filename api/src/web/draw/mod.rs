//! Drawings from numbers: each is worked out here as plain points and words, and set as SVG by a template.
//!
//! Coordinates are rounded to tenths of a unit. Nothing here knows what is good or bad: that is told by who asks.

pub mod bars;
pub mod due_line;
pub mod life;
pub mod linkage;
pub mod plan;
pub mod range;
pub mod scale;
pub mod series;
