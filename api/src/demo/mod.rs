//! The demo club: the invented Quillmarsh Soaring Club as tables.

pub mod tables;
