//! Storage: the two databases behind one connection type, migrations, the write door, the Fleet held in memory.
//!
//! Deliberately not here: what a noun's rows look like (`resources/<noun>/store.rs`) and anything of HTTP.

mod checkpoint;
pub mod club;
pub mod conn;
pub mod door;
pub mod fault;
pub mod fitted;
pub mod fleet;
pub mod kinds;
pub mod lanes;
pub mod meters;
pub mod migrate;
pub mod names;
pub mod partition;
mod reading;
pub mod replica;
pub mod stored;
mod stretches;
mod together;
mod turn;
pub mod upgrade;
pub mod writer;
pub mod written;
