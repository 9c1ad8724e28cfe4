//! The answers of the domain on the demo club, straight from its tables: no server in between.

mod dump;
