//! The whole record of a club, taken away in one file and put into another database. The file's format is `exchange`'s.

pub mod http;
pub mod pack;
mod part_of;
pub mod unpack;
