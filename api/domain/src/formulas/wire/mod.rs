//! Wires, contacts and the supply behind them: what a servo gets at the end of its lead.
//!
//! * [`gauge`]: diameter, area and resistance of a gauge, cold and hot · [`stranded`]: tables for stranded wire
//! * [`drop`]: voltage out and back through wire and contacts · [`choose`]: the smallest gauge for a drop limit
//! * [`supply`]: what all servos together ask of the supply · [`contact`]: heat, condition and crimps of contacts
//! * [`slack`]: how often a lead can be terminated again

pub mod choose;
pub mod contact;
pub mod drop;
pub mod gauge;
pub mod slack;
pub mod stranded;
pub mod supply;
