//! The fields of a noun's facts: what each is, and how `FIELD=VALUE` is read.
//!
//! What fields there are is not said here: it is read from the shapes of the facts themselves.

mod shape;
mod value;

pub use shape::{Field, Kind, fields_of};
pub use value::{Target, assign, missing};
