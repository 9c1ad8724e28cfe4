//! The demo club and its tables: that they read, that they hold what they say, that wrong ones are named.

mod programme;
mod rules;
mod served;
mod tables;
mod usage;
mod wrong_rows;
