//! The answers of the domain on the demo club, straight from its tables: no server in between.
//!
//! The club is invented; what is expected of it was worked out by hand and by separate scripts from its tables.

mod balance_and_swap;
mod ballast;
mod board;
mod campaigns;
mod checks;
mod class_check;
mod contest_plan;
mod defects;
mod failed_items;
mod findings;
mod life;
mod limits;
mod parts;
mod readiness;
mod spares;
mod trend;
mod type_exchange;
mod worked_on;
